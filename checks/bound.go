package checks

import "math"

// HoldBounded is HoldField for a value that rises with a reading which may be a
// bound, such as ">2 GΩ" or "<6 V". What lies beyond a bound is not known, so:
//
//	>x   passes when x does and there is no upper limit; fails when x is above the upper limit
//	<x   passes when x does and there is no lower limit; fails when x is below the lower limit
//
// Everything else is inconclusive. The name of what a bound gives says so.
func (w *Work) HoldBounded(field, key, name, unit string, e *Expr, l *Limit) Verdict {
	return w.holdBound(w.Answers[field].Bound, field, key, name, unit, e, l)
}

// holdBound is HoldBounded for a value that is itself known to be such a bound,
// "" when it is not.
func (w *Work) holdBound(bound, field, key, name, unit string, e *Expr, l *Limit) Verdict {
	if bound == "" || !w.answered(e) {
		return w.HoldField(field, key, name, unit, e, l)
	}
	known, open := *AtLeast(l.Low, l.Source), *AtMost(l.High, l.Source)
	openLimit := l.High
	if bound == "<" {
		known, open, openLimit = open, known, l.Low
	}
	d := w.derive(key, name+boundWords[bound], unit, e)
	d.Bound = bound
	w.judgeBy(&d, l)
	d.Verdict = Inconclusive
	code := "bound-open"
	switch {
	case math.IsNaN(openLimit) && decide(d.Value, d.U, known, d.Guarded()) == Pass:
		d.Verdict, code = Pass, "bound-within"
	case decide(d.Value, d.U, open, d.Guarded()) == Fail:
		d.Verdict, code = Fail, "bound-beyond"
	}
	w.found.Derived = append(w.found.Derived, d)
	w.sayOf(d, field, code, Shown("name", name), Word("bound", bound))
	return d.Verdict
}

// showBound is Show for a value that may be known as a bound only.
func (w *Work) showBound(bound, key, name, unit string, e *Expr) {
	w.Show(key, name+boundWords[bound], unit, e)
}

var boundWords = map[string]string{"": "", ">": " (lower bound)", "<": " (upper bound)"}

// quotientBound is how the quotient of two positive readings is known, each of
// which may be a bound; ok is false when nothing is known of it.
func quotientBound(over, under Answer) (bound string, ok bool) {
	turned := map[string]string{"": "", ">": "<", "<": ">"}[under.Bound]
	switch {
	case over.Bound == "" || over.Bound == turned:
		return turned, true
	case turned == "":
		return over.Bound, true
	}
	return "", false
}

// holdMost is Hold for the most that a value may be where the readings do not tell it
// better: beyond the limit it leaves it open whether the value is. decides says what
// would decide it.
func (w *Work) holdMost(key, name, unit string, most *Expr, l *Limit, decides Said) Verdict {
	v := w.holdBound("<", "", key, name, unit, most, l)
	if v == Inconclusive {
		last := &w.found.Reasons[len(w.found.Reasons)-1]
		last.Values["decides"] = Inner("", decides).Value
	}
	return v
}
