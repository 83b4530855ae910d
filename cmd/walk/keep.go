package walk

import (
	"context"
	"slices"
	"strings"
	"time"
	"unicode"

	"handback/checks"
	"handback/checks/plan"
	"handback/cmd/session"
	"handback/report"
)

// keeping is what an attempt keeps of the one it repeats, when only a joint or a phase of
// it is read again.
type keeping struct {
	check   string
	answers checks.Answers
	again   string // what is read again
}

// repeats reads what stands behind repeat: a reason, or before it the one joint, phase or
// field that alone is taken again. It tells whether the check is repeated.
func (w *walker) repeats(c *plan.Check, rest string) bool {
	part, why, _ := strings.Cut(rest, " ")
	a := w.Job.State(c.ID).LastJudged()
	var again []checks.Field
	if a != nil {
		again = w.partOf(w.Job.Again(w.Job.State(c.ID)).Form(), part)
	}
	if len(again) == 0 || strings.TrimSpace(why) == "" {
		why = rest
		again = nil
	}
	if rest == "" {
		w.in.Refuse("  a repeat needs its reason: repeat WHY\n")
		return false
	}
	if err := session.Reasons(strings.TrimSpace(why)); err != nil {
		w.in.Refuse("  %v\n", err)
		return false
	}
	w.repeatWhy, w.keeping = strings.TrimSpace(why), nil
	if len(again) > 0 {
		w.keep(c, again)
	}
	return true
}

// keep keeps all answers of the newest attempt but those of the fields given.
func (w *walker) keep(c *plan.Check, again []checks.Field) {
	s := w.Job.State(c.ID)
	may := w.Job.MayKeep(s, w.Env.Now())
	k := &keeping{check: c.ID, answers: checks.Answers{}}
	for _, f := range w.Job.Again(s).Form() {
		taken := slices.ContainsFunc(again, func(g checks.Field) bool { return g.Key == f.Key })
		if a, ok := may[f.Key]; ok && !taken {
			k.answers[f.Key] = a
		}
	}
	if len(k.answers) == 0 {
		w.say("  all of it is read again: no reading of it can stay\n")
		return
	}
	shared, labels := session.SharedStart(again)
	k.again = strings.Trim(shared, ":, ")
	if k.again == "" {
		k.again = strings.Join(labels, ", ")
	}
	w.keeping = k
}

// partOf are the fields that a word names: by key, by row, or by the name of a conductor
// or a joint in their label. None when it names all or nothing.
func (w *walker) partOf(form []checks.Field, word string) []checks.Field {
	if word == "" {
		return nil
	}
	named := func(f checks.Field) bool {
		if strings.EqualFold(f.Key, word) || strings.EqualFold(f.Row, word) {
			return true
		}
		parts := strings.FieldsFunc(f.Label, func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) })
		return strings.ContainsAny(word, "0123456789") && (strings.EqualFold(f.Label, word) ||
			slices.ContainsFunc(parts, func(p string) bool { return strings.EqualFold(p, word) }))
	}
	var out []checks.Field
	readings := 0
	for _, f := range form {
		if f.Sort == checks.MeterUsed || f.Sort == checks.Initials || f.Sort == checks.Instant {
			continue
		}
		readings++
		if named(f) {
			out = append(out, f)
		}
	}
	if len(out) == readings {
		return nil
	}
	return out
}

// backAcross goes back from the first line of a check to the last line of the one judged
// before it, while nothing of this one is stored. It needs a reason like any repeat.
func (w *walker) backAcross(ctx context.Context, c *plan.Check) error {
	p := w.last
	stored := len(w.Job.Input(c, w.Env.Now()).Answers) > 0
	if p == nil || p == c || stored || w.Job.HoldAbove(p.ID) != nil || w.Barred(p) != nil || w.Job.State(p.ID).LastJudged().Seq < w.lastStep() {
		w.in.Refuse("  this is the first line of the check; list and go CHECK lead to another\n")
		return nil
	}
	why, err := w.in.Prompt(ctx, "  go back to "+p.ID+", to its last line: type why, or Enter to stay here: ")
	if err != nil || why == "" {
		return err
	}
	if err := session.Reasons(why); err != nil {
		w.in.Refuse("  %v\n", err)
		return nil
	}
	rows := checks.Rows(slices.DeleteFunc(w.Job.Again(w.Job.State(p.ID)).Form(), func(f checks.Field) bool { return f.Known || w.impliedOf(f) != "" }))
	w.repeatWhy, w.keeping = why, nil
	w.keep(p, rows[len(rows)-1])
	return errGo{p}
}

// lastStep is the newest entry that changed the plant.
func (w *walker) lastStep() int {
	seq := 0
	for _, e := range w.Job.Counted() {
		if report.ChangesPlant(e.Kind) {
			seq = e.Seq
		}
	}
	return seq
}

// sameDay tells whether two moments are of one day where the second is.
func sameDay(a, b time.Time) bool {
	return a.In(b.Location()).Format(time.DateOnly) == b.Format(time.DateOnly)
}
