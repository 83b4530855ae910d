package chain

import "testing"

// A text that enters the record shows as what it is. Texts stored by earlier programs
// are read as they stand.
func TestPlainTexts(t *testing.T) {
	for text, refused := range map[string]bool{"a b\n\tc ± Ω": false, `a "b" \ c`: false, "می\u200cخواهم": false, "\u202e": true, "a\u200b": true, "\u2028": true, "\x1b": true,
		"\r": true, "\b": true, "\x7f": true, "\u0085": true, "\U000e0041": true, "\ufeff": true} {
		for where, data := range map[string]any{"text": map[string]any{"why": []string{text}}, "key": map[string]any{text: 1}} {
			if err := PlainTexts(data); (err != nil) != refused {
				t.Errorf("%q as a %s: %v", text, where, err)
			}
		}
	}
}
