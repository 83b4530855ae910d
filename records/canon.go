package records

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"unicode/utf16"
	"unicode/utf8"

	"github.com/gowebpki/jcs"
)

// maxDepth is the nesting that encoding/json and jcs accept.
const maxDepth = 10000

// member is one member of an object; value is its canonical text.
type member struct {
	key   string
	value []byte
}

// canonicalMembers returns the members of the object b. It accepts b only in the
// form of RFC 8785, so a key cannot stand twice, nothing can be spelt in two ways,
// and re-encoding gives the same bytes. The values point into b.
//
// It is a scanner of its own because verifying a book would otherwise spend most
// of its time parsing each entry twice; the tests hold it against jcs.Transform.
func canonicalMembers(b []byte) ([]member, error) {
	s := scanner{b: b}
	if len(b) == 0 || b[0] != '{' {
		return nil, errors.New("not a JSON object")
	}
	members := make([]member, 0, 9)
	err := s.object(func(key string, value []byte) { members = append(members, member{key, value}) })
	if err == nil && s.i != len(b) {
		err = errors.New("text after the end of the object")
	}
	if err != nil {
		return nil, fmt.Errorf("byte %d: %w", s.i, err)
	}
	return members, nil
}

type scanner struct {
	b     []byte
	i     int
	depth int
}

var errNotCanonical = errors.New("not in the canonical form of RFC 8785")

func (s *scanner) take(c byte) bool {
	if s.i < len(s.b) && s.b[s.i] == c {
		s.i++
		return true
	}
	return false
}

func (s *scanner) value() error {
	if s.i >= len(s.b) {
		return errors.New("ends too early")
	}
	switch s.b[s.i] {
	case '{':
		return s.object(nil)
	case '[':
		return s.array()
	case '"':
		return s.text()
	}
	for _, word := range []string{"true", "false", "null"} {
		if bytes.HasPrefix(s.b[s.i:], []byte(word)) {
			s.i += len(word)
			return nil
		}
	}
	return s.number()
}

func (s *scanner) enter() error {
	s.i++
	if s.depth++; s.depth > maxDepth {
		return fmt.Errorf("nested deeper than %d", maxDepth)
	}
	return nil
}

func (s *scanner) array() error {
	if err := s.enter(); err != nil {
		return err
	}
	defer func() { s.depth-- }()
	if s.take(']') {
		return nil
	}
	for {
		if err := s.value(); err != nil {
			return err
		}
		if s.take(']') {
			return nil
		}
		if !s.take(',') {
			return errNotCanonical
		}
	}
}

// object reads an object whose keys must rise in UTF-16 order. It gives each
// member to found, when there is one.
func (s *scanner) object(found func(string, []byte)) error {
	if err := s.enter(); err != nil {
		return err
	}
	defer func() { s.depth-- }()
	if s.take('}') {
		return nil
	}
	var last []byte
	for {
		start := s.i
		if s.i >= len(s.b) || s.b[s.i] != '"' {
			return errNotCanonical
		}
		if err := s.text(); err != nil {
			return err
		}
		key := s.b[start:s.i]
		if last != nil && !keysRise(last, key) {
			return fmt.Errorf("key %s is repeated or out of order: %w", key, errNotCanonical)
		}
		last = key
		if !s.take(':') {
			return errNotCanonical
		}
		start = s.i
		if err := s.value(); err != nil {
			return err
		}
		if found != nil {
			found(unquote(key), s.b[start:s.i:s.i])
		}
		if s.take('}') {
			return nil
		}
		if !s.take(',') {
			return errNotCanonical
		}
	}
}

// text reads a string: valid UTF-8, escaped only where RFC 8785 escapes, and then
// in the one way it does.
func (s *scanner) text() error {
	for s.i++; s.i < len(s.b); {
		switch c := s.b[s.i]; {
		case c == '"':
			s.i++
			return nil
		case c < 0x20:
			return errors.New("control character in a string")
		case c == '\\':
			n := escapeLen(s.b[s.i:])
			if n == 0 {
				return errNotCanonical
			}
			s.i += n
		case c < utf8.RuneSelf:
			s.i++
		default:
			r, n := utf8.DecodeRune(s.b[s.i:])
			if r == utf8.RuneError && n == 1 {
				return errors.New("invalid UTF-8 in a string")
			}
			s.i += n
		}
	}
	return errors.New("string without an end")
}

// escapeLen is the length of the canonical escape that b starts with, 0 for others.
func escapeLen(b []byte) int {
	if len(b) >= 2 && bytes.IndexByte([]byte(`"\bfnrt`), b[1]) >= 0 {
		return 2
	}
	if len(b) < 6 || b[1] != 'u' || b[2] != '0' || b[3] != '0' || (b[4] != '0' && b[4] != '1') {
		return 0
	}
	if !('0' <= b[5] && b[5] <= '9' || 'a' <= b[5] && b[5] <= 'f') {
		return 0
	}
	if b[4] == '0' && bytes.IndexByte([]byte("89acd"), b[5]) >= 0 { // these have the short form
		return 0
	}
	return 6
}

func (s *scanner) number() error {
	start := s.i
	for s.i < len(s.b) && s.b[s.i] != ',' && s.b[s.i] != ']' && s.b[s.i] != '}' {
		s.i++
	}
	token := string(s.b[start:s.i])
	if want, err := canonicalNumber(token); err != nil || want != token {
		s.i = start
		return fmt.Errorf("number: %w", errNotCanonical)
	}
	return nil
}

// canonicalNumber is how RFC 8785 writes the number that token stands for.
func canonicalNumber(token string) (string, error) {
	f, err := strconv.ParseFloat(token, 64)
	if err != nil {
		return "", err
	}
	return jcs.NumberToJSON(f)
}

// keysRise compares two canonical quoted keys by UTF-16 code units.
func keysRise(a, b []byte) bool {
	if plain(a) && plain(b) {
		// Without the closing quote: it would sort "a" after "a!".
		return bytes.Compare(a[:len(a)-1], b[:len(b)-1]) < 0
	}
	return slices.Compare(utf16.Encode([]rune(unquote(a))), utf16.Encode([]rune(unquote(b)))) < 0
}

// plain says that the quoted text is ASCII without escapes.
func plain(quoted []byte) bool {
	for _, c := range quoted {
		if c >= utf8.RuneSelf || c == '\\' {
			return false
		}
	}
	return true
}

// unquote gives the text of a string that the scanner has accepted.
func unquote(quoted []byte) string {
	if plain(quoted) {
		return string(quoted[1 : len(quoted)-1])
	}
	var t string
	if err := json.Unmarshal(quoted, &t); err != nil {
		panic("records: scanner accepted a string that encoding/json refuses: " + err.Error())
	}
	return t
}

// canonicalObject marshals v, which must give a JSON object, into the form of RFC
// 8785. It refuses whatever that would change without a word: invalid UTF-8, and
// numbers that a double does not hold digit for digit.
func canonicalObject(v any) ([]byte, error) {
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
