package checks

import (
	"testing"

	"handback/checks/calc"
)

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
		d := Derived{Value: c.value, Spread: calc.Spread{U: c.U}, Unit: c.unit, Limit: c.limit}
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
		if got := c.l.Text(c.unit); got != c.want {
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
		{Derived{Name: "U", Value: 252, Spread: calc.Spread{U: 1.8}, Unit: "V", Limit: AtMost(253, "plan"), Verdict: Inconclusive}, RuleGuarded, "U 252.0 ± 1.8 V cannot be told from the limit at most 253 V (plan): the limit lies inside the meter's uncertainty: a more accurate instrument is needed"},
		{Derived{Name: "U", Value: 250, Spread: calc.Spread{U: 1.8}, Unit: "V", Limit: AtMost(253, "plan"), Verdict: Pass}, RuleSimple, "U 250.0 V is at most 253 V (plan)"},
		{Derived{Name: "φ", Value: nan, Spread: calc.Spread{U: nan}, Unit: "°", Limit: AtMost(10, "plan"), Verdict: Inconclusive}, RuleSimple, "φ cannot be worked out from these readings"},
	} {
		c.d.Rule = c.rule
		c.d.Key = "x"
		if got := Wording(nil, Say(c.d.code(), OfValue("value", c.d))); got != c.want {
			t.Errorf("%q, want %q", got, c.want)
		}
	}
}
