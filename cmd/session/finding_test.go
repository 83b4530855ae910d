package session

import (
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"handback/checks"
	_ "handback/checks/kinds"
	"handback/checks/plan"
	"handback/testdata/demo"
)

var passes = regexp.MustCompile(`passes (\S+) to (\S+)`)

// Every target that is printed as passing does pass at both its ends, and many times the
// upper one no longer: the uncertainty of the instrument is in it. Of a torque of 39 N·m
// within 10 % the ends are worked out by hand: the wrench is off by at most 3 % of reading
// and half a digit, 0.1 N·m, so that 35.1 ≤ x − (0.03x + 0.1) and x + (0.03x + 0.1) ≤
// 42.9 give 36.29 to 41.55, and 36.3 to 41.5 in tenths.
func TestTargets(t *testing.T) {
	p, err := plan.Load("plan.yaml", demo.Plan)
	if err != nil {
		t.Fatal(err)
	}
	at := time.Date(2026, 5, 12, 9, 0, 0, 0, time.UTC)
	seen := map[string]bool{}
	for _, c := range p.Checks() {
		in := checks.Input{Plan: p, Check: c, Answers: checks.Answers{}, Before: checks.Pasts{}, At: at}
		for _, f := range in.Form() {
			if f.Sort == checks.MeterUsed && f.Default != "" {
				in.Answers[f.Key] = checks.Answer{Typed: f.Default, Word: f.Default}
			}
		}
		for _, row := range checks.Rows(in.Form()) {
			for i, text := range Targets(in, row) {
				seen[c.ID+": "+text] = true
				ends := passes.FindStringSubmatch(text)
				if ends == nil {
					continue
				}
				for _, end := range ends[1:] {
					if v := alone(t, in, row[i], end); v != checks.Pass {
						t.Errorf("%s, %s: %q, but %s comes to %s", c.ID, row[i].Label, text, end, v)
					}
				}
				more := ends[2] + "0" // ten times as much, or a thousand times where it has three decimals
				if strings.Contains(ends[2], ".") {
					more = strings.Replace(ends[2], ".", "", 1)
				}
				if alone(t, in, row[i], more) == checks.Pass {
					t.Errorf("%s, %s: %q, but %s passes too", c.ID, row[i].Label, text, more)
				}
			}
		}
	}
	for _, want := range []string{"links: 39, passes 36.3 to 41.5 N·m", "dead-lv: dead; above 50 V stop", "insulation: passes 5000 to 6250 V", "joint-ohms: from 50 A", "restore: 20 planned", "taps: planned 3"} {
		if !seen[want] {
			t.Errorf("no target %q", want)
		}
	}
}

// alone is the worst verdict on one field by itself.
func alone(t *testing.T, in checks.Input, f checks.Field, typed string) checks.Verdict {
	t.Helper()
	a, err := checks.ParseAnswer(f, in.Plan, strings.Replace(typed, "−", "-", 1), in.At)
	if err != nil {
		t.Fatalf("%s: %v", typed, err)
	}
	answers := checks.Answers{f.Key: a}
	for k, v := range in.Answers {
		answers[k] = v
	}
	in.Answers = answers
	said := []checks.Verdict{checks.Pass}
	for _, r := range checks.Judge(in).Reasons {
		if slices.Equal(r.Fields, []string{f.Key}) {
			said = append(said, r.Verdict)
		}
	}
	return checks.Worst(said...)
}

// The targets of a row are said once where they are the same; where they differ each has
// its own, what is only expected in brackets, and the unit once.
func TestSharedTarget(t *testing.T) {
	row := []checks.Field{{Unit: "V"}, {Unit: "V"}}
	for _, c := range []struct {
		targets []string
		want    string
	}{
		{[]string{"430, passes 425.8 to 434.1 V", "430, passes 425.8 to 434.1 V"}, "430, passes 425.8 to 434.1 V"},
		{[]string{"0, passes 0 to 4.78 V", "431.6, expected 426.6 to 436.6 V"}, "0, passes 0 to 4.78; 431.6 (426.6 to 436.6) V"},
		{[]string{"45 V", ""}, ""},
	} {
		if got := SharedTarget(row, c.targets); got != c.want {
			t.Errorf("%q, want %q", got, c.want)
		}
	}
}
