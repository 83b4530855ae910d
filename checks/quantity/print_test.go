package quantity

import (
	"math"
	"testing"
)

func TestSignificant(t *testing.T) {
	for _, c := range []struct {
		x    float64
		n    int
		want string
	}{
		{0, 6, "0"}, {math.Copysign(0, -1), 6, "0"}, {440.872727, 6, "440.873"}, {440.9, 6, "440.9"}, {-3.5, 6, "−3.5"},
		{1234567, 6, "1234570"}, {11000, 6, "11000"}, {2e9, 6, "2000000000"}, {0.000022, 6, "0.000022"}, {1.5e-9, 6, "1.5e-09"}, {3e15, 6, "3e15"},
		{100, 2, "100"}, {0.0618, 2, "0.062"}, {nan, 6, "not a number"}, {math.Inf(1), 6, "beyond all numbers"},
	} {
		if got := Significant(c.x, c.n); got != c.want {
			t.Errorf("%v to %d digits prints %q, want %q", c.x, c.n, got, c.want)
		}
	}
}

func TestDecimals(t *testing.T) {
	for _, c := range []struct {
		x      float64
		limits []float64
		want   int
	}{
		{440.9, nil, 1}, {44.06, nil, 2}, {4.4, nil, 2}, {11000, nil, 0}, {0, nil, 0}, {0.0123, nil, 3}, {0.553219, []float64{5}, 2},
		{253.0, []float64{216.2, 253}, 1},    // equal to a limit: no digit would tell them apart
		{252.96, []float64{216.2, 253}, 2},   // 253.0 would read as the limit
		{253.0004, []float64{216.2, 253}, 4}, // beyond by a hair, and seen to be
		{2.0004, []float64{nan, 2}, 4},       // a side without limit does not matter
		{44 * (1 + 1e-12), []float64{44}, 2}, // the same within the slack
		{-0.9996, []float64{-1, 1}, 4},
		{nan, []float64{1}, 0}, {math.Inf(1), []float64{1}, 0}, {1, []float64{math.Inf(1)}, 2},
	} {
		if got := Decimals(c.x, c.limits...); got != c.want {
			t.Errorf("%v against %v wants %d decimals, not %d", c.x, c.limits, c.want, got)
		}
	}
}

func TestShow(t *testing.T) {
	for _, c := range []struct {
		x        float64
		unit     string
		decimals int
		want     string
	}{
		{440.87, "V", 1, "440.9 V"}, {-5, "°", 1, "−5.0°"}, {1, "", 2, "1.00"}, {3, "1", 0, "3"}, {-0.001, "V", 2, "0.00 V"}, {-0.006, "V", 2, "−0.01 V"},
		{nan, "V", 1, "not a number"}, {math.Inf(-1), "V", 1, "beyond all numbers"},
		{999999999999, "Ω", 0, "999999999999 Ω"}, {-1.5e102, "V", 0, "−1.5e102 V"},
	} {
		if got := Show(c.x, c.unit, c.decimals); got != c.want {
			t.Errorf("%v prints %q, want %q", c.x, got, c.want)
		}
	}
}

var nan = math.NaN()

// Figures told together take one larger unit (prefixes: SI brochure, 9th edition, table 7),
// the one that suits the smallest of those that need it.
func TestLarger(t *testing.T) {
	for _, c := range []struct {
		unit    string
		figures []float64
		want    string
		holds   float64
	}{
		{"Ω", []float64{850e6, 1e6}, "MΩ", 1e6},
		{"Ω", []float64{0.5e6, 1e6}, "MΩ", 1e6},
		{"Ω", []float64{10e9}, "GΩ", 1e9},
		{"Ω", []float64{-2e6, math.NaN(), math.Inf(1)}, "MΩ", 1e6},
		{"W", []float64{1.2e6}, "MW", 1e6},
		{"Ω", []float64{999_999, 3}, "Ω", 1},
		{"Ω", []float64{1e102}, "Ω", 1}, // no prefix tells that
		{"", []float64{2e6}, "", 1},
		{"%", []float64{2e6}, "%", 1},
		{"V", nil, "V", 1},
	} {
		if unit, holds := Larger(c.unit, c.figures...); unit != c.want || holds != c.holds {
			t.Errorf("%v %s are told in %s of %v, want %s", c.figures, c.unit, unit, holds, c.want)
		}
	}
}
