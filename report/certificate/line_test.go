package certificate

import (
	"slices"
	"testing"

	"handback/checks"
	"handback/report"
)

// A failed value decides before one that passes nearer its limit; a pass is decided by the
// value nearest its limit; without a number the points are counted.
func TestLines(t *testing.T) {
	near := checks.Derived{Name: "L1", Value: 432.6, Unit: "V", Limit: checks.Between(360, 440, "plan"), Verdict: checks.Pass}
	far := checks.Derived{Name: "L2", Value: 410, Unit: "V", Limit: checks.Between(360, 440, "plan"), Verdict: checks.Pass}
	out := checks.Derived{Name: "u2", Value: 0.654, Unit: "%", Limit: checks.AtMost(0.5, "owner's standard"), Verdict: checks.Fail}
	shown := checks.Derived{Name: "mean", Value: 430, Unit: "V"}
	large := checks.Derived{Name: "HV to earth", Value: 3.7e9, Unit: "Ω", Limit: checks.AtLeast(1e9, "owner's standard"), Verdict: checks.Pass}
	yes := report.Reason{Verdict: checks.Pass, Words: "rotation is forward"}
	no := report.Reason{Verdict: checks.Fail, Words: "coupler is not closed"}
	for name, c := range map[string]struct {
		verdict                       checks.Verdict
		derived                       []checks.Derived
		reasons                       []report.Reason
		decided, value, limit, margin string
	}{
		"pass":           {checks.Pass, []checks.Derived{far, near, shown}, nil, "L1", "432.6 V", "360 to 440 V", "7.4 V"},
		"fail":           {checks.Fail, []checks.Derived{near, out}, nil, "u2", "0.65 %", "at most 0.5 %", "−0.15 %"},
		"large":          {checks.Pass, []checks.Derived{large}, nil, "HV to earth", "3.7 GΩ", "at least 1 GΩ", "2.7 GΩ"},
		"answer":         {checks.Pass, []checks.Derived{shown}, []report.Reason{yes}, "rotation is forward", "", "", ""},
		"answers":        {checks.Pass, nil, []report.Reason{yes, yes}, "all 2 as required", "", "", ""},
		"answer not met": {checks.Fail, []checks.Derived{near}, []report.Reason{yes, no}, "1 condition not met", "", "", ""},
	} {
		t.Run(name, func(t *testing.T) {
			a := report.AttemptPage{Judged: true, Verdict: c.verdict, Derived: c.derived, Reasons: c.reasons}
			d := &report.Document{Groups: []report.Group{{Checks: []report.CheckPage{{ID: "x", Verdict: c.verdict, Attempts: []report.AttemptPage{a}}}}}}
			l := Lines(d)[0]
			if len(l.Changes) > 0 {
				t.Errorf("changes without a baseline: %q", l.Changes)
			}
			if l.Decided != c.decided || l.Value != c.value || l.Limit != c.limit || l.Margin != c.margin {
				t.Errorf("got %q, %q, limit %q, margin %q", l.Decided, l.Value, l.Limit, l.Margin)
			}
		})
	}
}

// A change from the plan's baseline stands beside what decided, a rise with its sign.
func TestLines_changes(t *testing.T) {
	change := func(x float64) checks.Derived {
		return checks.Derived{Name: "R, change (was 0.8412 Ω, factory, 2019-03-02)", Value: x, Unit: "%", Since: &checks.Since{Key: "r"}}
	}
	a := report.AttemptPage{Judged: true, Verdict: checks.Pass, Derived: []checks.Derived{{Name: "R", Value: 0.845, Unit: "Ω"}, change(0.4), change(-0.4), change(0)}}
	d := &report.Document{Groups: []report.Group{{Checks: []report.CheckPage{{ID: "x", Verdict: checks.Pass, Attempts: []report.AttemptPage{a}}}}}}
	name := "R, change (was 0.8412 Ω, factory, 2019-03-02) "
	if got := Lines(d)[0].Changes; !slices.Equal(got, []string{name + "+0.4 %", name + "−0.4 %", name + "0 %"}) {
		t.Errorf("%q", got)
	}
}
