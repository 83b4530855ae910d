package report_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"handback/checks"
	"handback/report"
	"handback/testdata/rig"
)

// soaks is a plan with two checks that are read over hours.
const soaks = `handback: 1
id: soaks
title: Two windings on load
site: An invented station
work: Both back on load
people: [{id: ada, name: Ada Example, role: technician}]
instruments:
  - {id: th, name: thermometer, serial: X1, due: 2027-01-31, ranges: [{to: 200 °C, resolution: 0.1 °C, reading: 0.1 %, digits: 1}]}
steps:
  - {check: slow, kind: soak, instrument: th, given: {point: core, limit: 130 °C, every: 60 min, readings: 4}}
  - {check: quick, kind: soak, instrument: th, given: {point: winding, limit: 130 °C, every: 20 min, readings: 4}}
  - {check: look, kind: confirm, given: {statements: [Fans run]}}
  - {hold: release, action: Hand over, needs: [quick]}
`

// A check between its readings is passed over until its next one is due; the one
// due soonest is named, however the plan orders them.
func TestNext_passes_over_what_is_not_due(t *testing.T) {
	r := rig.Of(t, "soaks.yaml", []byte(soaks))
	at := func(d time.Duration) string {
		t.Helper()
		j, now := r.Job(), r.Now.Add(d)
		next, waiting := "end", "none"
		if it, ok := j.Next(now); ok && it.Check != nil {
			next = it.Check.ID
		} else if ok {
			next = it.Hold.ID
		}
		if s, due, ok := j.Waiting(now); ok {
			waiting = s.Check.ID + " " + due.Format("15:04")
		}
		return next + ", waiting " + waiting
	}
	want := func(what, got, want string) {
		t.Helper()
		if got != want {
			t.Errorf("%s: %q, want %q", what, got, want)
		}
	}
	until := func(clock string) time.Duration { // from now
		t.Helper()
		c, err := time.Parse("15:04", clock)
		if err != nil {
			t.Fatal(err)
		}
		y, m, d := r.Now.Date()
		return time.Date(y, m, d, c.Hour(), c.Minute(), 0, 0, r.Now.Location()).Sub(r.Now)
	}
	row := func(check string, k int) {
		r.Read(check, rig.Typed{fmt.Sprintf("t%d_at", k): r.Now.Format(time.RFC3339), fmt.Sprintf("t%d_temp", k): fmt.Sprint(60 - 40/(int(1)<<(k-1))), fmt.Sprintf("t%d_load", k): "640"}, nil, "")
	}
	want("nothing begun", at(0), "slow, waiting none")
	r.Read("slow", rig.Typed{"meter": "th"}, nil, "") // 07:31
	want("the instrument named", at(0), "slow, waiting none")
	row("slow", 1)                                     // read at 07:31
	r.Read("quick", rig.Typed{"meter": "th"}, nil, "") // 07:33
	row("quick", 1)                                    // read at 07:33
	want("both begun", at(0), "look, waiting quick 07:53")
	r.Take("look", rig.Typed{"who": "ada", "s1": "yes"})
	want("only the hold is open", at(0), "release, waiting quick 07:53")
	want("a moment before", at(until("07:53")-time.Minute-time.Second), "release, waiting quick 07:53")
	want("due within a minute", at(until("07:53")-time.Minute), "quick, waiting slow 08:31")
	want("both due", at(until("08:31")), "slow, waiting none")

	gaps := r.Job().Gaps(r.Plan.Hold("release"), r.Now)
	if len(gaps) != 1 || gaps[0].Why != "begun, not complete: the next line falls due at 2026-03-02 07:53" {
		t.Errorf("gaps %+v", gaps)
	}
	r.Put(report.EntrySkip, "quick", report.Skipped{Why: "thermometer is needed elsewhere"})
	want("quick skipped", at(0), "release, waiting slow 08:31")
	for k := 2; k <= 4; k++ {
		row("quick", k)
	}
	want("all read, not judged", at(0), "quick, waiting slow 08:31")
	r.Judge("quick", "")
	want("judged", at(0), "release, waiting slow 08:31")
	r.Read("quick", rig.Typed{"meter": "th"}, nil, "once more")
	row("quick", 1)
	again := r.Job().Gaps(r.Plan.Hold("release"), r.Now)
	if len(again) != 1 || again[0].Verdict != checks.Missing || !strings.HasPrefix(again[0].Why, "attempt 2 is begun, not complete: the next line falls due at ") {
		t.Errorf("gaps while it is repeated %+v", again)
	}
}
