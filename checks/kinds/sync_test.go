package kinds

import (
	"testing"
	"time"

	"handback/checks"
	"handback/checks/plan"
	"handback/testdata/cases"
)

// A sync check holds for its minutes from the time it was taken; a clock that
// runs ahead does not make it hold longer.
func TestSync_goesStale(t *testing.T) {
	f := cases.Read(t, "sync")
	for _, c := range []struct {
		name  string
		set   map[string]any
		until string
	}{
		{"five minutes from its time (common practice)", map[string]any{"answers.at": "09:58"}, "10:03:00"},
		{"the plan's minutes", map[string]any{"answers.at": "09:58", "given.fresh": "10 min"}, "10:08:00"},
		{"a time ahead of the clock", map[string]any{"answers.at": "10:06"}, "10:05:00"},
		{"a dead side", map[string]any{"answers.at": "09:58", "answers.state": deadLine}, "10:03:00"},
	} {
		t.Run(c.name, func(t *testing.T) {
			trial, err := plan.LoadTrial("sync.json", f.Trial(t, c.set))
			if err != nil {
				t.Fatal(err)
			}
			_, found, err := checks.JudgeTrial(trial)
			if err != nil {
				t.Fatal(err)
			}
			if got := found.Until.Format(time.TimeOnly); got != c.until {
				t.Errorf("good until %s, want %s", got, c.until)
			}
		})
	}
}

// An angle taken from volts across is as old as those: the check holds from the
// time they were read, and from its own where it read angle or poles itself.
func TestSync_goesStaleWithTheVoltsAcross(t *testing.T) {
	f := cases.Read(t, "sync")
	var set map[string]any
	for _, c := range f.Cases {
		if c.Name == "angle from the volts across" {
			set = c.Set
		}
	}
	trial, err := plan.LoadTrial("sync.json", f.Trial(t, set))
	if err != nil {
		t.Fatal(err)
	}
	in, found, err := checks.JudgeTrial(trial)
	if err != nil || found.Verdict != checks.Pass {
		t.Fatalf("%s, %v", found.Verdict, err)
	}
	across := in.Came("across")
	for _, c := range []struct {
		read, until string
		verdict     checks.Verdict
	}{{"09:55:30", "10:00:30", checks.Pass}, {"09:54:30", "09:59:30", checks.Inconclusive}, {"09:59:00", "10:03:00", checks.Pass}} {
		read, err := time.Parse(time.DateTime, "2026-03-02 "+c.read)
		if err != nil {
			t.Fatal(err)
		}
		across.At = read
		in.Before.(checks.Pasts)["across"] = across
		found := checks.Judge(in)
		if got := found.Until.Format(time.TimeOnly); got != c.until || found.Verdict != c.verdict {
			t.Errorf("volts across read at %s: good until %s, %s, want %s, %s; %q", c.read, got, found.Verdict, c.until, c.verdict, found.Reasons)
		}
	}
	delete(in.Before.(checks.Pasts), "across")
	if got := checks.Judge(in); got.Verdict != checks.Missing || !cases.AnyReason("sync", got, "was not taken") {
		t.Errorf("without the volts across: %s, %q", got.Verdict, got.Reasons)
	}
}
