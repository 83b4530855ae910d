package session

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"

	"golang.org/x/term"

	"handback/checks/plan"
	"handback/report"
	"handback/templates"
)

// Lines asks for one line at a time. The same text goes out on a terminal, over
// a pipe and to a screen reader; where the input is no terminal the line read is
// written after the prompt, as a terminal would show it.
type Lines struct {
	env      *Env
	Terminal *os.File // nil when the input is none
	ask      chan struct{}
	got      chan gotLine
}

type gotLine struct {
	text string
	err  error
}

// MaxLine bounds one typed line in bytes; longer is a paste gone wrong.
const MaxLine = 4096

// errLong is a line beyond maxLine, read to its end and thrown away.
var errLong = fmt.Errorf("a line of more than %d characters is not read: type it again, shorter", MaxLine)

// errUnfinished is a line that the end of the input cut off. It may lack digits,
// so it is no answer.
var errUnfinished = errors.New("the line was not finished and is not taken")

// NewLines asks for lines of the input.
func NewLines(env *Env) *Lines {
	l := &Lines{env: env, ask: make(chan struct{}), got: make(chan gotLine, 1)}
	if f, ok := env.In.(*os.File); ok && term.IsTerminal(int(f.Fd())) {
		l.Terminal = f
	}
	go l.read()
	return l
}

// read reads ahead of nothing: one line for each time it is asked, so that an
// interrupt is heard while it waits.
func (l *Lines) read() {
	r := bufio.NewReaderSize(l.env.In, MaxLine)
	for range l.ask {
		text, err := readLine(r)
		l.got <- gotLine{text, err}
	}
}

// readLine reads one line without its end; what is longer than the reader's
// buffer is passed over.
func readLine(r *bufio.Reader) (string, error) {
	part, err := r.ReadSlice('\n')
	text := strings.TrimRight(string(part), "\r\n")
	if errors.Is(err, io.EOF) && text != "" {
		return text, errUnfinished
	}
	long := false
	for errors.Is(err, bufio.ErrBufferFull) {
		long = true
		_, err = r.ReadSlice('\n')
	}
	if long && err == nil {
		err = errLong
	}
	return text, err
}

// Prompt writes a prompt and waits for a line of plain text. io.EOF when the
// input ended, errInterrupted on an interrupt.
func (l *Lines) Prompt(ctx context.Context, text string) (string, error) {
	for {
		typed, err := l.once(ctx, text)
		if err == nil {
			err = plan.PlainText(typed)
		} else if !errors.Is(err, errLong) {
			return "", err
		}
		if err == nil {
			return strings.TrimSpace(typed), nil
		}
		l.Refuse("  %v\n", err)
	}
}

func (l *Lines) once(ctx context.Context, text string) (string, error) {
	if ctx.Err() != nil {
		return "", ErrInterrupted
	}
	fmt.Fprint(l.env.Err, text)
	l.ask <- struct{}{}
	select {
	case <-ctx.Done():
		fmt.Fprintln(l.env.Err)
		return "", ErrInterrupted
	case g := <-l.got:
		switch {
		case errors.Is(g.err, errUnfinished):
			fmt.Fprintf(l.env.Err, "\n  %q: %v\n", g.text, g.err)
			return "", io.EOF
		case errors.Is(g.err, errLong):
			fmt.Fprintln(l.env.Err)
		case g.err != nil:
			fmt.Fprintln(l.env.Err)
			return "", g.err
		case l.Terminal == nil && plan.PlainText(g.text) != nil:
			fmt.Fprintf(l.env.Err, "%q\n", g.text)
		case l.Terminal == nil:
			fmt.Fprintln(l.env.Err, g.text)
		}
		return g.text, g.err
	}
}

// Refuse says why a line is not taken. Lines typed or pasted ahead of the refusal
// were meant for other questions than the one that comes now: on a terminal they
// are dropped.
func (l *Lines) Refuse(format string, args ...any) {
	fmt.Fprintf(l.env.Err, format, args...)
	if l.Terminal != nil && dropTyped(l.Terminal) {
		fmt.Fprint(l.env.Err, "  lines typed ahead are dropped: type them again\n")
	}
}

// Width is how wide talk is wrapped: narrower only on a narrow terminal.
func (l *Lines) Width() int {
	talk, ok := l.env.Err.(*PlainWriter)
	if !ok || talk.file() == nil {
		return talkWidth
	}
	w, _, err := term.GetSize(int(talk.file().Fd()))
	if err != nil || w < 20 { // a serial line knows no width
		return talkWidth
	}
	return min(talkWidth, w-1)
}

const talkWidth = 78

// Wrapped breaks text into lines of at most width, each after indent.
func Wrapped(text, indent string, width int) string {
	lines := templates.Wrap(width-len(indent), report.OneLine(text))
	return indent + strings.ReplaceAll(lines, "\n", "\n"+indent)
}
