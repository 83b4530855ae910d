package checks

import (
	"maps"
	"math"

	"handback/checks/quantity"
)

// Passing is the part of what a field is expected to read that passes by the limits of
// the field itself, uncertainty of its instrument included, in the field's base unit. It
// is found by judging it alone, so that what is held against readings beside it does not
// count. judged is false where nothing decides at the ends, which then only say what
// is expected. NaN stands where no reading passes because the uncertainty of the
// instrument leaves no room.
func (in Input) Passing(f Field) (low, high float64, judged bool) {
	e := f.Expect
	if e == nil || f.Sort != Measured {
		return math.NaN(), math.NaN(), false
	}
	if !f.Need { // what may be left out is judged with what stands beside it
		return e.Low, e.High, false
	}
	in.Answers = maps.Clone(in.Answers)
	unit := quantity.BaseUnit(quantity.QuantityOf(f.Unit))
	passes := in.passesAlone(f.Key, unit)
	inside := passing(passes, e)
	if math.IsNaN(inside) {
		passes(e.Value)
		if in.unsureAlone(f.Key) {
			return inside, inside, true
		}
		return e.Low, e.High, false
	}
	beyond := (e.High - e.Low) / 1000
	low, high = edge(passes, inside, e.Low), edge(passes, inside, e.High)
	judged = low != e.Low || high != e.High || !passes(low-beyond) || !passes(high+beyond)
	return low, high, judged
}

// PassingFrom is the least value that passes where a field is held from below alone, or
// the greatest where from above, uncertainty included, in base units. NaN where no
// reading near the limit passes.
func (in Input) PassingFrom(f Field) float64 {
	in.Answers = maps.Clone(in.Answers)
	passes := in.passesAlone(f.Key, quantity.BaseUnit(quantity.QuantityOf(f.Unit)))
	limit := f.Side.Low
	if math.IsNaN(limit) {
		limit = f.Side.High
	}
	if passes(limit) {
		return limit
	}
	for _, far := range []float64{1.5, 10, 1000} {
		inside := limit * far
		if math.IsNaN(f.Side.Low) {
			inside = limit / far
		}
		if passes(inside) {
			return edge(passes, inside, limit)
		}
	}
	return math.NaN()
}

// passesAlone tells of a value whether the limits of the one field let it pass.
func (in Input) passesAlone(key, unit string) func(x float64) bool {
	return func(x float64) bool {
		in.Answers[key] = Answer{Value: x, Unit: unit}
		for _, r := range Decided(in).Reasons {
			if len(r.Fields) == 1 && r.Fields[0] == key && r.Verdict != Pass {
				return false
			}
		}
		return true
	}
}

// unsureAlone tells whether it is for its uncertainty alone that a field does not pass.
func (in Input) unsureAlone(key string) bool {
	for _, r := range Decided(in).Reasons {
		if len(r.Fields) == 1 && r.Fields[0] == key && r.Verdict != Pass && r.Code != "not-told" {
			return false
		}
	}
	return true
}

// passing is a value that passes: the one expected, or one of some between the ends.
func passing(passes func(float64) bool, e *Expect) float64 {
	if passes(e.Value) {
		return e.Value
	}
	const steps = 16
	for i := range steps + 1 {
		if x := e.Low + (e.High-e.Low)*float64(i)/steps; passes(x) {
			return x
		}
	}
	return math.NaN()
}

// edge is the last value that passes on the way from one that does to an end.
func edge(passes func(float64) bool, inside, end float64) float64 {
	if passes(end) {
		return end
	}
	out := end
	for range 24 { // finer than any reading
		if mid := (inside + out) / 2; passes(mid) {
			inside = mid
		} else {
			out = mid
		}
	}
	return inside
}
