package report_test

import (
	"fmt"
	"maps"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"handback/checks"
	"handback/report"
	"handback/testdata/rig"
)

// flagLines tells flags in lines: entry, check, what, OPEN, words.
func flagLines(flags []report.Flag) []string {
	out := []string{}
	for _, f := range flags {
		open := ""
		if f.Open {
			open = " OPEN"
		}
		out = append(out, fmt.Sprintf("%d %s %s%s: %s", f.Seq, f.Check, f.What, open, f.Text))
	}
	return out
}

func TestFlags(t *testing.T) {
	low, high := rig.Typed{"meter": "dmm", "value": "1.2"}, rig.Typed{"meter": "dmm", "value": "7.1"}
	const above = "neutral to earth volts 7.100 ± 0.066 V is above 5 V (plan)"
	for _, c := range []struct {
		name  string
		story func(r *rig.Rig)
		after time.Duration
		want  []string
	}{
		{name: "a plain pass", story: func(r *rig.Rig) { r.Take("earth-ref", low) }, want: []string{}},
		{name: "failed", story: func(r *rig.Rig) { r.Take("earth-ref", high) },
			want: []string{"3 earth-ref not passed OPEN: attempt 1: fail: " + above}},
		{name: "failed and repeated", story: func(r *rig.Rig) {
			r.Take("earth-ref", high)
			r.Read("earth-ref", low, nil, "loose lead")
			r.Judge("earth-ref", "")
		}, want: []string{"3 earth-ref not passed: attempt 1: fail: " + above, "4 earth-ref repeat: attempt 2: loose lead"}},
		{name: "conceded", story: func(r *rig.Rig) { r.Take("earth-ref", high); concede(r, "earth-ref", 1) },
			want: []string{"3 earth-ref not passed: attempt 1: fail: " + above, "4 earth-ref concession: Eva Muster accepted fail of attempt 1: accepted for the test; unsigned"}},
		{name: "conceded, then repeated in vain", story: func(r *rig.Rig) {
			r.Take("earth-ref", high)
			concede(r, "earth-ref", 1)
			r.Read("earth-ref", high, nil, "lead changed")
			r.Judge("earth-ref", "")
		},
			want: []string{"3 earth-ref not passed: attempt 1: fail: " + above, "5 earth-ref repeat: attempt 2: lead changed", "6 earth-ref not passed OPEN: attempt 2: fail: " + above,
				"4 earth-ref concession: Eva Muster accepted fail of attempt 1: accepted for the test; unsigned"}},
		{name: "a stop stays open whoever concedes", story: func(r *rig.Rig) {
			r.Wrapped("earth-ref", nil, func(w *checks.Work) { w.Stop("do not close") })
			r.Take("earth-ref", low)
			concede(r, "earth-ref", 1)
		}, want: []string{"3 earth-ref stop OPEN: attempt 1: fail: do not close", "4 earth-ref concession: Eva Muster accepted fail of attempt 1: accepted for the test; unsigned"}},
		{name: "kept", story: func(r *rig.Rig) {
			r.Read("earth-ref", low, rig.Typed{"value": "it is so"}, "")
			r.Judge("earth-ref", "")
		}, want: []string{`2 earth-ref kept reading OPEN: attempt 1: value "1.2" was stored although in doubt: it is so`}},
		{name: "corrected", story: func(r *rig.Rig) {
			r.Take("earth-ref", low)
			r.Put(report.EntryCorrect, "earth-ref", report.Corrected{Attempt: 1, Answers: r.Answers("earth-ref", rig.Typed{"value": "1.3"}, nil), Why: "misread"})
			r.Judge("earth-ref", "after a correction")
		}, want: []string{`4 earth-ref correction: attempt 1: value was "1.2", is "1.3": misread`}},
		{name: "corrected and left", story: func(r *rig.Rig) {
			r.Take("earth-ref", low)
			r.Put(report.EntryCorrect, "earth-ref", report.Corrected{Attempt: 1, Answers: r.Answers("earth-ref", rig.Typed{"value": "1.3"}, nil), Why: "misread"})
		}, want: []string{`4 earth-ref correction: attempt 1: value was "1.2", is "1.3": misread`, "4 earth-ref not complete OPEN: attempt 1 was corrected and not judged again"}},
		{name: "skipped", story: func(r *rig.Rig) { r.Put(report.EntrySkip, "tidy", report.Skipped{Why: "later"}) }, want: []string{"2 tidy skipped OPEN: skipped: later"}},
		{name: "begun", story: func(r *rig.Rig) { r.Read("earth-ref", rig.Typed{"meter": "dmm"}, nil, "") }, want: []string{"2 earth-ref not complete OPEN: attempt 1 is begun, not complete"}},
		{name: "begun behind a hold that nobody recorded", story: func(r *rig.Rig) { r.Read("tidy", rig.Typed{"who": "ada"}, nil, "") },
			want: []string{"2 tidy out of order OPEN: attempt 1: the step of hold close above it was not done", "2 tidy not complete OPEN: attempt 1 is begun, not complete"}},
		{name: "past a hold", story: func(r *rig.Rig) {
			r.Put(report.EntryRead, "earth-ref", report.Read{Attempt: 1, Answers: r.Answers("earth-ref", low, nil), PastHold: "the panel was alive"})
			r.Judge("earth-ref", "")
		}, want: []string{"2 earth-ref past a hold OPEN: attempt 1 was read behind a hold point that stood: the panel was alive"}},
		{name: "a step over gaps", story: func(r *rig.Rig) {
			r.Take("earth-ref", low)
			step(r, "close", r.Now)
		}, want: []string{"4  past a hold OPEN: the step close was done while it waited for volts"}},
		{name: "stale", after: time.Hour, story: func(r *rig.Rig) { r.Wrapped("earth-ref", quick, nil); r.Take("earth-ref", low) },
			want: []string{"3 earth-ref stale OPEN: passed, but was valid only until 2026-03-02 07:42:00 +01:00"}},
		{name: "read with an instrument that was found bad", story: func(r *rig.Rig) {
			r.Take("earth-ref", low)
			r.Put(report.EntryBad, "", report.FoundBad{Serial: "EX-100", Since: rig.Dawn.Format(time.RFC3339), Why: "a fuse was open"})
		}, want: []string{"3 earth-ref lapsed OPEN: attempt 1 was taken with dmm (serial EX-100), found bad: a fuse was open; take it again with another instrument",
			"4  instrument found bad: serial EX-100, its readings from 2026-03-02 07:30:00 +01:00 on do not count: a fuse was open"}},
		{name: "rests on a reading of an instrument that was found bad", story: func(r *rig.Rig) {
			r.Take("hv", rig.Typed{"meter": "vt", "value": "11.20"})
			r.Take("volts", rig.GoodVolts)
			r.Put(report.EntryBad, "", report.FoundBad{Serial: "EX-200", Since: rig.Dawn.Format(time.RFC3339), Why: "a fuse was open"})
		}, want: []string{"3 hv lapsed OPEN: attempt 1 was taken with vt (serial EX-200), found bad: a fuse was open; take it again with another instrument",
			"5 volts lapsed OPEN: attempt 1 rests on a reading of hv, taken with an instrument (serial EX-200) found bad: a fuse was open; take hv again",
			"6  instrument found bad: serial EX-200, its readings from 2026-03-02 07:30:00 +01:00 on do not count: a fuse was open"}},
		{name: "clock set back", story: func(r *rig.Rig) {
			r.Now = r.Now.Add(-time.Hour)
			r.Put(report.EntryNote, "", report.Noted{Text: "x"})
		}, want: []string{"2  clock OPEN: its time 2026-03-02T06:31:00+01:00 is 59m0s before that of entry 1; the clock was set back or is wrong"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := rig.NewLive(t)
			if c.name == "past a hold" {
				r = rig.New(t, "pump.yaml")
			}
			c.story(r)
			if diff := cmp.Diff(c.want, flagLines(r.Job().Flags(r.Now.Add(c.after)))); diff != "" {
				t.Errorf("(-want +got):\n%s", diff)
			}
		})
	}
}

// Work on dead plant must wait for a proof that has passed and was not overtaken by
// one that did not.
func TestFlags_dead_before_proof(t *testing.T) {
	no := maps.Clone(rig.Isolated)
	no["s1"] = "no"
	for _, c := range []struct {
		name  string
		story func(r *rig.Rig)
		want  bool
	}{
		{"before any proof", func(r *rig.Rig) { r.Take("ir", rig.Insulated) }, true},
		{"after the proof", func(r *rig.Rig) { r.Take("isolated", rig.Isolated); r.Take("ir", rig.Insulated) }, false},
		{"after a proof that failed", func(r *rig.Rig) { r.Take("isolated", no); r.Take("ir", rig.Insulated) }, true},
		{"after a proof begun", func(r *rig.Rig) { r.Read("isolated", rig.Isolated, nil, ""); r.Take("ir", rig.Insulated) }, true},
		{"read before, judged after", func(r *rig.Rig) {
			r.Read("ir", rig.Insulated, nil, "")
			r.Take("isolated", rig.Isolated)
			r.Judge("ir", "")
		}, true},
		{"proved, then proved otherwise", func(r *rig.Rig) {
			r.Take("isolated", rig.Isolated)
			r.Take("isolated", no)
			r.Take("ir", rig.Insulated)
		}, true},
		{"proved, and failed only later", func(r *rig.Rig) {
			r.Take("isolated", rig.Isolated)
			r.Take("ir", rig.Insulated)
			r.Take("isolated", no)
		}, false},
		{"proof judged again later", func(r *rig.Rig) {
			r.Take("isolated", rig.Isolated)
			r.Take("ir", rig.Insulated)
			r.Judge("isolated", "after a correction")
		}, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := rig.New(t, "pump.yaml")
			r.Wrapped("isolated", func(k *checks.Kind) { k.Proves = true }, nil)
			r.Wrapped("ir", func(k *checks.Kind) { k.Dead = true }, nil)
			c.story(r)
			got := false
			for _, f := range r.Job().Flags(r.Now) {
				got = got || f.What == report.FlagOrder && f.Check == "ir" && f.Open
			}
			if got != c.want {
				t.Errorf("flagged %v, want %v: %q", got, c.want, flagLines(r.Job().Flags(r.Now)))
			}
		})
	}
}

func TestFlags_name_what_was_judged_otherwise(t *testing.T) {
	r := rig.New(t, "pump.yaml")
	r.Read("earth-ref", rig.Typed{"meter": "dmm", "value": "7.1"}, nil, "")
	r.Put(report.EntryJudge, "earth-ref", report.Judged{Attempt: 1, Verdict: checks.Pass, Reasons: []report.Reason{}, Values: map[string]float64{}})
	flags := r.Job().Flags(r.Now)
	want := report.Flag{What: report.FlagRecomputed, Open: true, Text: "entry 3, check earth-ref attempt 1: recorded as pass, judged again it comes to fail"}
	if diff := cmp.Diff(want, flags[len(flags)-1]); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
	if got := r.Job().State("earth-ref").Verdict(); got != checks.Fail {
		t.Errorf("verdict %s: what was recorded must not decide", got)
	}
}
