package session

import (
	"bytes"
	"encoding/json"
	"strings"
	"testing"
	"unicode/utf8"

	"handback/records/chain"
)

// What does not show is written out, in whatever pieces it comes, and what shows is
// left as it is.
func TestPlainWriter(t *testing.T) {
	for text, want := range map[string]string{
		"11 kV ± 5 %, Ω, µ\n\tnext\n": "11 kV ± 5 %, Ω, µ\n\tnext\n", "": "", "a\x1b[31mred": `a\u001b[31mred`, "a\rb\a": `a\u000db\u0007`,
		"\u202eYDAER": `\u202eYDAER`, "a\u200bb\u2028c\u00ad\u0085": `a\u200bb\u2028c\u00ad\u0085`, "\U000e0041": `\udb40\udc41`, "caf\xe9.zip": `caf\xe9.zip`,
		"می\u200cخواهم": "می\u200cخواهم", "cut \xe2\x82": `cut \xe2\x82`, "\xff\xfe": `\xff\xfe`, "\ufffd": "\ufffd", "\ufeffx": `\ufeffx`,
	} {
		for size := 1; size <= max(1, len(text)); size++ {
			var out bytes.Buffer
			w := &PlainWriter{To: &out}
			for rest := []byte(text); len(rest) > 0; rest = rest[min(size, len(rest)):] {
				if n, err := w.Write(rest[:min(size, len(rest))]); err != nil || n != min(size, len(rest)) {
					t.Fatal(n, err)
				}
			}
			if err := w.Flush(); err != nil || out.String() != want {
				t.Errorf("%q in pieces of %d: %q, %v; want %q", text, size, out.String(), err, want)
			}
		}
	}
}

// Nothing comes out that could move a cursor or turn a line round; JSON keeps its
// meaning.
func FuzzPlainWriter(f *testing.F) {
	f.Add([]byte("\x1b]0;t\a\u202ex\U000e0041\xe2\x82"), 3)
	f.Fuzz(func(t *testing.T, text []byte, cut int) {
		var out bytes.Buffer
		w := &PlainWriter{To: &out}
		cut = min(max(cut, 0), len(text))
		w.Write(text[:cut])
		w.Write(text[cut:])
		w.Flush()
		if !utf8.Valid(out.Bytes()) {
			t.Errorf("%q: not UTF-8", out.Bytes())
		}
		for _, r := range out.String() {
			if chain.Hidden(r) && r != '\n' && r != '\t' {
				t.Errorf("%q lets %U through", text, r)
			}
		}
		if doc, err := json.Marshal(string(text)); err == nil {
			var back string
			if err := json.Unmarshal(shown(doc), &back); err != nil || back != strings.ToValidUTF8(string(text), "\ufffd") && utf8.Valid(text) {
				t.Errorf("%q comes back from JSON as %q, %v", text, back, err)
			}
		}
	})
}
