package chain

import (
	"bytes"
	"math"
	"strconv"
	"unicode/utf8"
)

// A book is read whole by every command, and nearly every body in it is as this program
// wrote it. canonical tells such bytes by one look at each; what it does not tell the
// decoder and the writer of RFC 8785 decide, and say what is wrong.

// mostDeep is how far values may stand in one another; of deeper ones the decoder decides.
const mostDeep = 100

// canonical tells that the value at i, so deep in others, is in the form of RFC 8785, with the end of it. It
// may say no to one that is: to keys beyond ASCII, and to escapes by number.
func canonical(raw []byte, i, deep int) (end int, ok bool) {
	if i >= len(raw) || deep > mostDeep {
		return i, false
	}
	switch c := raw[i]; {
	case c == '{':
		return canonicalMembers(raw, i+1, deep+1)
	case c == '[':
		return canonicalItems(raw, i+1, deep+1)
	case c == '"':
		return canonicalText(raw, i)
	case c == '-' || '0' <= c && c <= '9':
		end = numberEnd(raw, i)
		return end, canonicalToken(raw[i:end])
	}
	for _, word := range []string{"true", "false", "null"} {
		if bytes.HasPrefix(raw[i:], []byte(word)) {
			return i + len(word), true
		}
	}
	return i, false
}

// canonicalMembers goes on behind the opening brace. Keys stand in order, so that none is
// there twice.
func canonicalMembers(raw []byte, i, deep int) (end int, ok bool) {
	if i < len(raw) && raw[i] == '}' {
		return i + 1, true
	}
	var last []byte
	for first := true; ; first = false {
		end, ok := canonicalText(raw, i)
		if !ok || end >= len(raw) || raw[end] != ':' {
			return i, false
		}
		key := raw[i+1 : end-1]
		if !first && bytes.Compare(last, key) >= 0 || bytes.IndexByte(key, '\\') >= 0 || !ascii(key) {
			return i, false
		}
		last = key
		if i, ok = canonical(raw, end+1, deep); !ok || i >= len(raw) {
			return i, false
		}
		switch raw[i] {
		case ',':
			i++
		case '}':
			return i + 1, true
		default:
			return i, false
		}
	}
}

func canonicalItems(raw []byte, i, deep int) (end int, ok bool) {
	if i < len(raw) && raw[i] == ']' {
		return i + 1, true
	}
	for {
		if i, ok = canonical(raw, i, deep); !ok || i >= len(raw) {
			return i, false
		}
		switch raw[i] {
		case ',':
			i++
		case ']':
			return i + 1, true
		default:
			return i, false
		}
	}
}

// canonicalText is one text with its quotes.
func canonicalText(raw []byte, i int) (end int, ok bool) {
	if i >= len(raw) || raw[i] != '"' {
		return i, false
	}
	for i++; i < len(raw); {
		switch c := raw[i]; {
		case c == '"':
			return i + 1, true
		case c < ' ':
			return i, false
		case c == '\\':
			if i+1 >= len(raw) || bytes.IndexByte([]byte(`"\bfnrt`), raw[i+1]) < 0 {
				return i, false
			}
			i += 2
		case c < utf8.RuneSelf:
			i++
		default:
			r, size := utf8.DecodeRune(raw[i:])
			if r == utf8.RuneError && size == 1 {
				return i, false
			}
			i += size
		}
	}
	return i, false
}

func numberEnd(raw []byte, i int) int {
	for i < len(raw) && (raw[i] >= '0' && raw[i] <= '9' || bytes.IndexByte([]byte("+-.eE"), raw[i]) >= 0) {
		i++
	}
	return i
}

// canonicalToken tells whether a number is written as RFC 8785 writes it.
func canonicalToken(token []byte) bool {
	f, err := strconv.ParseFloat(string(token), 64)
	if err != nil || string(token) == "-0" {
		return false
	}
	var room [32]byte
	if a := math.Abs(f); f == 0 || a >= 1e-6 && a < 1e21 { // else with an exponent
		return bytes.Equal(strconv.AppendFloat(room[:0], f, 'f', -1, 64), token)
	}
	want, err := canonicalNumber(string(token))
	return err == nil && want == string(token)
}

func ascii(text []byte) bool {
	for _, c := range text {
		if c >= utf8.RuneSelf {
			return false
		}
	}
	return true
}

// quickBody reads a body whose members stand one after another as this program writes them.
// ok is false for every other, sound or not.
func quickBody(body []byte) (b entryBody, ok bool) {
	r := reader{body: body, ok: true}
	at := r.text(`{"at":`)
	b.By = r.text(`,"by":`)
	if r.next(`,"check":`) {
		check := r.text(`,"check":`)
		b.Check = &check
	}
	b.Data = r.value(`,"data":`)
	b.Job, b.Kind, b.Prev = r.text(`,"job":`), r.text(`,"kind":`), r.text(`,"prev":`)
	seq, v := r.value(`,"seq":`), r.value(`,"v":`)
	if !r.ok || string(body[r.i:]) != "}" || b.Check != nil && *b.Check == "" {
		return entryBody{}, false
	}
	var err error
	if b.Seq, err = strconv.Atoi(string(seq)); err == nil {
		b.V, err = strconv.Atoi(string(v))
	}
	if err != nil || b.At.UnmarshalText([]byte(at)) != nil || b.At.Format(timeForm) != at {
		return entryBody{}, false
	}
	return b, true
}

// reader reads members of a body in their order.
type reader struct {
	body []byte
	i    int
	ok   bool
}

func (r *reader) next(name string) bool { return bytes.HasPrefix(r.body[r.i:], []byte(name)) }

// value is the canonical value of a member; nil after anything else.
func (r *reader) value(name string) []byte {
	if !r.ok || !r.next(name) {
		r.ok = false
		return nil
	}
	from := r.i + len(name)
	if r.i, r.ok = canonical(r.body, from, 0); !r.ok {
		return nil
	}
	return r.body[from:r.i:r.i]
}

// text is the text of a member, one without escapes.
func (r *reader) text(name string) string {
	v := r.value(name)
	if len(v) < 2 || v[0] != '"' || bytes.IndexByte(v, '\\') >= 0 {
		r.ok = false
		return ""
	}
	return string(v[1 : len(v)-1])
}
