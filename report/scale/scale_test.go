package scale

import (
	"math"
	"testing"

	"handback/checks"
	"handback/checks/calc"
)

var nan = math.NaN()

// Expected shares worked by hand from the definition.
func TestShareOf(t *testing.T) {
	for _, c := range []struct {
		x, u, low, high float64
		at, from, to    float64
		ok              bool
	}{
		{430, 5, 400, 440, 0.5, 0.25, 0.75, true},
		{400, 0, 400, 440, -1, -1, -1, true},
		{450, nan, 400, 440, 1.5, nan, nan, true},
		{25, 5, nan, 50, 0.5, 0.4, 0.6, true},
		{60, 5, nan, 50, 1.2, 1.1, 1.3, true},
		{-10, 0, nan, 50, -0.2, -0.2, -0.2, true},
		{200, 100, 100, nan, -0.5, -1, -1.0 / 3, true}, // 100 MΩ wanted, 200 read: half of the tolerance used
		{100, 0, 100, nan, -1, -1, -1, true},
		{0, 0, 100, nan, 0, 0, 0, false},
		{5, 0, nan, 0, 0, 0, 0, false},
		{5, 0, nan, nan, 0, 0, 0, false},
		{2, 0, 2, 2, 0, 0, 0, false},
		{nan, 0, 400, 440, 0, 0, 0, false},
		{math.Inf(1), 0, nan, 50, 0, 0, 0, false},
	} {
		s := ShareOf(checks.Derived{Value: c.x, Spread: calc.Spread{U: c.u}, Limit: &checks.Limit{Low: c.low, High: c.high}})
		if s.OK != c.ok || c.ok && !(same(s.At, c.at) && same(s.From, c.from) && same(s.To, c.to)) {
			t.Errorf("%v ± %v in %v to %v: %+v, want %v from %v to %v, %v", c.x, c.u, c.low, c.high, s, c.at, c.from, c.to, c.ok)
		}
	}
	if s := ShareOf(checks.Derived{Value: 2000, Bound: ">", Limit: checks.AtLeast(1000, "plan")}); s.OK || s.Words() != "a bound" {
		t.Errorf("a value known to be above 2000 stands nowhere: %+v", s)
	}
	if s := ShareOf(checks.Derived{Value: 3}); s.OK || s.Words() != "no scale" {
		t.Errorf("without a limit: %+v", s)
	}
}

func same(a, b float64) bool {
	return math.IsNaN(a) && math.IsNaN(b) || math.Abs(a-b) <= 1e-12
}

// Where a value lies within its limits its share is within ±1, and beyond them beyond.
func TestShareOf_agrees_with_the_limits(t *testing.T) {
	seen := 0
	for _, l := range []checks.Limit{{Low: 400, High: 440}, {Low: -1, High: 1}, {Low: nan, High: 50}, {Low: 100, High: nan}} {
		for x := -60.0; x <= 500; x += 0.7 {
			s := ShareOf(checks.Derived{Value: x, Limit: &l})
			if !s.OK {
				continue
			}
			within := !(x < l.Low) && !(x > l.High)
			share := s.At <= 1 && s.At >= -1
			if !s.Low { // without a low limit nothing is too low
				share = s.At <= 1
			}
			if seen++; within != share {
				t.Errorf("%v in %+v: share %v", x, l, s.At)
			}
		}
	}
	if seen < 1000 {
		t.Errorf("%d values compared", seen)
	}
}

func TestAxisStep(t *testing.T) {
	for _, span := range []float64{0.7, 1, 3, 8, 99, 180, 1440, 1e5} {
		step := axisStep(span, 8)
		if n := span / step; !(n <= 8*(1+1e-9) && n > 2.5) {
			t.Errorf("a span of %v has %v steps of %v", span, n, step)
		}
	}
}
