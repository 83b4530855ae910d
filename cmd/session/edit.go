package session

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"strings"
	"syscall"

	"golang.org/x/term"
)

// again is a refused line that comes back with the next question, and how many signs from
// its end the cursor stands.
type again struct {
	line string
	left int
}

// Again has a refused line come back with the next question, to be put right there, the
// cursor behind the word that was refused. Where the terminal is not known to edit lines,
// or nobody wants it to, the question is asked as any other.
func (l *Lines) Again(typed, word string) {
	after := ""
	if i := strings.LastIndex(typed, word); word != "" && i >= 0 {
		after = typed[i+len(word):]
	}
	if l.screen() != nil {
		l.comes = &again{typed, len([]rune(after))}
	}
}

// screen is the terminal that questions stand on, nil where a line cannot be edited: the
// answer goes elsewhere, a pipe or a dumb terminal is talked to, or plain talk is wanted.
func (l *Lines) screen() *os.File {
	if !l.env.Edits || l.Terminal == nil || terminalOf(l.env.Out) == nil {
		return nil
	}
	return terminalOf(l.env.Err)
}

func terminalOf(w io.Writer) *os.File {
	if t, ok := w.(interface{ Terminal() *os.File }); ok {
		return t.Terminal()
	}
	return nil
}

// edited asks with a line to be put right. The terminal is raw for as long as it takes,
// and set back however it ends: an answer, Ctrl-C, the end of the run or of the program.
func (l *Lines) edited(done <-chan struct{}, prompt string, back *again) (string, error) {
	screen, fd := l.screen(), int(l.Terminal.Fd())
	above, last := "", prompt
	if i := strings.LastIndex(prompt, "\n"); i >= 0 {
		above, last = prompt[:i+1], prompt[i+1:]
	}
	fmt.Fprint(l.env.Err, above)
	ended := make(chan os.Signal, 1)
	signal.Notify(ended, syscall.SIGTERM, syscall.SIGHUP)
	defer signal.Stop(ended)
	was, err := term.MakeRaw(fd)
	if err != nil {
		return "", err
	}
	g := gotLine{err: ErrInterrupted}
	defer func() {
		term.Restore(fd, was)
		if g.err != nil { // the cursor stands in the line
			fmt.Fprintln(l.env.Err)
		}
	}()
	l.edit <- editing{screen, last, back}
	select {
	case <-done:
	case <-ended:
	case g = <-l.got:
	}
	return g.text, g.err
}

// editing is what read needs to have a line put right.
type editing struct {
	screen *os.File
	prompt string
	back   *again
}

// line reads the line as it was put right: it is typed by the program, the cursor brought
// to its place, and the person goes on from there. Who begins with a letter or a digit,
// and not with an arrow or a backspace, types the line anew.
func (e editing) line(r *bufio.Reader) (text string, err error) {
	defer func() { // nothing must leave the terminal raw
		if p := recover(); p != nil {
			err = fmt.Errorf("the line could not be edited: %v", p)
		}
	}()
	keys := &keys{r: r, ahead: []byte(e.back.line + strings.Repeat("\x1b[D", e.back.left))}
	t := term.NewTerminal(struct {
		io.Reader
		io.Writer
	}{keys, e.screen}, e.prompt)
	if width, height, err := term.GetSize(int(e.screen.Fd())); err == nil && width > 0 {
		if err := t.SetSize(width, height); err != nil {
			return "", err
		}
	}
	text, err = t.ReadLine()
	switch {
	case keys.interrupted:
		return "", ErrInterrupted
	case errors.Is(err, term.ErrPasteIndicator):
		err = nil
	}
	return text, err
}

// keys are what is typed, behind what the program types ahead.
type keys struct {
	r           *bufio.Reader
	ahead       []byte
	begun       bool // by the person
	interrupted bool // Ctrl-C: a raw terminal makes no signal of it
}

const (
	ctrlC = 3
	empty = "\x05\x15" // to the end, and all before it away
	rubs  = 0x7f
)

func (k *keys) Read(p []byte) (int, error) {
	if len(k.ahead) > 0 {
		n := copy(p, k.ahead)
		k.ahead = k.ahead[n:]
		return n, nil
	}
	n, err := k.r.Read(p)
	if first := n > 0 && !k.begun; first {
		k.begun = true
		if p[0] >= ' ' && p[0] != rubs {
			k.ahead = append([]byte(empty), p[:n]...)
			n = copy(p, k.ahead)
			k.ahead = k.ahead[n:]
		}
	}
	for _, c := range p[:n] {
		k.interrupted = k.interrupted || c == ctrlC
	}
	return n, err
}
