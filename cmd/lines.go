package cmd

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"

	"golang.org/x/term"
)

// lines asks for one line at a time. The same text goes out on a terminal, over
// a pipe and to a screen reader; where the input is no terminal the line read is
// written after the prompt, as a terminal would show it.
type lines struct {
	env  *Env
	echo bool
	ask  chan struct{}
	got  chan gotLine
}

type gotLine struct {
	text string
	err  error
}

// maxLine bounds one typed line; longer is a paste gone wrong.
const maxLine = 4096

func newLines(env *Env) *lines {
	l := &lines{env: env, ask: make(chan struct{}), got: make(chan gotLine, 1)}
	f, ok := env.In.(*os.File)
	l.echo = !ok || !term.IsTerminal(int(f.Fd()))
	go l.read()
	return l
}

// read reads ahead of nothing: one line for each time it is asked, so that an
// interrupt is heard while it waits.
func (l *lines) read() {
	r := bufio.NewReaderSize(l.env.In, maxLine)
	for range l.ask {
		text, err := r.ReadString('\n')
		if err == nil || errors.Is(err, io.EOF) && text != "" {
			l.got <- gotLine{text: strings.TrimRight(text, "\r\n")}
			continue
		}
		l.got <- gotLine{err: err}
	}
}

// prompt writes a prompt and waits for a line. io.EOF when the input ended,
// errInterrupted on an interrupt.
func (l *lines) prompt(ctx context.Context, text string) (string, error) {
	if ctx.Err() != nil {
		return "", errInterrupted
	}
	fmt.Fprint(l.env.Err, text)
	l.ask <- struct{}{}
	select {
	case <-ctx.Done():
		fmt.Fprintln(l.env.Err)
		return "", errInterrupted
	case g := <-l.got:
		if g.err != nil {
			fmt.Fprintln(l.env.Err)
			return "", g.err
		}
		if l.echo {
			fmt.Fprintln(l.env.Err, g.text)
		}
		if len(g.text) > maxLine {
			return "", fmt.Errorf("a line of %d characters: at most %d are read", len(g.text), maxLine)
		}
		return strings.TrimSpace(g.text), nil
	}
}

// splitValues cuts a line at its numbers: white space or ; between values, what
// follows a number kept with it, "> 2 GΩ" kept together.
//
//	249.1 248.7 249.0      249,1 V; 248,7 V; 249,0 V      0.249 kV 0.2487 kV
func splitValues(s string) []string {
	if strings.Contains(s, ";") {
		var out []string
		for _, p := range strings.Split(s, ";") {
			if p = strings.TrimSpace(p); p != "" {
				out = append(out, p)
			}
		}
		return out
	}
	var out []string
	open := false // the last value still waits for its number
	for _, tok := range strings.Fields(s) {
		tok = strings.TrimSuffix(tok, ",")
		switch {
		case tok == "":
		case open:
			out[len(out)-1] += " " + tok
			open = false
		case beginsNumber(tok) || len(out) == 0:
			out = append(out, tok)
		default:
			out[len(out)-1] += " " + tok
		}
		if tok != "" {
			open = strings.Trim(tok, "<>=≤≥") == ""
		}
	}
	return out
}

func beginsNumber(tok string) bool {
	return strings.IndexAny(tok, "0123456789+-−.,<>≤≥") == 0
}
