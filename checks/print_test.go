package checks

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
		if got := significant(c.x, c.n); got != c.want {
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

func TestDerived_Text(t *testing.T) {
	for _, c := range []struct {
		value, U float64
		unit     string
		limit    *Limit
		want     string
	}{
		{440.872727, nan, "V", nil, "440.9 V"},
		{440.872727, 0, "V", nil, "440.9 V"},
		{440.872727, 2.6, "V", nil, "440.9 ± 2.6 V"},
		{255, 1.818653, "V", Between(216.2, 253, ""), "255.0 ± 1.8 V"},
		{23, 0.479, "V", nil, "23.00 ± 0.48 V"},
		{400, 12.34, "V", nil, "400 ± 12 V"},
		{nan, nan, "V", nil, "not a number"},
	} {
		d := Derived{Value: c.value, Spread: Spread{U: c.U}, Unit: c.unit, Limit: c.limit}
		if got := d.Text(); got != c.want {
			t.Errorf("%v ± %v prints %q, want %q", c.value, c.U, got, c.want)
		}
	}
}

func TestLimit_text(t *testing.T) {
	for _, c := range []struct {
		l    *Limit
		unit string
		want string
	}{
		{Between(216.2, 253, "GB 230 V"), "V", "216.2 to 253 V (GB 230 V)"},
		{Between(-1, 1, "plan"), "%", "±1 % (plan)"},
		{AtMost(2, ""), "%", "at most 2 %"},
		{AtLeast(100e6, "plan"), "Ω", "at least 100000000 Ω (plan)"},
	} {
		if got := c.l.text(c.unit); got != c.want {
			t.Errorf("%+v prints %q, want %q", *c.l, got, c.want)
		}
	}
	if got := (Derived{}).LimitText(); got != "" {
		t.Errorf("no limit prints %q", got)
	}
}

// No sentence shows a value that reads like the limit it is beyond.
func TestDerived_sentence(t *testing.T) {
	for _, c := range []struct {
		d    Derived
		rule string
		want string
	}{
		{Derived{Name: "u2", Value: 2.0004, Unit: "%", Limit: AtMost(2, "plan"), Verdict: Fail}, RuleSimple, "u2 2.0004 % is above 2 % (plan)"},
		{Derived{Name: "R", Value: 0.9999, Unit: "Ω", Limit: AtLeast(1, "plan"), Verdict: Fail}, RuleSimple, "R 0.9999 Ω is below 1 Ω (plan)"},
		{Derived{Name: "d", Value: -2, Unit: "%", Limit: Between(-1, 1, "plan"), Verdict: Fail}, RuleSimple, "d −2 % is beyond ±1 % (plan)"},
		{Derived{Name: "U", Value: 252, Spread: Spread{U: 1.8}, Unit: "V", Limit: AtMost(253, "plan"), Verdict: Inconclusive}, RuleGuarded, "U 252.0 ± 1.8 V cannot be told from the limit at most 253 V (plan): the meter's uncertainty straddles it"},
		{Derived{Name: "U", Value: 250, Spread: Spread{U: 1.8}, Unit: "V", Limit: AtMost(253, "plan"), Verdict: Pass}, RuleSimple, "U 250.0 V is at most 253 V (plan)"},
		{Derived{Name: "φ", Value: nan, Spread: Spread{U: nan}, Unit: "°", Limit: AtMost(10, "plan"), Verdict: Inconclusive}, RuleSimple, "φ cannot be worked out from these readings"},
	} {
		c.d.Rule = c.rule
		c.d.Key = "x"
		if got := told(nil, Say(c.d.code(), ofValue("value", c.d))); got != c.want {
			t.Errorf("%q, want %q", got, c.want)
		}
	}
}
