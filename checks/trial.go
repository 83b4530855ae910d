package checks

import (
	"fmt"
	"maps"
	"slices"

	"handback/checks/plan"
)

// JudgeTrial judges the checks of a trial in order, each knowing those before it,
// and gives the input and finding of the last. The error names the check and
// field of an answer that cannot be read.
func JudgeTrial(t *plan.Trial) (Input, Finding, error) {
	before := Pasts{}
	var in Input
	var f Finding
	for _, c := range t.Plan.Checks() {
		in = Input{Plan: t.Plan, Check: c, Answers: Answers{}, Before: before, At: t.At}
		form := in.Form()
		for _, key := range slices.Sorted(maps.Keys(t.Answers[c.ID])) { // the same error in every run
			typed := t.Answers[c.ID][key]
			field, ok := FieldNamed(form, key)
			if !ok {
				return in, f, fmt.Errorf("check %s: unknown field %q%s", c.ID, key, plan.Nearest(key, KeysOf(form)))
			}
			a, err := ParseAnswer(field, t.Plan, typed, t.At)
			if err != nil {
				return in, f, fmt.Errorf("check %s: %w", c.ID, err)
			}
			a.Kept = t.Kept[c.ID][key]
			in.Answers[key] = a
		}
		f = Judge(in)
		before[c.ID] = Past{Answers: in.Answers, Finding: f, At: t.At}
	}
	delete(before, in.Check.ID)
	return in, f, nil
}
