package cmd

import (
	"cmp"
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"path/filepath"
	"runtime/debug"
	"strings"
	"syscall"
	"time"

	"github.com/adrg/xdg"
	"github.com/spf13/cobra"

	"handback/records"
	"handback/report"
)

// Version is the release this program calls itself in entries and help.
const Version = "0.1.0"

// Env is everything outside that a command may touch.
type Env struct {
	In      io.Reader
	Out     io.Writer
	Err     io.Writer
	Now     func() time.Time
	Random  io.Reader
	Book    string // where the record book is unless --book says otherwise
	Program string // what entries say wrote them
	Agent   string // socket of the ssh-agent that may sign, "" for none

	named bool // --book was given
}

// bookFlag is --book. It remembers that it was given: a book that somebody names must
// be there, and the commands that hints tell to type must name it too.
type bookFlag struct{ env *Env }

func (f bookFlag) String() string {
	if f.env == nil { // pflag makes one to compare with
		return ""
	}
	return f.env.Book
}
func (f bookFlag) Type() string { return "string" }
func (f bookFlag) Set(path string) error {
	if path == "" {
		return errors.New("it names no file")
	}
	f.env.Book, f.env.named = path, true
	return nil
}

// hint is a command line that does what it says when it is typed as it stands.
func (env *Env) hint(words ...string) string {
	line := "handback"
	if env.named {
		line += " --book " + shellWord(env.Book)
	}
	for _, w := range words {
		switch {
		case strings.HasPrefix(w, "--"):
			line += " " + w // an option of ours
		case strings.HasPrefix(w, "-"):
			line += " " + shellWord("./"+w) // a file, not an option
		default:
			line += " " + shellWord(w)
		}
	}
	return line
}

// noBook adds to ErrNoBook what to do about it; any other error it leaves alone.
func (env *Env) noBook(err error) error {
	if !errors.Is(err, records.ErrNoBook) {
		return err
	}
	if env.named {
		return fmt.Errorf("%w; look at the name, or begin one there with: %s", err, env.hint("open", "PLAN"))
	}
	return fmt.Errorf("%w; begin with: %s", err, env.hint("open", "PLAN"))
}

// System is the real environment.
func System() Env {
	return Env{In: os.Stdin, Out: os.Stdout, Err: os.Stderr, Now: time.Now, Random: rand.Reader,
		Book: filepath.Join(xdg.DataHome, "handback", "book.db"), Program: "handback " + Version,
		Agent: os.Getenv("SSH_AUTH_SOCK")}
}

// Exit statuses.
const (
	exitDone      = 0
	exitFailed    = 1
	exitUsage     = 2
	exitNotReady  = 3
	exitIntegrity = 4
	exitPartly    = 5
	exitStopped   = 130
)

const exitHelp = `
Exit status: 0 done; 1 failed; 2 wrong usage; 3 not ready for service (status,
try); 4 the record does not hold together (verify, doctor); 5 nothing is wrong
as far as was compared, but not everything could be (verify); 130 interrupted.`

// usageError is a mistake in the arguments.
type usageError struct{ msg string }

func (e usageError) Error() string { return e.msg }

func usagef(format string, args ...any) error { return usageError{fmt.Sprintf(format, args...)} }

var (
	errNotReady    = errors.New("not ready for service")
	errIntegrity   = errors.New("the record does not hold together")
	errPartly      = errors.New("nothing wrong was found, but not everything could be compared")
	errInterrupted = errors.New("interrupted")
)

// Main runs one command line and gives its exit status.
func Main(args []string, env Env) int {
	debug.SetGCPercent(400) // a run lives for a moment: collecting less is quicker
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	return run(ctx, args, env)
}

// run is Main without the signals, so that demo can play command lines.
func run(ctx context.Context, args []string, env Env) int {
	plain, talk := &plainWriter{to: env.Out}, &plainWriter{to: env.Err}
	out := &answer{Writer: plain}
	env.Out, env.Err = out, talk
	root := newRoot(&env)
	root.SetArgs(args)
	root.SetIn(env.In)
	root.SetOut(env.Out)
	root.SetErr(env.Err)
	err := plainArguments(args)
	if err == nil {
		err = root.ExecuteContext(ctx)
	}
	out.err = cmp.Or(out.err, plain.flush())
	err = errors.Join(err, talk.flush())
	if ctx.Err() != nil && err != nil {
		err = errInterrupted
	}
	if out.err != nil && (err == nil || errors.Is(err, errNotReady) || errors.Is(err, errPartly) || strings.Contains(err.Error(), out.err.Error())) {
		if errors.Is(out.err, syscall.EPIPE) {
			return exitFailed // the reader has had enough
		}
		err = fmt.Errorf("the answer could not be written; what was recorded before that is kept: %w", out.err)
	}
	return tell(env, err)
}

// tell prints what went wrong, once, and gives its exit status.
func tell(env Env, err error) int {
	var usage usageError
	switch {
	case err == nil:
		return exitDone
	case errors.Is(err, errNotReady):
		return exitNotReady // the answer on stdout has said so
	case errors.Is(err, errInterrupted):
		fmt.Fprintln(env.Err, "handback: interrupted; every accepted line is kept")
		return exitStopped
	}
	fmt.Fprintf(env.Err, "handback: %v\n", err)
	switch {
	case errors.As(err, &usage):
		return exitUsage
	case errors.Is(err, errPartly):
		return exitPartly
	case errors.Is(err, errIntegrity), errors.Is(err, records.ErrDamaged), errors.Is(err, records.ErrStray):
		return exitIntegrity
	}
	return exitFailed
}

// exactly demands the named arguments.
func exactly(names ...string) cobra.PositionalArgs {
	return func(c *cobra.Command, args []string) error {
		if len(args) != len(names) {
			return usagef("%s takes %s, %s; type: %s", c.Name(), wanted(names), given(len(args)), c.UseLine())
		}
		return nil
	}
}

// atLeast demands the named arguments; more may follow.
func atLeast(names ...string) cobra.PositionalArgs {
	return func(c *cobra.Command, args []string) error {
		if len(args) < len(names) {
			return usagef("%s takes at least %s, %s; type: %s", c.Name(), wanted(names), given(len(args)), c.UseLine())
		}
		return nil
	}
}

func wanted(names []string) string {
	if len(names) == 0 {
		return "no arguments"
	}
	return fmt.Sprintf("%s (%s)", report.Count(len(names), "argument", "arguments"), strings.Join(names, " "))
}

func given(n int) string {
	switch n {
	case 0:
		return "none was given"
	case 1:
		return "1 was given"
	}
	return fmt.Sprintf("%d were given", n)
}
