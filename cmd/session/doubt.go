package session

import (
	"slices"

	"handback/checks"
	"handback/checks/plan"
)

// Reasons refuses those given that say nothing; an empty one was not given.
func Reasons(given ...string) error {
	for _, text := range given {
		if text == "" {
			continue
		}
		if err := plan.Reasoned(text); err != nil {
			return UsageError{err.Error()}
		}
	}
	return nil
}

// MissingKeys are the fields that must be answered and are not.
func MissingKeys(in checks.Input) []string {
	var out []string
	for _, f := range in.Form() {
		if _, ok := in.Answers[f.Key]; !ok && f.Need {
			out = append(out, f.Key)
		}
	}
	return out
}

// OpenFields are the fields of a check that have no answer yet, none of a step.
func (s *Session) OpenFields(id string) []checks.Field {
	c := s.Job.Plan.Check(id)
	if c == nil {
		return nil
	}
	in := s.Job.Input(c, s.Env.Now())
	return slices.DeleteFunc(in.Form(), func(f checks.Field) bool {
		_, told := in.Answers[f.Key]
		return told || f.Known
	})
}

// Complete tells whether answers can be judged: all that is needed is there, or what
// is there stops the work already.
func Complete(in checks.Input) bool {
	return len(MissingKeys(in)) == 0 || len(in.StopsAtOnce()) > 0
}

// KeepDoubted marks those of the new answers, already among in's, that an open
// doubt names as kept for a reason; all of them where it names only older ones.
func KeepDoubted(in checks.Input, got checks.Answers, why string) {
	for _, d := range OpenDoubts(in) {
		named := slices.ContainsFunc(d.Fields, func(k string) bool { _, ok := got[k]; return ok })
		for k, a := range got {
			if !named || slices.Contains(d.Fields, k) {
				a.Kept = why
				got[k], in.Answers[k] = a, a
			}
		}
	}
}

// OpenDoubts are the doubts in which no reading was kept on purpose.
func OpenDoubts(in checks.Input) []checks.Doubt {
	var out []checks.Doubt
	for _, d := range in.Doubts() {
		kept := false
		for _, k := range d.Fields {
			kept = kept || in.Answers[k].Kept != ""
		}
		if !kept {
			out = append(out, d)
		}
	}
	return out
}
