package checks

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"handback/checks/calc"
	"handback/checks/quantity"
)

var nan = math.NaN()

// ILAC-G8:09/2019 with guard band w = U, and limits that include their own value.
func TestDecide(t *testing.T) {
	gb := *Between(216.2, 253, "GB 230 V")
	for _, c := range []struct {
		name    string
		x, U    float64
		limit   Limit
		guarded bool
		want    Verdict
	}{
		{"simple, inside", 250, 1.79, gb, false, Pass},
		{"simple, at the upper limit", 253, 1.8, gb, false, Pass},
		{"simple, at the lower limit", 216.2, 1.8, gb, false, Pass},
		{"simple, above", 253.1, 1.8, gb, false, Fail},
		{"simple, below", 216.1, 1.8, gb, false, Fail},
		{"simple, uncertainty unknown", 250, nan, gb, false, Pass},
		{"within a binary fraction of the limit", 40 * 1.1, 0, *AtMost(44, ""), false, Pass},
		{"beyond the slack", 44 * (1 + 2e-9), 0, *AtMost(44, ""), false, Fail},
		{"negative limit, at it", -1, 0, *Between(-1, 1, ""), false, Pass},
		{"negative limit, beyond it", -1.001, 0, *Between(-1, 1, ""), false, Fail},
		// 216.2 to 253.0 V, ±(0.5 % + 3 digits of 0.1 V): accept to 251.44, reject above 254.57 (worked by hand).
		{"guarded, accepted", 250, 1.55, gb, true, Pass},
		{"guarded, straddles the upper limit", 252, 1.56, gb, true, Inconclusive},
		{"guarded, rejected", 255, 1.575, gb, true, Fail},
		{"guarded, straddles the lower limit", 217, 1.385, gb, true, Inconclusive},
		{"guarded, rejected below", 214, 1.37, gb, true, Fail},
		{"guarded, at the acceptance limit", 9, 1, *AtMost(10, ""), true, Pass},
		{"guarded, at the rejection limit", 11, 1, *AtMost(10, ""), true, Inconclusive},
		{"guarded, just past the rejection limit", 11.0001, 1, *AtMost(10, ""), true, Fail},
		{"guarded, no error at all", 10.1, 0, *AtMost(10, ""), true, Fail},
		{"guarded, band narrower than the uncertainty", 10, 3, *Between(9, 11, ""), true, Inconclusive},
		{"guarded, uncertainty unknown", 10, nan, *AtMost(11, ""), true, Inconclusive},
		{"guarded, uncertainty without end", 10, math.Inf(1), *AtMost(11, ""), true, Inconclusive},
		{"no limit", 10, 0, *Between(nan, nan, ""), false, Inconclusive},
		{"no value", nan, 0, gb, false, Inconclusive},
		{"no end above", math.Inf(1), 0, *AtLeast(1, ""), false, Inconclusive},
		{"no end below", math.Inf(-1), 0, *AtMost(1, ""), false, Inconclusive},
	} {
		if got := Decide(c.x, c.U, c.limit, c.guarded); got != c.want {
			t.Errorf("%s: %v ± %v against %v to %v comes to %s, want %s", c.name, c.x, c.U, c.limit.Low, c.limit.High, got, c.want)
		}
	}
}

// Guarding only ever turns a pass or a failure into inconclusive.
func TestDecide_guardNeverFlips(t *testing.T) {
	v := rapid.Float64Range(-1000, 1000)
	rapid.Check(t, func(r *rapid.T) {
		x, U, a, b := v.Draw(r, "x"), math.Abs(v.Draw(r, "U")), v.Draw(r, "a"), v.Draw(r, "b")
		l := *Between(math.Min(a, b), math.Max(a, b), "")
		simple, guarded := Decide(x, U, l, false), Decide(x, U, l, true)
		if guarded != Inconclusive && guarded != simple {
			r.Errorf("%v ± %v against %v to %v: %s guarded, %s simple", x, U, l.Low, l.High, guarded, simple)
		}
		// A guard band no wider than the relative slack of a limit guards nothing.
		felt := U > 1e3*quantity.Slack*math.Max(math.Abs(l.Low), math.Abs(l.High))
		s := calc.Spread{Standard: U / 2, Most: U * rapid.Float64Range(1, 20).Draw(r, "most"), U: U}
		if guarded == Pass && felt && !(chanceOut(x, s, l) <= 0.0456) {
			r.Errorf("passes with a chance of %v of being out", chanceOut(x, s, l))
		}
	})
}

func TestChanceOut(t *testing.T) {
	// A sum of very many errors is normal: the shape that has u = 1 within ±1000.
	normal := func(u float64) calc.Spread { return calc.Spread{Standard: u, Most: 1000 * u, U: 2 * u} }
	one := rectangles([]float64{1})
	for _, c := range []struct {
		name   string
		x      float64
		s      calc.Spread
		limit  Limit
		want   float64
		within float64
	}{
		{"normal 10 ± 0.4, limits 9 to 11 (published)", 10, normal(0.4), *Between(9, 11, ""), 0.01242, 5e-6},
		{"normal 10.5 ± 0.4, limits 9 to 11 (published)", 10.5, normal(0.4), *Between(9, 11, ""), 0.10574, 5e-5},
		{"JCGM 106:2012 oil example, 12.5 to 16.3, 13.6, u 1.8 (from memory): 0.66 conforming", 13.6, normal(1.8), *Between(12.5, 16.3, ""), 0.34, 5e-3},
		{"at the acceptance limit, w = U with k = 2: 2.275 % (normal table)", 8, normal(1), *AtMost(10, ""), 0.0227501, 1e-6},
		{"at the limit: one half", 10, one, *AtMost(10, ""), 0.5, 1e-15},
		{"a rectangle of which a quarter is out", 9.5, one, *AtMost(10, ""), 0.25, 1e-15},
		{"a rectangle that touches the limit", 9, one, *AtMost(10, ""), 0, 0},
		{"11 426 V ± 67 V against 11 500 V: no error reaches it", 11426, rectangles([]float64{67}), *AtMost(11500, ""), 0, 0},
		{"two like rectangles: a triangle, of which (2 − 1)²/8 is beyond 1", 9, rectangles([]float64{1, 1}), *AtMost(10, ""), 0.125, 0.005},
		{"no error, inside", 10, calc.Spread{}, *AtMost(10, ""), 0, 0},
		{"no error, outside", 10.1, calc.Spread{}, *AtMost(10, ""), 1, 0},
		{"far inside: nobody knows a chance of 1e-87", 0, normal(0.5), *AtMost(10, ""), 0, 0},
		{"far outside", 100, normal(1), *AtMost(10, ""), 1, 1e-12},
	} {
		if got := chanceOut(c.x, c.s, c.limit); !(math.Abs(got-c.want) <= c.within) {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
		}
	}
	for name, got := range map[string]float64{
		"value":       chanceOut(nan, one, *AtMost(1, "")),
		"uncertainty": chanceOut(1, calc.UnknownSpread, *AtMost(1, "")),
		"limit":       chanceOut(1, one, *Between(nan, nan, "")),
	} {
		if !math.IsNaN(got) {
			t.Errorf("without %s the chance is %v, want not a number", name, got)
		}
	}
}
