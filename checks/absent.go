package checks

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"handback/checks/plan"
)

// notThere are the words that answer for a point which does not exist, the reason
// behind them.
const notThere = "not there"

// sortsThere are the sorts of fields about something on the plant, which may not exist.
// Instruments, people and words are none.
var sortsThere = []Sort{Measured, Choice, Instant, Count}

// absent reads "not there: WHY". Such an answer holds no reading: what it is about stays
// open for the engineer, and never passes.
func (a *Answer) absent(f Field) (bool, error) {
	rest, ok := cutNotThere(a.Typed)
	if !ok || !slices.Contains(sortsThere, f.Sort) {
		return false, nil
	}
	if rest == "" {
		return false, fmt.Errorf("%q needs its reason: %s: WHY", a.Typed, notThere)
	}
	a.NotThere = rest
	return true, plan.Reasoned(rest)
}

func cutNotThere(typed string) (why string, ok bool) {
	if len(typed) < len(notThere) || !strings.EqualFold(typed[:len(notThere)], notThere) {
		return "", false
	}
	rest := typed[len(notThere):]
	if rest != "" && rest[0] != ' ' && rest[0] != ':' {
		return "", false
	}
	return strings.TrimSpace(strings.TrimPrefix(strings.TrimSpace(rest), ":")), true
}

// CutAbsent parts a typed line before the first "not there": what follows those words is
// one value to its end. absent is "" where they do not stand.
func CutAbsent(typed string) (before, absent string) {
	i := strings.Index(strings.ToLower(typed), notThere)
	if i < 0 || i > 0 && typed[i-1] != ' ' || len(strings.ToLower(typed)) != len(typed) {
		return typed, ""
	}
	if _, ok := cutNotThere(typed[i:]); !ok {
		return typed, ""
	}
	return strings.TrimSpace(typed[:i]), typed[i:]
}

// There are the answers about what exists; a judgement looks at no others.
func (a Answers) There() Answers {
	for _, is := range a {
		if is.NotThere != "" {
			out := maps.Clone(a)
			maps.DeleteFunc(out, func(_ string, is Answer) bool { return is.NotThere != "" })
			return out
		}
	}
	return a
}

func (in Input) there() Input {
	in.Answers = in.Answers.There()
	return in
}
