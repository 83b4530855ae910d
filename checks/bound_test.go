package checks

import (
	"math"
	"testing"

	"handback/checks/calc"
	"handback/checks/plan"
)

// What a bound leaves no doubt of, on each side of each sort of limit.
func TestHoldBounded(t *testing.T) {
	none := math.NaN()
	for _, c := range []struct {
		typed     string
		low, high float64
		want      Verdict
	}{
		{">2", 1, none, Pass}, {">1", 1, none, Pass}, {">0.5", 1, none, Inconclusive},
		{"<2", 1, none, Inconclusive}, {"<0.5", 1, none, Fail}, {"<1", 1, none, Inconclusive},
		{"<2", none, 3, Pass}, {"<3", none, 3, Pass}, {"<4", none, 3, Inconclusive},
		{">4", none, 3, Fail}, {">3", none, 3, Inconclusive}, {">2", none, 3, Inconclusive},
		{">2", 1, 3, Inconclusive}, {"<2", 1, 3, Inconclusive}, {">4", 1, 3, Fail}, {"<0.5", 1, 3, Fail},
		{"2", 1, 3, Pass}, {"4", 1, 3, Fail}, {">2", none, none, Inconclusive},
	} {
		f := Field{Key: "x", Label: "x", Sort: Measured, Unit: "V", Bounds: true}
		p := &plan.Plan{}
		a, err := ParseAnswer(f, p, c.typed, noon)
		if err != nil {
			t.Fatal(err)
		}
		w := &Work{Input: Input{Plan: p, Answers: Answers{"x": a}}, form: []Field{f}, sources: map[string]calc.Source{}}
		if got := w.HoldBounded("x", "x", "x", "V", w.Read("x"), Between(c.low, c.high, "test")); got != c.want {
			t.Errorf("%s within %v to %v: %s, want %s", c.typed, c.low, c.high, got, c.want)
		}
	}
}

// What is known of x/y when x, y or both are read as bounds: by hand from what
// each bound leaves possible.
func TestQuotientBound(t *testing.T) {
	for _, c := range []struct {
		over, under, want string
		ok                bool
	}{
		{"", "", "", true}, {">", "", ">", true}, {"<", "", "<", true}, {"", ">", "<", true}, {"", "<", ">", true},
		{">", "<", ">", true}, {"<", ">", "<", true}, {">", ">", "", false}, {"<", "<", "", false},
	} {
		got, ok := QuotientBound(Answer{Bound: c.over}, Answer{Bound: c.under})
		if got != c.want || ok != c.ok {
			t.Errorf("%sx/%sy: %q %v, want %q %v", c.over, c.under, got, ok, c.want, c.ok)
		}
	}
}
