package trend

import (
	"math"
	"slices"
	"testing"
	"time"

	"handback/checks"
)

func on(date string) time.Time {
	t, err := time.Parse(time.DateOnly, date)
	if err != nil {
		panic(err)
	}
	return t
}

// joint is a contact resistance in µΩ, measured on the given days with one instrument of
// u = 0.5 µΩ; 40 µΩ is the limit.
func joint(days []string, values ...float64) Series {
	s := Series{Name: "resistance", Unit: "µΩ"}
	for i, x := range values {
		s.Values = append(s.Values, Value{At: on(days[i]), X: x, Standard: 0.5, U: 1, Low: nan, High: 40, Verdict: checks.Pass, Job: days[i], Serial: "MO-12"})
	}
	return s
}

var yearly = []string{"2020-05-01", "2022-05-01", "2024-04-30", "2026-05-01", "2028-04-30"}

func codes(t Trend) (out []string) {
	for _, s := range t.Says {
		out = append(out, s.Code)
	}
	return out
}

// By hand: values 20, 24, 28 and 32 µΩ two years apart lie on a line of 2 µΩ a year, which
// comes to 40 µΩ four years after the last. U of the drift is 2·0.5/√Σ(t−t̄)² = 1/√20 = 0.224.
func TestOf_reached(t *testing.T) {
	got := Of(joint(yearly, 20, 24, 28, 32), on("2026-06-01"))
	if !near(got.PerYear, 2, 1e-3) || !near(got.U, 0.2236, 1e-3) || !got.Drifts {
		t.Errorf("drift %v ± %v, %v: 2 ± 0.2236 by hand", got.PerYear, got.U, got.Drifts)
	}
	if is := got.Reach.When.Format(time.DateOnly); !got.Reach.OK || is < "2030-04-28" || is > "2030-05-03" {
		t.Errorf("limit reached %s (%v): about 2030-05-01 by hand", is, got.Reach.Why)
	}
	if !got.Reach.From.Before(got.Reach.When) || !got.Reach.To.After(got.Reach.When) {
		t.Errorf("from %v to %v about %v", got.Reach.From, got.Reach.To, got.Reach.When)
	}
	if want := []string{"first-changed", "drift", "errors-one", "fits", "reached"}; !slices.Equal(codes(got), want) {
		t.Errorf("says %v, want %v", codes(got), want)
	}
	if c := got.SinceFirst; !near(c.By, 12, 1e-12) || !near(c.U, 2*math.Hypot(0.5, 0.5), 1e-12) || !c.Clear {
		t.Errorf("since the first: %+v", c)
	}
}

// Each reason for which no date is said, and each word of a date.
func TestOf_says(t *testing.T) {
	with := func(s Series, change func(s *Series)) Series { change(&s); return s }
	each := func(change func(v *Value)) func(s *Series) {
		return func(s *Series) {
			for i := range s.Values {
				change(&s.Values[i])
			}
		}
	}
	for name, c := range map[string]struct {
		series Series
		now    string
		says   []string // among what is said
		ok     bool
	}{
		"no value":              {Series{}, "", []string{"no-drift", "reach-few"}, false},
		"one value":             {joint(yearly, 20), "", []string{"no-drift", "reach-few"}, false},
		"two values":            {joint(yearly, 20, 24), "", []string{"drift", "reach-few"}, false},
		"three on two days":     {joint([]string{"2020-05-01", "2020-05-01", "2024-05-01"}, 20, 20.1, 28), "", []string{"drift", "reach-few"}, false},
		"all on one day":        {joint([]string{"2020-05-01", "2020-05-01", "2020-05-01"}, 20, 20.1, 28), "", []string{"no-drift", "reach-few"}, false},
		"steady":                {joint(yearly, 20, 20.4, 19.8, 20.1), "", []string{"first-same", "drift-none", "reach-steady"}, false},
		"away from the limit":   {joint(yearly, 32, 28, 24, 20), "", []string{"drift", "reach-away"}, false},
		"without a limit":       {with(joint(yearly, 20, 24, 28), each(func(v *Value) { v.High = nan })), "", []string{"reach-unlimited"}, false},
		"beyond already":        {joint(yearly, 32, 36, 41), "", []string{"reach-already"}, false},
		"at the limit":          {joint(yearly, 32, 36, 40), "2024-05-02", []string{"reached-perhaps-now"}, true},
		"the line beyond":       {joint(yearly, 34.5, 37, 41, 39.9), "", []string{"reach-already"}, false},
		"bent":                  {joint(yearly, 20, 20.5, 23, 28, 36), "", []string{"bends", "reach-bends"}, false},
		"too far on":            {joint(yearly, 20, 22, 24), "", []string{"reach-far"}, false},
		"too far on, perhaps":   {joint(yearly, 20, 23.4, 27.5), "", []string{"reach-far-perhaps"}, false},
		"soon":                  {joint(yearly, 20, 24, 28, 32), "2031-01-01", []string{"reached-perhaps-now"}, true},
		"the limit was another": {with(joint(yearly, 20, 24, 28, 32), func(s *Series) { s.Values[0].High = 50 }), "", []string{"limit-moved", "reached"}, true},
		"a baseline": {with(joint(yearly, 20, 24, 28, 32), func(s *Series) { s.Base = &Baseline{18, "sheet 12", on("2012-01-01")} }), "",
			[]string{"base-changed"}, true},
		"a bound, a void and a lapsed one": {with(joint(yearly, 20, 24, 28, 32, 36), func(s *Series) {
			s.Values[0].Bound, s.Values[1].Verdict, s.Values[2].Lapsed = "<", checks.Void, true
		}), "", []string{"left-out", "drift", "reach-few"}, false},
		"u not known, two": {with(joint(yearly, 20, 24), each(func(v *Value) { v.Standard = nan })), "", []string{"first-unknown", "drift-unknown", "errors-unknown", "reach-few"}, false},
		"u not known":      {with(joint(yearly, 20, 24.1, 28, 31.9), each(func(v *Value) { v.Standard = nan })), "", []string{"first-unknown", "drift", "errors-unknown", "reached"}, true},
		"two instruments":  {with(joint(yearly, 20, 24, 28, 32), func(s *Series) { s.Values[3].Serial = "MO-14" }), "", []string{"errors-several", "reached"}, true},
		"off the line":     {joint(yearly, 20, 27, 25, 32), "", []string{"fits-badly"}, false},
		"void alone":       {with(joint(yearly, 20), each(func(v *Value) { v.Verdict = checks.Void })), "", []string{"left-out", "no-drift", "reach-few"}, false},
	} {
		now := "2026-06-01"
		if c.now != "" {
			now = c.now
		}
		got := Of(c.series, on(now))
		for _, want := range c.says {
			if !slices.Contains(codes(got), want) {
				t.Errorf("%s: says %v, not %s", name, codes(got), want)
			}
		}
		if got.Reach.OK != c.ok || c.ok == got.Reach.When.IsZero() {
			t.Errorf("%s: a date is said %v (%v), want %v", name, got.Reach.OK, got.Reach.Why, c.ok)
		}
	}
}

// A value taken with an instrument of its own error is not drawn closer by many of them: ten
// values with one instrument and ten with another do not tell a drift from the step between
// the two. Each set errs by u = 0.5, so the means lie 2·√(0.5² + 0.5²) = 1.41 apart by that
// alone; a step of 1.2 is no drift.
func TestOf_instruments(t *testing.T) {
	s := Series{Unit: "µΩ"}
	for i := range 20 {
		v := Value{At: on("2010-05-01").AddDate(i, 0, 0), X: 20, Standard: 0.5, Low: nan, High: 40, Verdict: checks.Pass, Serial: "MO-12"}
		if i >= 10 {
			v.X, v.Serial = 21.2, "MO-14"
		}
		s.Values = append(s.Values, v)
	}
	if got := Of(s, on("2031-01-01")); got.Drifts {
		t.Errorf("drift %v ± %v a year of a step between instruments", got.PerYear, got.U)
	}
	for i := range s.Values {
		s.Values[i].Serial = ""
	}
	if got := Of(s, on("2031-01-01")); !got.Drifts {
		t.Errorf("drift %v ± %v a year, of values that err apart", got.PerYear, got.U)
	}
}
