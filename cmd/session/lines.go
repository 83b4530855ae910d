package session

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"
	"time"

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
	edit     chan editing
	got      chan gotLine
	asked    bool   // a line was asked for and has not come yet
	comes    *again // the refused line that comes back with the next question
}

// ErrLate is that of a prompt whose time has passed.
var ErrLate = errors.New("nothing was typed in time")

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
	l := &Lines{env: env, ask: make(chan struct{}), edit: make(chan editing), got: make(chan gotLine, 1)}
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
	for {
		var g gotLine
		select {
		case <-l.ask:
			g.text, g.err = readLine(r)
		case e := <-l.edit:
			g.text, g.err = e.line(r)
		}
		l.got <- g
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
	return l.PromptWithin(ctx, text, 0)
}

// PromptWithin is Prompt that waits at a terminal no longer than a time: ErrLate when it
// has passed. What was typed by then, and is not a whole line yet, goes to the next prompt.
func (l *Lines) PromptWithin(ctx context.Context, text string, within time.Duration) (string, error) {
	for {
		typed, err := l.once(ctx, text, within)
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

func (l *Lines) once(ctx context.Context, text string, within time.Duration) (string, error) {
	if ctx.Err() != nil {
		return "", ErrInterrupted
	}
	if back := l.comes; back != nil && !l.asked && within == 0 {
		l.comes = nil
		return l.edited(ctx.Done(), l.wrapped(text), back)
	}
	fmt.Fprint(l.env.Err, l.wrapped(text))
	if !l.asked {
		l.ask <- struct{}{}
		l.asked = true
	}
	var late <-chan time.Time
	if within > 0 && l.Terminal != nil {
		timer := time.NewTimer(within)
		defer timer.Stop()
		late = timer.C
	}
	select {
	case <-ctx.Done():
		fmt.Fprintln(l.env.Err)
		return "", ErrInterrupted
	case <-late:
		fmt.Fprintln(l.env.Err)
		return "", ErrLate
	case g := <-l.got:
		l.asked = false
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
	l.Say(format, args...)
	if l.Terminal != nil && dropTyped(l.Terminal) {
		fmt.Fprint(l.env.Err, "  lines typed ahead are dropped: type them again\n")
	}
}

// Say talks: each line is wrapped at the terminal's width, behind its own indent.
func (l *Lines) Say(format string, args ...any) {
	fmt.Fprint(l.env.Err, l.wrapped(fmt.Sprintf(format, args...)))
}

// wrapped wraps each line of a text; blanks at its end are kept, for what is typed there.
func (l *Lines) wrapped(text string) string {
	width := l.env.Width()
	lines := strings.Split(text, "\n")
	for i, line := range lines {
		body := strings.TrimLeft(line, " ")
		if len([]rune(line)) <= width || body == "" {
			continue
		}
		end := line[len(strings.TrimRight(line, " ")):]
		lines[i] = Wrapped(body, line[:len(line)-len(body)], width) + end
	}
	return strings.Join(lines, "\n")
}

// Wrapped breaks text into lines of at most width, each after indent.
func Wrapped(text, indent string, width int) string {
	lines := templates.Wrap(width-len(indent), report.OneLine(text))
	return indent + strings.ReplaceAll(lines, "\n", "\n"+indent)
}
