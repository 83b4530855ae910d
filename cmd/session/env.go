package session

import (
	"cmp"
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"runtime/debug"
	"slices"
	"strings"
	"time"

	"github.com/adrg/xdg"
	"golang.org/x/term"

	"handback/records"
)

// Version is the release this program calls itself in entries and help.
const Version = "0.2.0"

// Env is everything outside that a command may touch.
type Env struct {
	In      io.Reader
	Out     io.Writer
	Err     io.Writer
	Now     func() time.Time
	Random  io.Reader
	Book    string // where the record book is unless --book says otherwise
	Program string // what entries say wrote them
	Built   Build  // what the program was built from
	Agent   string // socket of the ssh-agent that may sign, "" for none
	Archive string // folder of the archive unless --archive says otherwise, "" for none
	Pager   string // command that long answers go through on a terminal, "" for none
	By      string // who works, where --by does not say it, "" where nothing does
	Job     string // job at hand where none is named, "" where nothing says it

	Done  *Done // what the command has done, nil where nobody asks
	Named bool  // somebody named the book
	Marks bool  // STOP, FAIL and HOLD are to stand out where there is a terminal
	Edits bool  // a refused line may come back for editing there

	Paged func() error // waits for the pager, nil where there is none

	known [2]string // id of the job at hand as it was opened, and in this book: hints name it so
	hints []string  // command lines that were hinted at
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

// Hint is a command line that does what it says when it is typed as it stands: the job at
// hand goes by its id in this book.
func (env *Env) Hint(words ...string) string {
	words = slices.Clone(words)
	for i, w := range words {
		if w == env.known[0] && env.known[1] != "" {
			words[i] = env.known[1]
		}
	}
	return env.HintOf(words...)
}

// HintOf is Hint where the ids in it are those of this book already.
func (env *Env) HintOf(words ...string) string {
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
	env.hints = append(env.hints, line)
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
	env := Env{In: os.Stdin, Out: os.Stdout, Err: os.Stderr, Now: time.Now, Random: rand.Reader,
		Book: os.Getenv("HANDBACK_BOOK"), Program: "handback " + Version, Built: built(debug.ReadBuildInfo()), Pager: os.Getenv("HANDBACK_PAGER"), By: os.Getenv("HANDBACK_BY"), Job: os.Getenv("HANDBACK_JOB"),
		Agent: cmp.Or(os.Getenv("SSH_AUTH_SOCK"), usualAgent(runtime.GOOS)), Archive: os.Getenv("HANDBACK_ARCHIVE"), Marks: marks(os.Getenv), Edits: edits(os.Getenv)}
	if env.Named = env.Book != ""; !env.Named {
		env.Book = filepath.Join(xdg.DataHome, "handback", "book.db")
	}
	return env
}

// usualAgent is where the ssh-agent of a system listens if nothing says where.
func usualAgent(system string) string {
	if system == "windows" {
		return `\\.\pipe\openssh-ssh-agent`
	}
	return ""
}

// edits tells whether a terminal may be asked to edit a line: not a dumb one, nor where
// plain talk is wanted, as by a screen reader that every redrawn line disturbs.
func edits(getenv func(string) string) bool {
	term := getenv("TERM")
	return getenv("HANDBACK_PLAIN") == "" && term != "" && term != "dumb" && runtime.GOOS != "windows"
}

// marks tells whether a terminal may be sent more than plain text: not where NO_COLOR is
// set or the terminal is said to be dumb.
func marks(getenv func(string) string) bool {
	term := getenv("TERM")
	return getenv("NO_COLOR") == "" && term != "" && term != "dumb"
}

// Width is how wide talk is wrapped: narrower only on a narrow terminal.
func (env *Env) Width() int {
	talk, ok := env.Err.(*PlainWriter)
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
