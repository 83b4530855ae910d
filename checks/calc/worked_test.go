package calc

import (
	"math"
	"testing"
)

// A solved part is worked out once for each set of numbers it is given: by two values that
// share it, and by a budget only where a reading that it takes is shifted.
func TestBudget_works_out_what_is_shifted(t *testing.T) {
	solved := map[string]int{}
	of := func(name string, args ...*Expr) *Expr {
		return Solve(name, func(x []float64) float64 { solved[name]++; return math.Hypot(x[0], x[1]) }, args...)
	}
	a, b, c, d := leaf("a", "V"), leaf("b", "V"), leaf("c", "V"), leaf("d", "V")
	left, right := of("left", a, b), of("right", c, d)
	readings := Readings{}
	for i, key := range []string{"a", "b", "c", "d"} {
		readings[key] = Source{Label: key, Unit: "V", Of: "voltage", Meter: key, Share: 1, Step: float64(i+1) / 10, Known: true}
	}
	at := from(map[string]float64{"a": 3, "b": 4, "c": 5, "d": 12})
	for range 2 {
		w := WorkOut(left.Add(right), at)
		if b, known := readings.Budget(w); w.Value() != 18 || known != KnownWhole || len(b.Groups) != 4 {
			t.Fatalf("%v, %+v", w.Value(), b)
		}
		// As recorded, and each of its two readings up and down by share and by digits.
		if solved["left"] != 9 || solved["right"] != 9 {
			t.Errorf("worked out %v times, want each 9 times", solved)
		}
	}
}

// What is shared by name and by pointer has one value: shifting a reading moves all that
// hang on it, in a tree small and large.
func TestWorked_shifted(t *testing.T) {
	x, y := leaf("x", "V"), Uncertain("y", 2, 1, 4, "V")
	e := Named("part", "V", x.Mul(x).Add(y))
	for range 6 {
		e = Max(e.Add(x), e).Sub(x.Times(2)).Add(y)
	}
	at := from(map[string]float64{"x": 3, "datum y": math.NaN()})
	w := WorkOut(e, at)
	for _, by := range [][]shift{{{"x", 3, 0.5, 0.25}}, {{"datum y", 2, 2, 1}}, {{"x", 3, 0.5, 0.25}, {"datum y", 2, 2, 1}}, {{"z", 1, 1, 1}}} {
		for _, sign := range []float64{1, -1} {
			if got, want := w.shifted(by, sign), e.Eval(moved(at, by, sign)); got != want {
				t.Errorf("%+v by %v: %v, worked out anew %v", by, sign, got, want)
			}
		}
	}
	if w.Value() != e.Eval(at) {
		t.Errorf("%v once readings stand again, want %v", w.Value(), e.Eval(at))
	}
}
