package trend

import (
	"math"
	"time"

	"handback/checks"
	"handback/checks/quantity"
)

// What a date asks of the values (our choice).
const (
	leastDates  = 3   // values on so many different days
	mostForward = 1.0 // no farther on than so many times the span of the values
)

// reach tells when the line comes to the limit of the newest value, where the values carry
// it: there are three on different days, they follow no bent line, the drift is beyond its
// uncertainty, the interval has two ends, and the date lies no farther on than the values
// span. Nothing else is said to be a date.
func (t *Trend) reach(now time.Time) {
	r := &t.Reach
	if len(t.Used) > 0 {
		r.Limit = t.limit()
		t.moved()
	}
	if r.Why = t.unreached(); !r.Why.None() {
		return
	}
	last := t.newest().At
	span := t.years(last)
	when, from, to, ok := t.line.meets(r.Limit)
	horizon := t.date(span * (1 + mostForward))
	switch {
	case !ok:
		r.Why = checks.Say("reach-open")
		return
	case when > span*(1+mostForward) && from > span*(1+mostForward):
		r.Why = checks.Say("reach-far", checks.Word("horizon", horizon.Format(time.DateOnly)))
		return
	case when > span*(1+mostForward):
		r.Why = checks.Say("reach-far-perhaps", checks.Word("horizon", horizon.Format(time.DateOnly)), checks.Word("from", t.date(from).Format(time.DateOnly)))
		return
	}
	r.OK, r.When, r.From = true, t.date(when), t.date(from)
	late := ""
	if to <= span*(1+mostForward) {
		r.To = t.date(to)
		late = r.To.Format(time.DateOnly)
	}
	code := "reached"
	if !r.From.After(now) {
		code = "reached-perhaps-now"
	}
	r.Why = checks.Say(code, checks.Num("limit", r.Limit, t.Unit), checks.Word("when", r.When.Format(time.DateOnly)),
		checks.Word("from", r.From.Format(time.DateOnly)), checks.Word("to", late), checks.Word("horizon", horizon.Format(time.DateOnly)))
}

// limit is the one of the newest value that the line goes towards; NaN where there is none.
func (t *Trend) limit() float64 {
	switch v := t.newest(); {
	case t.PerYear > 0:
		return v.High
	case t.PerYear < 0:
		return v.Low
	}
	return math.NaN()
}

// unreached is why no date can be said before the line is asked for one.
func (t *Trend) unreached() checks.Said {
	few := checks.Say("reach-few", checks.Num("values", float64(len(t.Used)), ""), checks.Num("days", float64(t.Dates), ""), checks.Num("least", leastDates, ""))
	if len(t.Used) == 0 {
		return few
	}
	v := t.newest()
	beyond := func(x float64) bool { return quantity.Above(x, v.High) || quantity.Below(x, v.Low) }
	on, _, drawn := t.Line(v.At)
	switch {
	case !quantity.Finite(v.Low) && !quantity.Finite(v.High):
		return checks.Say("reach-unlimited")
	case beyond(v.X) || drawn && beyond(on):
		return checks.Say("reach-already")
	case t.Dates < leastDates:
		return few
	case t.bent:
		return checks.Say("reach-bends")
	case !t.Drifts:
		return checks.Say("reach-steady")
	case !quantity.Finite(t.Reach.Limit):
		return checks.Say("reach-away")
	}
	return checks.Said{}
}

// moved says that earlier values were judged by another limit than the newest.
func (t *Trend) moved() {
	is := t.newest()
	same := func(a, b float64) bool { return a == b || math.IsNaN(a) && math.IsNaN(b) }
	for _, i := range t.Used {
		if v := t.Values[i]; !same(v.Low, is.Low) || !same(v.High, is.High) {
			t.say("limit-moved")
			return
		}
	}
}
