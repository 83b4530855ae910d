package report_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"handback/checks"
	"handback/checks/plan"
	"handback/report"
	"handback/testdata/rig"
)

// gapsOf tells the gaps of a hold in lines of check, verdict and reason.
func gapsOf(r *rig.Rig, hold string, now time.Time) []string {
	out := []string{}
	for _, g := range r.Job().Gaps(r.Plan.Hold(hold), now) {
		line := fmt.Sprintf("%s %s: %s", g.Check, g.Verdict, g.Why)
		if g.Stop {
			line = "STOP " + line
		}
		out = append(out, line)
	}
	return out
}

// quick has findings of a kind count for ten minutes.
func quick(k *checks.Kind) {
	k.Fresh = func(in checks.Input) time.Time { return in.At.Add(10 * time.Minute) }
}

func concede(r *rig.Rig, check string, attempt int) {
	by := r.By
	r.By = "eva"
	r.Put(report.EntryConcede, check, report.Conceded{Attempt: attempt, Engineer: "eva", Verdict: checks.Fail, Reason: "accepted for the test"})
	r.By = by
}

// step records the step of a hold as taken at a time.
func step(r *rig.Rig, hold string, taken time.Time) {
	r.Put(report.EntryStep, "", report.Stepped{Hold: hold, Action: r.Plan.Hold(hold).Action, Taken: taken.Format(time.RFC3339)})
}

func TestGaps_and_overall(t *testing.T) {
	low, high := rig.Typed{"meter": "dmm", "value": "1.2"}, rig.Typed{"meter": "dmm", "value": "7.1"}
	for _, c := range []struct {
		name    string
		story   func(r *rig.Rig)
		after   time.Duration // asked so long after the last entry
		gaps    []string      // of hold close
		overall string
	}{
		{name: "nothing taken", story: func(r *rig.Rig) {},
			gaps: []string{"volts missing: not taken", "earth-ref missing: not taken"}, overall: "not ready: 6 checks and 1 hold point open"},
		{name: "begun", story: func(r *rig.Rig) { r.Read("earth-ref", rig.Typed{"meter": "dmm"}, nil, "") },
			gaps: []string{"volts missing: not taken", "earth-ref missing: begun, not complete"}, overall: "not ready: 6 checks and 1 hold point open"},
		{name: "skipped", story: func(r *rig.Rig) { r.Put(report.EntrySkip, "earth-ref", report.Skipped{Why: "no lead"}) },
			gaps: []string{"volts missing: not taken", "earth-ref missing: skipped: no lead"}, overall: "not ready: 6 checks and 1 hold point open"},
		{name: "fails", story: func(r *rig.Rig) { r.Take("earth-ref", high) },
			gaps: []string{"volts missing: not taken", "earth-ref fail: neutral to earth volts 7.100 ± 0.066 V is above 5 V (plan)"}, overall: "not ready: 6 checks and 1 hold point open"},
		{name: "fails, conceded", story: func(r *rig.Rig) { r.Take("earth-ref", high); concede(r, "earth-ref", 1) },
			gaps: []string{"volts missing: not taken"}, overall: "not ready: 5 checks and 1 hold point open"},
		{name: "passes, repeat begun", story: func(r *rig.Rig) {
			r.Take("earth-ref", low)
			r.Read("earth-ref", rig.Typed{"meter": "dmm"}, nil, "again")
		},
			gaps: []string{"volts missing: not taken", "earth-ref missing: attempt 2 is begun, not complete"}, overall: "not ready: 6 checks and 1 hold point open"},
		{name: "conceded, repeat begun", story: func(r *rig.Rig) {
			r.Take("earth-ref", high)
			concede(r, "earth-ref", 1)
			r.Read("earth-ref", rig.Typed{"meter": "dmm"}, nil, "again")
		}, gaps: []string{"volts missing: not taken", "earth-ref missing: attempt 2 is begun, not complete"}, overall: "not ready: 6 checks and 1 hold point open"},
		{name: "conceded, then repeated in vain", story: func(r *rig.Rig) {
			r.Read("earth-ref", high, nil, "lead changed")
			r.Judge("earth-ref", "")
			concede(r, "earth-ref", 1)
			r.Read("earth-ref", high, nil, "lead changed")
			r.Judge("earth-ref", "")
		}, gaps: []string{"volts missing: not taken", "earth-ref fail: neutral to earth volts 7.100 ± 0.066 V is above 5 V (plan)"}, overall: "not ready: 6 checks and 1 hold point open"},
		{name: "a stop, conceded", story: func(r *rig.Rig) {
			r.Wrapped("earth-ref", nil, func(w *checks.Work) { w.Stop("do not close: the neutral floats") })
			r.Take("earth-ref", low)
			concede(r, "earth-ref", 1)
		}, gaps: []string{"volts missing: not taken", "STOP earth-ref fail: do not close: the neutral floats"}, overall: "STOP: 1 stop stands, 6 checks open"},
		{name: "a stop, repeat begun", story: func(r *rig.Rig) {
			r.Wrapped("earth-ref", nil, func(w *checks.Work) { w.Stop("do not close: the neutral floats") })
			r.Take("earth-ref", low)
			r.Read("earth-ref", rig.Typed{"meter": "dmm"}, nil, "again")
		}, gaps: []string{"volts missing: not taken", "STOP earth-ref fail: do not close: the neutral floats"}, overall: "STOP: 1 stop stands, 6 checks open"},
		{name: "fresh to the minute", after: 10 * time.Minute, story: func(r *rig.Rig) { r.Wrapped("earth-ref", quick, nil); r.Take("earth-ref", low) },
			gaps: []string{"volts missing: not taken"}, overall: "not ready: 5 checks and 1 hold point open"},
		{name: "stale", after: 10*time.Minute + time.Second, story: func(r *rig.Rig) { r.Wrapped("earth-ref", quick, nil); r.Take("earth-ref", low) },
			gaps: []string{"volts missing: not taken", "earth-ref missing: passed, but was valid only until 07:42:00: take it again"}, overall: "not ready: 6 checks and 1 hold point open"},
		{name: "fresh when the step was taken", after: time.Hour, story: func(r *rig.Rig) {
			r.Wrapped("earth-ref", quick, nil)
			r.Take("earth-ref", low)
			step(r, "close", r.Now.Add(time.Minute))
		}, gaps: []string{"volts missing: not taken"}, overall: "not ready: 5 checks open; 1 point against it"},
		{name: "stale when the step was taken", after: time.Hour, story: func(r *rig.Rig) {
			r.Wrapped("earth-ref", quick, nil)
			r.Take("earth-ref", low)
			step(r, "close", r.Now.Add(11*time.Minute))
		}, gaps: []string{"volts missing: not taken", "earth-ref missing: passed, but was valid only until 07:42:00: take it again"},
			overall: "not ready: 6 checks open; 1 point against it"},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := rig.NewLive(t)
			c.story(r)
			now := r.Now.Add(c.after)
			if diff := cmp.Diff(c.gaps, gapsOf(r, "close", now)); diff != "" {
				t.Errorf("gaps (-want +got):\n%s", diff)
			}
			o := r.Job().Overall(now)
			if o.Words != c.overall || o.Ready {
				t.Errorf("overall %v %q, want %q", o.Ready, o.Words, c.overall)
			}
		})
	}
}

// Setting the clock back makes no pass younger: what valid until 07:42 is stale eleven
// minutes after the clock was set back twice, by twelve minutes in all, to 07:20.
func TestGaps_clockSetBack(t *testing.T) {
	r := rig.NewLive(t)
	r.Wrapped("earth-ref", quick, nil)
	r.Take("earth-ref", rig.Typed{"meter": "dmm", "value": "1.2"})
	for range 2 {
		r.Now = r.Now.Add(-7 * time.Minute) // an entry comes a minute on
		r.Put(report.EntryNote, "", report.Noted{Text: "the clock was put right"})
	}
	fresh := []string{"volts missing: not taken"}
	for after, want := range map[time.Duration][]string{9 * time.Minute: fresh,
		11 * time.Minute: append(fresh, "earth-ref missing: passed, but was valid only until 07:42:00, and the clock was set back 12 min since: take it again")} {
		if diff := cmp.Diff(want, gapsOf(r, "close", r.Now.Add(after))); diff != "" {
			t.Errorf("%s (-want +got):\n%s", after, diff)
		}
	}
}

// A pass counts towards the hold point that needs it: the step of another above, taken
// before it was read, keeps nothing fresh.
func TestGaps_freshForItsOwnHold(t *testing.T) {
	r := rig.New(t, "pump.yaml")
	r.Wrapped("earth-ref", quick, nil)
	r.Take("isolated", rig.Isolated)
	step(r, "energise", r.Now)
	r.Take("earth-ref", rig.Typed{"meter": "dmm", "value": "1.2"})
	want := []string{"volts missing: not taken", "earth-ref missing: passed, but was valid only until " + r.Now.Add(10*time.Minute).Format("15:04:05") + ": take it again"}
	if diff := cmp.Diff(want, gapsOf(r, "close", r.Now.Add(time.Hour))); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
}

// finished takes every check of the plan and both steps; between the checks of the
// dead plant and the first step comes what between does.
func finished(r *rig.Rig, between func()) {
	r.Take("isolated", rig.Isolated)
	r.Take("ir", rig.Insulated)
	between()
	step(r, "energise", r.Now)
	r.Take("hv", rig.Typed{"meter": "vt", "value": "11.20"})
	r.Take("volts", rig.GoodVolts)
	r.Take("earth-ref", rig.Typed{"meter": "dmm", "value": "1.2"})
	step(r, "close", r.Now)
	r.Take("tidy", rig.Typed{"who": "ada", "s1": "yes"})
}

func TestOverall_ready(t *testing.T) {
	r := rig.New(t, "pump.yaml")
	finished(r, func() {})
	if got := r.Job().Overall(r.Now); got.Ready || got.Words != "not ready: 1 check open; 1 point against it" {
		t.Errorf("an instrument out of date, the step taken past it: %+v", got)
	}
	concede(r, "ir", 1)
	if got := r.Job().Overall(r.Now); got.Ready || got.Words != "not ready: 1 point against it" {
		t.Errorf("conceded only after the step: %+v", got)
	}
	r = rig.New(t, "pump.yaml")
	finished(r, func() { concede(r, "ir", 1) })
	if got := r.Job().Overall(r.Now); !got.Ready || got.Words != "ready, with 1 concession" {
		t.Errorf("conceded: %+v", got)
	}
	r = rig.New(t, "pump.yaml")
	r.Plan.Meter("old").Due = rig.Dawn
	finished(r, func() {})
	if got := r.Job().Overall(r.Now); !got.Ready || got.Words != "ready: every check passes" {
		t.Errorf("with an instrument in date: %+v", got)
	}
}

func TestNext_follows_the_plan(t *testing.T) {
	r := rig.New(t, "pump.yaml")
	var got []string
	note := func() {
		it, ok := r.Job().Next(r.Now)
		switch {
		case !ok:
			got = append(got, "end")
		case it.Hold != nil:
			got = append(got, "hold "+it.Hold.ID)
		default:
			got = append(got, it.Check.ID)
		}
	}
	note()
	r.Take("isolated", rig.Isolated)
	note()
	r.Put(report.EntrySkip, "ir", report.Skipped{Why: "no tester"})
	note()
	step(r, "energise", r.Now)
	note()
	r.Read("hv", rig.Typed{"meter": "vt"}, nil, "")
	note()
	r.Read("hv", rig.Typed{"value": "9"}, nil, "")
	r.Want(r.Judge("hv", ""), checks.Fail)
	note()
	r.Take("volts", rig.GoodVolts)
	r.Take("earth-ref", rig.Typed{"meter": "dmm", "value": "1.2"})
	note()
	step(r, "close", r.Now)
	r.Take("tidy", rig.Typed{"who": "ada", "s1": "yes"})
	note()
	want := "isolated, ir, hold energise, hv, hv, volts, hold close, end"
	if diff := cmp.Diff(want, strings.Join(got, ", ")); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
}

func TestHoldAbove_is_the_nearest_untaken(t *testing.T) {
	r := rig.New(t, "pump.yaml")
	id := func(h *plan.Hold) string {
		if h == nil {
			return "none"
		}
		return h.ID
	}
	before := func(r *rig.Rig, id string) string {
		if s := r.Job().StepBefore(id); s != nil {
			return s.ID
		}
		return "none"
	}
	if got := []string{id(r.Job().HoldAbove("isolated")), id(r.Job().HoldAbove("hv")), id(r.Job().HoldAbove("tidy"))}; !cmp.Equal(got, []string{"none", "energise", "energise"}) {
		t.Errorf("before any step: %q", got)
	}
	step(r, "energise", r.Now)
	if got := []string{id(r.Job().HoldAbove("hv")), id(r.Job().HoldAbove("tidy")), before(r, "close")}; !cmp.Equal(got, []string{"none", "close", "none"}) {
		t.Errorf("after the first step: %q", got)
	}
}
