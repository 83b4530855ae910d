package session

import (
	"fmt"
	"io"
	"os"
	"regexp"
	"sync"
	"unicode/utf16"
	"unicode/utf8"

	"golang.org/x/term"

	"handback/records/chain"
)

// PlainWriter is what everything printed goes through. Signs that do not show, and
// could move the cursor, turn a line round or hide a word, are written as JSON
// escapes them, whoever wrote the text: a plan, a file name, a record from elsewhere.
// Line feeds and tabs pass.
//
// On a terminal that has it STOP, FAIL and HOLD stand out, wherever they are said, and
// nothing else does; no meaning rests on it.
type PlainWriter struct {
	To    io.Writer
	Marks bool   // the three words stand out on a terminal
	rest  []byte // the beginning of a sign whose other bytes are still to come
	mu    sync.Mutex
}

func (w *PlainWriter) Write(p []byte) (int, error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	text := append(w.rest, p...)
	w.rest = nil
	if cut := len(text) - unfinished(text); cut < len(text) {
		text, w.rest = text[:cut], append([]byte{}, text[cut:]...)
	}
	text = shown(text)
	if w.Marks && marked().Match(text) && wide(w.Terminal()) {
		text = marked().ReplaceAll(text, []byte("\x1b[1m$0\x1b[0m"))
	}
	if _, err := w.To.Write(text); err != nil {
		return 0, err
	}
	return len(p), nil
}

// marked are the words that stand out.
var marked = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`\b(STOP|FAIL|HOLD)\b`) })

// wide tells whether a terminal is one that knows its width: a serial line does not, and
// may know no styles either.
func wide(terminal *os.File) bool {
	if terminal == nil {
		return false
	}
	width, _, err := term.GetSize(int(terminal.Fd()))
	return err == nil && width >= 20
}

// Flush writes what is left of a text that ended within a sign.
func (w *PlainWriter) Flush() error {
	if len(w.rest) == 0 {
		return nil
	}
	_, err := w.To.Write(shown(w.rest))
	w.rest = nil
	return err
}

// file is the file written to, nil when it is none.
func (w *PlainWriter) file() *os.File {
	f, _ := w.To.(*os.File)
	return f
}

// Terminal is the terminal written to, nil when it is none.
func (w *PlainWriter) Terminal() *os.File {
	f := w.file()
	if f == nil || !term.IsTerminal(int(f.Fd())) {
		return nil
	}
	return f
}

// unfinished is how many bytes at the end begin a sign of UTF-8 and are not all of it.
func unfinished(text []byte) int {
	for n := 1; n < utf8.UTFMax && n <= len(text); n++ {
		if c := text[len(text)-n]; utf8.RuneStart(c) {
			if c >= utf8.RuneSelf && !utf8.FullRune(text[len(text)-n:]) {
				return n
			}
			return 0
		}
	}
	return 0
}

// shown writes out what does not show. It gives text itself where all of it does.
func shown(text []byte) []byte {
	for i := 0; i < len(text); {
		r, n := utf8.DecodeRune(text[i:])
		if hides(r, n) {
			return escaped(text, i)
		}
		i += n
	}
	return text
}

func hides(r rune, n int) bool {
	return r == utf8.RuneError && n == 1 || r != '\n' && r != '\t' && chain.Hidden(r)
}

func escaped(text []byte, i int) []byte {
	out := append([]byte{}, text[:i]...)
	for i < len(text) {
		r, n := utf8.DecodeRune(text[i:])
		switch {
		case !hides(r, n):
			out = append(out, text[i:i+n]...)
		case r == utf8.RuneError:
			out = fmt.Appendf(out, "\\x%02x", text[i])
		case r > 0xffff:
			a, b := utf16.EncodeRune(r)
			out = fmt.Appendf(out, "\\u%04x\\u%04x", a, b)
		default:
			out = fmt.Appendf(out, "\\u%04x", r)
		}
		i += n
	}
	return out
}
