package session

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"handback/checks/plan"
)

// UsageError is a mistake in the arguments.
type UsageError struct{ msg string }

func (e UsageError) Error() string { return e.msg }

// Usagef makes a UsageError.
func Usagef(format string, args ...any) error { return UsageError{fmt.Sprintf(format, args...)} }

// Parts are those of an error that a program may want apart from its words.
type Parts struct {
	Code     string   // of its sort, one of those below; "" where the error itself tells it
	Where    string   // an option, a key, a cell, a place in a file
	Met      string   // what stood there
	Accepted []string // what may stand there
	Each     []string // everything that is wrong, where it is several things
}

// Codes of what a command refuses that adds to a record.
const (
	CodeNoSuch      = "no-such-name"  // there is none of that name
	CodeDone        = "done-before"   // a check was judged, a step was done
	CodeOrder       = "out-of-order"  // something above it is open
	CodeHold        = "hold-stands"   // the checks of a hold point are open
	CodeRule        = "rule-broken"   // a rule of the network refuses a step
	CodeWrongPerson = "wrong-person"  // it is not theirs to do
	CodeNoKey       = "no-key"        // no key is at hand
	CodeWrongKey    = "wrong-key"     // the plan lists another
	CodeDoubt       = "reading-doubt" // a reading is to be looked at again, or kept with a reason
	CodeRefused     = "reading-refused"
)

// apart is an error with its parts.
type apart struct {
	error
	Parts
}

func (a apart) Unwrap() error { return a.error }

// Apart gives an error its parts; its words stay.
func Apart(err error, p Parts) error {
	if err == nil {
		return nil
	}
	return apart{err, p}
}

// PartsOf are the parts of an error, of the innermost that has any.
func PartsOf(err error) (p Parts) {
	for a := (apart{}); errors.As(err, &a); err = a.error {
		p = a.Parts
	}
	return p
}

// Meant asks whether another name was meant, "" where none is near or it is one itself.
func Meant(met string, there []string) string {
	if near := plan.Near(met, there); near != "" && near != met {
		return ": did you mean " + near + "?"
	}
	return ""
}

// NoSuch is the usage error of a name that there is not: the words, what there is, and
// which of it may be meant. Where says what was named.
func NoSuch(where, met string, there []string, format string, args ...any) error {
	words := fmt.Sprintf(format, args...)
	switch near := plan.Near(met, there); {
	case len(there) == 0:
		words += ": there is none"
	case near != "":
		words += ": there are " + strings.Join(there, ", ") + "; did you mean " + near + "?"
	default:
		words += ": there are " + strings.Join(there, ", ")
	}
	return Apart(UsageError{words}, Parts{Code: CodeNoSuch, Where: where, Met: met, Accepted: there})
}

// Hinted are the command lines that words tell to type.
func (env *Env) Hinted(words string) []string {
	out := []string{}
	for _, h := range env.hints {
		if strings.Contains(words, h) && !slices.Contains(out, h) {
			out = append(out, h)
		}
	}
	if _, typed, ok := strings.Cut(words, "type: "); ok && len(out) == 0 {
		out = append(out, typed)
	}
	return out
}

// Errors that are told by their exit status.
var (
	ErrIntegrity   = errors.New("the record is not intact")
	ErrRefused     = errors.New("refused, for it is not what was asked for")
	ErrPartly      = errors.New("nothing wrong was found, but not everything could be compared")
	ErrInterrupted = errors.New("interrupted")
)

// ExitPartly is the exit status of ErrPartly.
const ExitPartly = 5
