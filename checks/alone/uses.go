package alone

import (
	"maps"
	"slices"

	"handback/checks"
)

// Uses names the earlier checks that a judgement hangs on: without what they came to it
// comes out otherwise.
func Uses(in checks.Input) (out []string) {
	with := in
	with.Before = nil
	as := checks.Judge(in)
	if in.Before == nil || sameFinding(as, checks.Judge(with)) {
		return nil
	}
	all := maps.Collect(in.Before.All())
	for _, id := range slices.Sorted(maps.Keys(all)) {
		without := checks.Pasts(maps.Clone(all))
		delete(without, id)
		with.Before = without
		if !sameFinding(as, checks.Judge(with)) {
			out = append(out, id)
		}
	}
	return out
}

// sameFinding errs on the side of telling two apart.
func sameFinding(a, b checks.Finding) bool {
	if a.Verdict != b.Verdict || len(a.Derived) != len(b.Derived) || !a.Until.Equal(b.Until) || !slices.EqualFunc(a.Reasons, b.Reasons, sameReason) {
		return false
	}
	for i, d := range a.Derived {
		e := b.Derived[i]
		if d.Key != e.Key || !checks.SameNumber(d.Value, e.Value) || !checks.SameNumber(d.U, e.U) || !sameLimit(d.Limit, e.Limit) {
			return false
		}
	}
	return true
}

func sameReason(a, b checks.Reason) bool { return a.Verdict == b.Verdict && a.Same(b.Said) }

func sameLimit(a, b *checks.Limit) bool {
	if a == nil || b == nil {
		return a == b
	}
	return checks.SameNumber(a.Low, b.Low) && checks.SameNumber(a.High, b.High)
}
