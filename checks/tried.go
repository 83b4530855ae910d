package checks

import "slices"

// The keys of the questions that a plan's function_check adds to a form.
const (
	triedBefore = "tried_before"
	triedAfter  = "tried_after"
)

// tried adds to a form the trial of its first instrument on a known source: before
// the readings, right after the instrument is named, and after the last of them.
func tried(form []Field) []Field {
	at := slices.IndexFunc(form, func(f Field) bool { return f.Sort == MeterUsed })
	if at < 0 {
		return form
	}
	ask := func(key, when string) Field {
		return Field{Key: key, Label: form[at].Label + " read right on a known source " + when, Sort: Choice, Options: YesNo, Need: true,
			Hint: "a self-test does not test the measuring circuit and its leads", Example: "yes"}
	}
	out := slices.Insert(slices.Clone(form), at+1, ask(triedBefore, "before the readings"))
	return append(out, ask(triedAfter, "after the readings"))
}

// functionCheck makes the finding void when the instrument did not read right on a
// known source before or after the readings: nothing it showed between counts.
func (w *Work) functionCheck() {
	if !w.Check.Tried {
		return
	}
	defer func() { w.judged = 0 }() // a sound instrument alone shows nothing of the plant
	for _, t := range []struct{ key, when string }{{triedBefore, "before"}, {triedAfter, "after"}} {
		switch {
		case !w.Has(t.key):
		case w.Word(t.key) == "yes":
			w.Want(WordIs(t.key, "yes").Or(Void, "no"), "tried", Word("when", t.when))
		default:
			w.Want(WordIs(t.key, "yes").Or(Void, "no"), "tried-wrong", Word("when", t.when))
		}
	}
}
