package cmd

import (
	"os"
	"reflect"
	"strings"
	"syscall"
	"testing"

	"golang.org/x/term"

	"handback/report"
	"handback/testdata/outside"
)

// A refused line comes back for editing where the terminal has it: the cursor stands
// behind the word that was refused, what is right is not typed again. Who types on without
// an arrow or a backspace types the line anew.
func TestWalk_refusedLineComesBack(t *testing.T) {
	for _, c := range []struct {
		name, keys string
		env        string
	}{
		{"put right behind the word", "\x7f2\r", "TERM=xterm"},
		{"put right elsewhere", "\x1b[D\x1b[C\x7f2\r", "TERM=xterm"},
		{"typed anew", "231 232 233\r", "TERM=xterm"},
		{"plain talk wanted", "231 232 233\r", "HANDBACK_PLAIN=1"},
	} {
		t.Run(c.name, func(t *testing.T) {
			book, job := newJob(t, longPlan(1, 3))
			cmd := program(book, "handback", "walk", job)
			cmd.Env = append(cmd.Env, "TERM=xterm", c.env)
			tty := onTerminal(t, 80, cmd)
			tty.answers("990000 V: ", "231 23o 233")
			tty.sees(`unit "o" is not known`)
			if c.env == "TERM=xterm" {
				tty.sees("p1, p2, p3 [V]")
				tty.sees("231 23o 233")
			} else {
				tty.sees("p1, p2, p3 [V]")
			}
			tty.sends(c.keys)
			tty.sees("end of the plan")
			tty.ends(exitDone)
			for _, e := range entriesOf(t, book, job) {
				if e.Kind == report.EntryRead && !strings.Contains(string(e.Data), `"typed":"232"`) {
					t.Errorf("kept is %s", e.Data)
				}
			}
		})
	}
}

// However the editing ends, the terminal is as it was before.
func TestWalk_terminalIsSetBack(t *testing.T) {
	for _, c := range []struct {
		name, keys string
		signal     os.Signal
	}{{"an answer", "\x7f2\r", nil}, {"Ctrl-C", "\x03", nil}, {"told to end", "", syscall.SIGTERM}} {
		t.Run(c.name, func(t *testing.T) {
			book, job := newJob(t, longPlan(1, 3))
			cmd := program(book, "handback", "walk", job)
			cmd.Env = append(cmd.Env, "TERM=xterm")
			tty := onTerminal(t, 80, cmd)
			fd := int(tty.in.(*os.File).Fd())
			was, err := term.GetState(fd)
			if err != nil {
				t.Fatal(err)
			}
			tty.answers("990000 V: ", "231 23o 233")
			tty.sees(`unit "o" is not known`)
			tty.sees("231 23o 233")
			if raw, err := term.GetState(fd); err != nil || reflect.DeepEqual(was, raw) {
				t.Fatalf("the terminal is not raw while the line is edited: %v", err)
			}
			tty.sends(c.keys)
			if c.signal != nil {
				if err := cmd.Process.Signal(c.signal); err != nil {
					t.Fatal(err)
				}
			}
			if c.keys == "\x7f2\r" {
				tty.ends(exitDone)
			} else if text := tty.ends(exitStopped); !strings.Contains(text, "interrupted; every accepted line is stored") {
				t.Errorf("it ends with:\n%s", text)
			}
			is, err := term.GetState(fd)
			if err != nil {
				t.Fatal(err)
			}
			if !reflect.DeepEqual(was, is) {
				t.Errorf("the terminal is not set back: %+v, was %+v", is, was)
			}
		})
	}
}

// On a terminal that has it STOP, FAIL and HOLD stand out and nothing else; not where it is
// dumb or NO_COLOR is set (no-color.org), down a pipe, or in JSON.
func TestMarks(t *testing.T) {
	book, job := newJob(t, longPlan(1, 1)+"  - {hold: close, action: Close it at the word HOLD OVER}\n")
	lines := []string{"handback", "status", job}
	for name, c := range map[string]struct {
		set   []string
		more  string
		marks bool
	}{
		"terminal": {[]string{"TERM=xterm"}, "", true}, "dumb": {[]string{"TERM=dumb"}, "", false},
		"no colour": {[]string{"TERM=xterm", "NO_COLOR=1"}, "", false}, "JSON": {[]string{"TERM=xterm"}, "--json", false},
	} {
		cmd := program(book, lines...)
		if c.more != "" {
			cmd.Args = append(cmd.Args, c.more)
		}
		cmd.Env = append(cmd.Env, c.set...)
		text := onTerminal(t, 80, cmd).ends(exitNotReady)
		plain := strings.ReplaceAll(strings.ReplaceAll(text, "\x1b[1mHOLD\x1b[0m", "HOLD"), "\x1b[1mFAIL\x1b[0m", "FAIL")
		if (plain != text) != c.marks || strings.ContainsRune(plain, '\x1b') || !strings.Contains(plain, "HOLD") {
			t.Errorf("%s: marks %v wanted: %q", name, c.marks, text)
		}
	}
	pipe := onPipes(t, program(book, lines...))
	if text := pipe.ends(exitNotReady); strings.ContainsRune(text, '\x1b') {
		t.Errorf("down a pipe: %q", text)
	}
}

// Where a pager is asked for, a list goes through it on a terminal, and nowhere else; what
// ends it does not change what the command ends with.
func TestPager(t *testing.T) {
	sed := outside.Tool(t, "sed")
	book, job := newJob(t, longPlan(1, 1))
	cmd := program(book, "handback", "status", job)
	cmd.Env = append(cmd.Env, "HANDBACK_PAGER="+sed+" s/^/paged:/")
	if text := onTerminal(t, 80, cmd).ends(exitNotReady); !strings.Contains(text, "paged:long-1: Many readings") {
		t.Errorf("through a pager: %q", text)
	}
	cmd = program(book, "handback", "status", job)
	cmd.Env = append(cmd.Env, "HANDBACK_PAGER=no-such-pager")
	if text := onTerminal(t, 80, cmd).ends(exitFailed); !strings.Contains(text, "HANDBACK_PAGER=no-such-pager: ") {
		t.Errorf("through none: %q", text)
	}
	cmd = program(book, "handback", "status", job)
	cmd.Env = append(cmd.Env, "HANDBACK_PAGER=no-such-pager")
	if text := onPipes(t, cmd).ends(exitNotReady); !strings.Contains(text, "long-1: Many readings") {
		t.Errorf("down a pipe: %q", text)
	}
}
