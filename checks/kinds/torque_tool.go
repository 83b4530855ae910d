package kinds

import (
	"math"

	"handback/checks"
	"handback/checks/plan"
	"handback/checks/quantity"
)

// A torque tool is used from a fifth of its top range up to the top: ISO 6789
// has it verified at 20, 60 and 100 % of the maximum.
const leastOfRange = 0.20

// torqueError is Range.error, but where the plan states no accuracy the largest
// deviation ISO 6789 lets a tool have stands in for it: ±6 % of the reading for
// a maximum of 10 N·m or less, ±4 % above. assumed tells that it did.
//
// The stand-in only makes judging stricter: without any accuracy the plain
// limits would hold.
func torqueError(r plan.Range, x float64) (gain, step float64, assumed bool) {
	gain, span, step, known := r.ErrorAt(x)
	if known {
		return gain, span + step, false
	}
	return assumedShare(r) / 100 * math.Abs(x), step, true
}

func assumedShare(r plan.Range) float64 {
	if quantity.NotAbove(r.To.Value, 10) {
		return 6
	}
	return 4
}

// holdsTorque tells whether a torque lies in the usable part of the range.
func holdsTorque(r plan.Range, x float64) bool {
	return quantity.NotBelow(x, leastOfRange*r.To.Value) && quantity.NotAbove(x, r.To.Value)
}

// accepted are the readings that pass a limit drawn in by U, which for a reading x is
// its half-width a = g·x + s:
//
//	(low + s)/(1 − g) ≤ x ≤ (high − s)/(1 + g)
//
// low above high means that no reading passes.
func accepted(r plan.Range, l *checks.Limit) (low, high float64) {
	g, s, _ := torqueError(r, 1)
	return (l.Low + s) / (1 - g), (l.High - s) / (1 + g)
}
