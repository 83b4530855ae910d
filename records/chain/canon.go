package chain

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"strconv"

	"github.com/gowebpki/jcs"
)

var errNotCanonical = errors.New("not in the canonical form of RFC 8785")

// canonicalNumber is how RFC 8785 writes the number that token stands for.
func canonicalNumber(token string) (string, error) {
	f, err := strconv.ParseFloat(token, 64)
	if err != nil {
		return "", err
	}
	return jcs.NumberToJSON(f)
}

// CanonicalObject marshals v, which must give a JSON object, into the form of RFC
// 8785. It refuses whatever that would change without a word: invalid UTF-8, and
// numbers that a double does not hold digit for digit.
func CanonicalObject(v any) ([]byte, error) {
	raw, err := json.Marshal(v)
	if err != nil {
		return nil, err
	}
	if raw[0] != '{' {
		return nil, fmt.Errorf("it is %.20s, a JSON object is wanted", raw)
	}
	if err := unchanged(raw); err != nil {
		return nil, err
	}
	return jcs.Transform(raw)
}

// unchanged refuses the texts and numbers in marshalled JSON that lost something
// or would lose it in canonical form.
func unchanged(raw []byte) error {
	inText := false
	for i := 0; i < len(raw); i++ {
		switch c := raw[i]; {
		case c == '"':
			inText = !inText
		case inText && c == '\\':
			// encoding/json writes invalid UTF-8 as this escape, and a true
			// U+FFFD as itself.
			if bytes.HasPrefix(raw[i:], []byte(`\ufffd`)) {
				return errors.New("a text in it is not valid UTF-8; give it as UTF-8")
			}
			i++
		case !inText && (c == '-' || '0' <= c && c <= '9'):
			end := i
			for end < len(raw) && bytes.IndexByte([]byte(",]} \t\r\n"), raw[end]) < 0 {
				end++
			}
			token := string(raw[i:end])
			if want, err := canonicalNumber(token); token != "-0" && (err != nil || want != token) {
				return fmt.Errorf("the number %.40s would be kept as %q; give it as text so that no digit is lost", token, want)
			}
			i = end - 1
		}
	}
	return nil
}
