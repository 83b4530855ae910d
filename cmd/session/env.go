package session

import (
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/adrg/xdg"

	"handback/records"
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

	Named bool // --book was given
}

// BookFlag is --book. It remembers that it was given: a book that somebody names must
// be there, and the commands that hints tell to type must name it too.
type BookFlag struct{ Env *Env }

func (f BookFlag) String() string {
	if f.Env == nil { // pflag makes one to compare with
		return ""
	}
	return f.Env.Book
}
func (f BookFlag) Type() string { return "string" }
func (f BookFlag) Set(path string) error {
	if path == "" {
		return errors.New("it names no file")
	}
	f.Env.Book, f.Env.Named = path, true
	return nil
}

// Hint is a command line that does what it says when it is typed as it stands.
func (env *Env) Hint(words ...string) string {
	line := "handback"
	if env.Named {
		line += " --book " + ShellWord(env.Book)
	}
	for _, w := range words {
		switch {
		case strings.HasPrefix(w, "--"):
			line += " " + w // an option of ours
		case strings.HasPrefix(w, "-"):
			line += " " + ShellWord("./"+w) // a file, not an option
		default:
			line += " " + ShellWord(w)
		}
	}
	return line
}

// NoBook adds to ErrNoBook what to do about it; any other error it leaves alone.
func (env *Env) NoBook(err error) error {
	if !errors.Is(err, records.ErrNoBook) {
		return err
	}
	if env.Named {
		return fmt.Errorf("%w; look at the name, or begin one there with: %s", err, env.Hint("open", "PLAN"))
	}
	return fmt.Errorf("%w; begin with: %s", err, env.Hint("open", "PLAN"))
}

// System is the real environment.
func System() Env {
	return Env{In: os.Stdin, Out: os.Stdout, Err: os.Stderr, Now: time.Now, Random: rand.Reader,
		Book: filepath.Join(xdg.DataHome, "handback", "book.db"), Program: "handback " + Version,
		Agent: os.Getenv("SSH_AUTH_SOCK")}
}

// Exit statuses.
const (
	ExitPartly = 5
)

// UsageError is a mistake in the arguments.
type UsageError struct{ msg string }

func (e UsageError) Error() string { return e.msg }

// Usagef makes a UsageError.
func Usagef(format string, args ...any) error { return UsageError{fmt.Sprintf(format, args...)} }

// Errors that are told by their exit status.
var (
	ErrIntegrity   = errors.New("the record does not hold together")
	ErrPartly      = errors.New("nothing wrong was found, but not everything could be compared")
	ErrInterrupted = errors.New("interrupted")
)
