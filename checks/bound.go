package checks

import "math"

// HoldBounded is HoldField for a value that rises with a reading which may be a
// bound, such as ">2 GΩ" or "<6 V". What lies beyond a bound is not known, so:
//
//	>x   passes when x does and there is no upper limit; fails when x is above the upper limit
//	<x   passes when x does and there is no lower limit; fails when x is below the lower limit
//
// Everything else is inconclusive.
func (w *Work) HoldBounded(field, key, name, unit string, e *Expr, l *Limit) Verdict {
	bound := w.Answers[field].Bound
	if bound == "" || !w.answered(e) {
		return w.HoldField(field, key, name, unit, e, l)
	}
	known, open := *AtLeast(l.Low, l.Source), *AtMost(l.High, l.Source)
	openLimit := l.High
	if bound == "<" {
		known, open, openLimit = open, known, l.Low
	}
	d := w.derive(key, name, unit, e)
	d.Limit = l
	guarded := w.guards(e)
	if guarded {
		w.found.Rule = "guarded"
	}
	d.Verdict = Inconclusive
	how := "leaves it open whether the value is"
	switch {
	case math.IsNaN(openLimit) && decide(d.Value, d.U, known, guarded) == Pass:
		d.Verdict, how = Pass, "is"
	case decide(d.Value, d.U, open, guarded) == Fail:
		d.Verdict, how = Fail, "is not"
	}
	w.found.Derived = append(w.found.Derived, d)
	w.Say(d.Verdict, field, "%s %s%s %s %s", name, bound, d.number()+withUnit(unit), how, l.text(unit))
	return d.Verdict
}
