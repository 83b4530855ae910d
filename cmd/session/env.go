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
	Built   string // what the program was built from, "" where it is not known
	Agent   string // socket of the ssh-agent that may sign, "" for none
	Archive string // folder of the archive unless --archive says otherwise, "" for none

	Named  bool // --book was given
	Styled bool // bold and colour are wanted where there is a terminal
	Edits  bool // a refused line may come back for editing there

	known [2]string // id of the job at hand as it was opened, and in this book: hints name it so
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
		Book: filepath.Join(xdg.DataHome, "handback", "book.db"), Program: "handback " + Version, Built: built(debug.ReadBuildInfo()),
		Agent: cmp.Or(os.Getenv("SSH_AUTH_SOCK"), usualAgent(runtime.GOOS)), Archive: os.Getenv("HANDBACK_ARCHIVE"), Styled: styled(os.Getenv), Edits: edits(os.Getenv)}
}

// usualAgent is where the ssh-agent of a system listens if nothing says where.
func usualAgent(system string) string {
	if system == "windows" {
		return `\\.\pipe\openssh-ssh-agent`
	}
	return ""
}

// built tells in words what a program was built from.
func built(info *debug.BuildInfo, ok bool) string {
	if !ok {
		return ""
	}
	said := map[string]string{}
	for _, s := range info.Settings {
		said[s.Key] = s.Value
	}
	words := fmt.Sprintf("module %s %s, built with %s", info.Main.Path, cmp.Or(info.Main.Version, "(devel)"), info.GoVersion)
	if rev := said["vcs.revision"]; rev != "" {
		words += fmt.Sprintf(" from %s revision %s of %s", said["vcs"], rev, said["vcs.time"])
	}
	if said["vcs.modified"] == "true" {
		words += ", with changes that are not in it"
	}
	return words
}

// edits tells whether a terminal may be asked to edit a line: not a dumb one, nor where
// plain talk is wanted, as by a screen reader that every redrawn line disturbs.
func edits(getenv func(string) string) bool {
	term := getenv("TERM")
	return getenv("HANDBACK_PLAIN") == "" && term != "" && term != "dumb" && runtime.GOOS != "windows"
}

// styled tells whether a terminal may be sent more than plain text: not where NO_COLOR
// is set or the terminal is said to be dumb.
func styled(getenv func(string) string) bool {
	term := getenv("TERM")
	return getenv("NO_COLOR") == "" && term != "" && term != "dumb"
}

// Styles of a terminal; no meaning rests on them.
const (
	normal = "\x1b[0m"
	bold   = "\x1b[1m"
	green  = "\x1b[32m"
)

// Bold makes what is printed stand out on a terminal until Normal; nowhere else.
func (env *Env) Bold(w io.Writer) { env.Style(w, bold) }

// Normal ends Bold.
func (env *Env) Normal(w io.Writer) { env.Style(w, normal) }

// Style sends a style to a terminal that is known to have it.
func (env *Env) Style(w io.Writer, code string) {
	if s, ok := w.(interface{ Style(code string) }); ok && env.Styled {
		s.Style(code)
	}
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
	ErrIntegrity   = errors.New("the record is not intact")
	ErrRefused     = errors.New("refused, for it is not what was asked for")
	ErrPartly      = errors.New("nothing wrong was found, but not everything could be compared")
	ErrInterrupted = errors.New("interrupted")
)
