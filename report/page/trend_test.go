package page

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"handback/checks/plan"
	"handback/report"
	"handback/testdata/rig"
)

// hvJob is a job of the pump plan, days after dawn, whose HV volts were read so often.
func hvJob(t *testing.T, days int, change func(*plan.Plan), volts ...string) *report.Job {
	r := rig.New(t, "pump.yaml")
	for _, v := range volts {
		r.Take("hv", rig.Typed{"meter": "vt", "value": v})
	}
	j := r.Job()
	j.ID, j.OpenedAt = fmt.Sprintf("day-%d", days), rig.Dawn.AddDate(0, 0, days)
	if change != nil {
		change(j.Plan)
	}
	return j
}

// trendOf is the trend of the HV volts, in a line.
func trendOf(t *testing.T, now *report.Job, earlier ...*report.Job) string {
	t.Helper()
	d, err := report.NewDocument(now, rig.Dawn.AddDate(1, 0, 0), earlier...)
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range d.Pages() {
		if p.ID != "hv" {
			continue
		}
		if p.Trend == nil {
			return "none"
		}
		var out []string
		for i, job := range p.Trend.Jobs {
			for _, l := range p.Trend.Lines {
				out = append(out, fmt.Sprintf("%s %.0f %s %s", job.Job, l.Values[i], l.Unit, l.Verdicts[i]))
			}
		}
		return strings.Join(out, ", ")
	}
	t.Fatal("no page of check hv")
	return ""
}

func TestTrend(t *testing.T) {
	now := hvJob(t, 100, nil, "11.20")
	elsewhere := func(p *plan.Plan) { p.ID, p.Site = "other", "Another Station" }
	retold := func(p *plan.Plan) { p.ID = "other" }
	moved := func(p *plan.Plan) { p.Check("hv").At = "HV panel of T2" }
	tightened := func(p *plan.Plan) { p.Check("hv").Title = "HV volts of T2" }
	for _, c := range []struct {
		name    string
		earlier []*report.Job
		want    string
	}{
		{"no earlier job", nil, "none"},
		{"the newest attempt of each counts", []*report.Job{hvJob(t, 1, nil, "11.80", "11.10"), hvJob(t, 2, nil, "11.80")},
			"day-1 11100 V pass, day-2 11800 V fail, day-100 11200 V pass"},
		{"another plan for the same site", []*report.Job{hvJob(t, 1, retold, "11.00")}, "day-1 11000 V pass, day-100 11200 V pass"},
		{"another site and plan", []*report.Job{hvJob(t, 1, elsewhere, "11.00")}, "none"},
		{"another place", []*report.Job{hvJob(t, 1, moved, "11.00")}, "none"},
		{"another title", []*report.Job{hvJob(t, 1, tightened, "11.00")}, "none"},
		{"not taken there", []*report.Job{hvJob(t, 1, nil)}, "none"},
		{"the oldest of many go", []*report.Job{hvJob(t, 1, nil, "11.00"), hvJob(t, 2, nil, "11.01"), hvJob(t, 3, nil, "11.02"), hvJob(t, 4, nil, "11.03"), hvJob(t, 5, nil, "11.04"), hvJob(t, 6, nil, "11.05")},
			"day-2 11010 V pass, day-3 11020 V pass, day-4 11030 V pass, day-5 11040 V pass, day-6 11050 V pass, day-100 11200 V pass"},
	} {
		t.Run(c.name, func(t *testing.T) {
			if diff := cmp.Diff(c.want, trendOf(t, now, c.earlier...)); diff != "" {
				t.Errorf("(-want +got):\n%s", diff)
			}
		})
	}
}

func TestPage_shows_the_trend(t *testing.T) {
	d, err := report.NewDocument(hvJob(t, 100, nil, "11.20"), rig.Dawn.Add(time.Hour), hvJob(t, 1, nil, "11.80"))
	if err != nil {
		t.Fatal(err)
	}
	text := pageOf(t, d).text()
	for _, want := range []string{"Earlier jobs on this plant", "day-1 2026-03-03 day-100 2026-06-10", "11800 V fail 11200 V pass −600 V 10500 to 11500 V (plan)",
		"day-1: 11800 V, fail. day-100: 11200 V, pass. Limit of this job: 10500 to 11500 V (plan)."} {
		if !strings.Contains(text, want) {
			t.Errorf("not on the page: %q", want)
		}
	}
}
