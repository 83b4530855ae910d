package scale

import (
	"testing"
	"time"

	"handback/checks/trend"
)

// By hand: values of 20 to 32 with U = 1 and a limit of 40 span 19 to 40; six steps of 5 hold
// that, so the frame goes from 15 to 45. A limit of 4000 lies more than ten spans off and is
// left out: 19 to 33 go from 15 to 35.
func TestYearsOf(t *testing.T) {
	day := func(year int) time.Time { return time.Date(year, 5, 1, 0, 0, 0, 0, time.UTC) }
	series := func(limit float64, values ...float64) *trend.Trend {
		s := trend.Series{Unit: "µΩ"}
		for i, x := range values {
			s.Values = append(s.Values, trend.Value{At: day(2020 + 2*i), X: x, Standard: 0.5, U: 1, Low: nan, High: limit})
		}
		is := trend.Of(s, day(2026))
		return &is
	}
	for name, c := range map[string]struct {
		trend           *trend.Trend
		low, high, tick float64
		to, limits      int
	}{
		"rising to a limit":   {series(40, 20, 24, 28, 32), 15, 45, 5, 2031, 1}, // 40 in 2030
		"a limit far off":     {series(4000, 20, 24, 28, 32), 15, 35, 5, 2027, 0},
		"one value":           {series(nan, 20), 18.5, 21.5, 0.5, 2021, 0},
		"no limit, no course": {series(nan, 20, 20, 20), 18.5, 21.5, 0.5, 2025, 0},
	} {
		g, ok := YearsOf(c.trend)
		if !ok || !same(g.Low, c.low) || !same(g.High, c.high) || !same(g.Tick, c.tick) || g.From.Year() != 2020 || g.To.Year() != c.to || len(g.Limits) != c.limits {
			t.Errorf("%s: %+v, %v", name, g, ok)
		}
	}
	if g, ok := YearsOf(series(nan, nan)); ok {
		t.Errorf("nothing to draw: %+v", g)
	}
	if g, ok := YearsOf(series(nan, 0)); !ok || !(g.High > g.Low) {
		t.Errorf("nothing but 0: %+v, %v", g, ok)
	}
	g := YearsGrid{Tick: 0.05}
	if is := g.Mark(20.1); is != "20.10" {
		t.Errorf("a mark among those of 0.05 is %q", is)
	}
}
