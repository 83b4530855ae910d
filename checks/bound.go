package checks

import "handback/checks/calc"

// HoldBounded is HoldField for a value that rises with a reading which may be a
// bound, such as ">2 GΩ" or "<6 V", see Comparison. The name of what a bound gives
// says so.
func (w *Work) HoldBounded(field, key, name, unit string, e *calc.Expr, l *Limit) Verdict {
	return w.HoldBound(w.Answers[field].Bound, field, key, name, unit, e, l)
}

// HoldBound is HoldBounded for a value that is itself known to be such a bound,
// "" when it is not.
func (w *Work) HoldBound(bound, field, key, name, unit string, e *calc.Expr, l *Limit) Verdict {
	if bound == "" || !w.Answered(e) {
		return w.HoldField(field, key, name, unit, e, l)
	}
	d := w.derive(key, name+boundWords[bound], unit, e)
	d.Bound = bound
	w.judgeBy(&d, l)
	d.Verdict = decide(d.Value, d.U, *l, d.Guarded(), bound)
	code := map[Verdict]string{Pass: "bound-within", Fail: "bound-beyond", Inconclusive: "bound-open"}[d.Verdict]
	w.found.Derived = append(w.found.Derived, d)
	w.sayOf(&d, field, code, Shown("name", name), Word("bound", bound))
	return d.Verdict
}

// ShowBound is Show for a value that may be known as a bound only.
func (w *Work) ShowBound(bound, key, name, unit string, e *calc.Expr) {
	before := len(w.found.Derived)
	w.Show(key, name+boundWords[bound], unit, e)
	for i := range w.found.Derived[before:] {
		w.found.Derived[before+i].Bound = bound
	}
}

var boundWords = map[string]string{"": "", ">": " (lower bound)", "<": " (upper bound)"}

// QuotientBound is how the quotient of two positive readings is known, each of
// which may be a bound; ok is false when nothing is known of it.
func QuotientBound(over, under Answer) (bound string, ok bool) {
	turned := map[string]string{"": "", ">": "<", "<": ">"}[under.Bound]
	switch {
	case over.Bound == "" || over.Bound == turned:
		return turned, true
	case turned == "":
		return over.Bound, true
	}
	return "", false
}

// HoldMost is Hold for the most that a value may be where the readings do not tell it
// better: beyond the limit it leaves it open whether the value is. decides says what
// would decide it.
func (w *Work) HoldMost(key, name, unit string, most *calc.Expr, l *Limit, decides Said) Verdict {
	v := w.HoldBound("<", "", key, name, unit, most, l)
	if v == Inconclusive && !w.mute {
		last := &w.found.Reasons[len(w.found.Reasons)-1]
		last.Values = last.Values.with(Inner("decides", decides))
	}
	return v
}

// HoldCondition is HoldField for what a test is taken at, such as its volts, current and
// time: it decides only where it is not met.
func (w *Work) HoldCondition(field, key, name, unit string, e *calc.Expr, l *Limit) Verdict {
	n := len(w.found.Derived)
	v := w.hold(key, name, unit, e, l, field)
	for i := range w.found.Derived[n:] {
		w.found.Derived[n+i].Condition = true
	}
	return v
}
