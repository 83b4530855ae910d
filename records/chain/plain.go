package chain

import (
	"errors"
	"fmt"
	"strconv"
	"unicode"
	"unicode/utf8"
)

// Hidden says that a sign shows nothing itself and may change how a text around it
// shows: control characters, those that turn the direction of writing, those without
// width, line and paragraph separators. The joiners of Indic and Persian writing are
// none of them.
func Hidden(r rune) bool {
	return unicode.In(r, unicode.Cc, unicode.Cf, unicode.Zl, unicode.Zp) && r != '\u200c' && r != '\u200d'
}

// PlainTexts refuses data of an entry with a text in it that holds hidden signs; line
// feeds and tabs are accepted. Whoever drafts an entry asks before it is stored: what
// a book holds already is read as it stands.
func PlainTexts(v any) error {
	data, err := CanonicalObject(v)
	if err != nil {
		return err
	}
	refused := func(r rune) error {
		return fmt.Errorf("a text in it holds %U, a sign that does not show: take it out", r)
	}
	for i := 0; i < len(data); {
		r, n := utf8.DecodeRune(data[i:])
		if r == '\\' { // canonical: these, and no others, are written so
			switch data[i+1] {
			case 'u':
				code, err := strconv.ParseUint(string(data[i+2:i+6]), 16, 16)
				return errors.Join(err, refused(rune(code)))
			case 'b', 'f', 'r':
				return refused(map[byte]rune{'b': '\b', 'f': '\f', 'r': '\r'}[data[i+1]])
			}
			n = 2
		} else if Hidden(r) {
			return refused(r)
		}
		i += n
	}
	return nil
}
