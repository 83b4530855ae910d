package cmd

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/creack/pty"

	"handback/cmd/session"
	"handback/records"
	"handback/records/chain"
)

// patience is how long a console waits before a test is given up; nothing is
// measured by it.
const patience = 30 * time.Second

// siteClock is where the clock stands in the consoles.
const siteClock = "2026-05-12T09:00:00+01:00"

// console is a program that a test types to, on a terminal or over pipes.
type console struct {
	t     testing.TB
	cmd   *exec.Cmd
	in    io.WriteCloser
	typed []string // whole lines, in order
	ended chan error

	mu   sync.Mutex
	more *sync.Cond
	text []byte // all it wrote, stdout and stderr as they came
	eof  bool
	at   int // how much of text was looked at
}

// program is a command of TestMain, with the clock and the book set.
func program(book string, args ...string) *exec.Cmd {
	c := exec.Command(args[0], args[1:]...)
	c.Env = append(os.Environ(), clockVariable+"="+siteClock, bookVariable+"="+book, "TERM=dumb")
	c.Dir = filepath.Dir(book)
	return c
}

// onTerminal starts a command on a pseudo-terminal of so many columns.
func onTerminal(t testing.TB, columns int, cmd *exec.Cmd) *console {
	t.Helper()
	if runtime.GOOS == "windows" {
		t.Skip("pseudo-terminals are not known to the pty package on Windows")
	}
	f, err := pty.StartWithSize(cmd, &pty.Winsize{Rows: 25, Cols: uint16(columns)})
	if err != nil {
		t.Fatal(err)
	}
	return newConsole(t, cmd, f, f)
}

// onPipes starts a command with its input and its whole output on pipes.
func onPipes(t testing.TB, cmd *exec.Cmd) *console {
	t.Helper()
	in, err := cmd.StdinPipe()
	if err != nil {
		t.Fatal(err)
	}
	r, w, err := os.Pipe()
	if err != nil {
		t.Fatal(err)
	}
	cmd.Stdout, cmd.Stderr = w, w
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	w.Close()
	return newConsole(t, cmd, in, r)
}

func newConsole(t testing.TB, cmd *exec.Cmd, in io.WriteCloser, out io.ReadCloser) *console {
	c := &console{t: t, cmd: cmd, in: in, ended: make(chan error, 1)}
	c.more = sync.NewCond(&c.mu)
	go func() {
		block := make([]byte, 4096)
		for {
			n, err := out.Read(block)
			c.mu.Lock()
			c.text = append(c.text, block[:n]...)
			c.eof = err != nil // a terminal whose program is gone gives an error, not an end
			c.more.Broadcast()
			c.mu.Unlock()
			if err != nil {
				c.ended <- cmd.Wait()
				return
			}
		}
	}()
	late := time.AfterFunc(patience, func() { cmd.Process.Kill() })
	t.Cleanup(func() {
		late.Stop()
		cmd.Process.Kill()
		in.Close()
		out.Close()
	})
	return c
}

// sees waits until the program has written text after what was seen before.
func (c *console) sees(text string) {
	c.t.Helper()
	c.mu.Lock()
	defer c.mu.Unlock()
	for {
		if i := bytes.Index(c.text[c.at:], []byte(text)); i >= 0 {
			c.at += i + len(text)
			return
		}
		if c.eof {
			c.t.Fatalf("the program ended and did not write %q after:\n%s\nbut:\n%s", text, c.text[:c.at], c.text[c.at:])
		}
		c.more.Wait()
	}
}

// asks waits for the next prompt and gives its line; false when the program ended.
func (c *console) asks() (string, bool) {
	c.mu.Lock()
	defer c.mu.Unlock()
	for {
		rest := c.text[c.at:]
		if bytes.HasSuffix(rest, []byte(": ")) {
			c.at = len(c.text)
			return string(rest[bytes.LastIndexByte(rest, '\n')+1:]), true
		}
		if c.eof {
			return "", false
		}
		c.more.Wait()
	}
}

// answers waits for a prompt that ends in text and types a line to it.
func (c *console) answers(text, line string) {
	c.t.Helper()
	c.sees(text)
	c.types(line)
}

// types types a whole line.
func (c *console) types(line string) {
	c.typed = append(c.typed, line)
	c.sends(line + "\n")
}

// sends types keys. The program may have ended meanwhile.
func (c *console) sends(keys string) {
	_, err := io.WriteString(c.in, keys)
	if err != nil && !errors.Is(err, os.ErrClosed) && !strings.Contains(err.Error(), "pipe") && !strings.Contains(err.Error(), "input/output") {
		c.t.Error(err)
	}
}

// all waits for the end of the program and gives its status, -1 for a signal,
// and all it wrote.
func (c *console) all() (status int, text string) {
	c.t.Helper()
	err := <-c.ended
	c.ended <- err
	var exit *exec.ExitError
	if err != nil && !errors.As(err, &exit) {
		c.t.Fatal(err)
	}
	return c.cmd.ProcessState.ExitCode(), strings.ReplaceAll(string(c.text), "\r\n", "\n")
}

// ends waits for the end of the program, which must have this status.
func (c *console) ends(status int) string {
	c.t.Helper()
	got, text := c.all()
	if got != status {
		c.t.Fatalf("exit status %d, want %d, after:\n%s", got, status, text)
	}
	return text
}

// newJob makes a book in a new folder and opens a job of a plan in it.
func newJob(t testing.TB, plan string) (book, job string) {
	t.Helper()
	dir := t.TempDir()
	book = filepath.Join(dir, "book.db")
	file := filepath.Join(dir, "plan.yaml")
	if err := os.WriteFile(file, []byte(plan), 0o600); err != nil {
		t.Fatal(err)
	}
	return book, openJob(t, book)
}

// openJob opens a job of the plan beside a book.
func openJob(t testing.TB, book string) string {
	t.Helper()
	var talk bytes.Buffer
	cmd := program(book, "handback", "open", "plan.yaml")
	cmd.Stderr = &talk
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("open: %v\n%s", err, talk.String())
	}
	return strings.TrimSpace(string(out))
}

// entriesOf reads a job's chain.
func entriesOf(t testing.TB, book, job string) []chain.Entry {
	t.Helper()
	b, err := records.OpenRead(context.Background(), book)
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	entries, err := b.Entries(context.Background(), job)
	if err != nil {
		t.Fatal(err)
	}
	return entries
}

// bodiesOf are the entries as they stand in the book, one a line.
func bodiesOf(t testing.TB, book, job string) []string {
	t.Helper()
	var out []string
	for _, e := range entriesOf(t, book, job) {
		out = append(out, string(e.Body))
	}
	return out
}

// sound demands that doctor finds nothing wrong with a book.
func sound(t testing.TB, book string) {
	t.Helper()
	at, err := time.Parse(time.RFC3339, siteClock)
	if err != nil {
		t.Fatal(err)
	}
	var out bytes.Buffer
	env := session.Env{In: strings.NewReader(""), Out: &out, Err: &out, Now: func() time.Time { return at }, Book: book}
	if status := Main([]string{"doctor"}, env); status != exitDone {
		t.Fatalf("doctor ends with status %d:\n%s", status, out.String())
	}
}

// longPlan is a plan of many checks, each of so many readings, for the tests that
// interrupt. Any reading up to a million volts passes.
func longPlan(checks, points int) string {
	var b strings.Builder
	b.WriteString(`handback: 1
id: long
title: Many readings
site: Invented pumping station
work: None
people:
  - {id: ada, name: Ada Example, role: technician}
instruments:
  - {id: dmm, name: multimeter, serial: EX-1, due: 2027-01-31, ranges: [{to: 2000 kV, resolution: 1 mV, reading: 0.001 %}]}
steps:
`)
	for i := range checks {
		fmt.Fprintf(&b, "  - {check: c%d, kind: measure, title: Volts %d, at: board, instrument: dmm, given: {name: volts, unit: V, low: 0 V, high: 1000000 V, points: [", i+1, i+1)
		for k := range points {
			if k > 0 {
				b.WriteString(", ")
			}
			fmt.Fprintf(&b, "p%d", k+1)
		}
		b.WriteString("]}}\n")
	}
	return b.String()
}
