package report

import (
	"fmt"
	"maps"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"handback/checks"
)

// flagLines tells flags in lines: entry, check, what, OPEN, words.
func flagLines(flags []Flag) []string {
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
	low, high := typed{"meter": "dmm", "value": "1.2"}, typed{"meter": "dmm", "value": "7.1"}
	const above = "neutral to earth volts 7.100 ± 0.066 V is above 5 V (plan)"
	for _, c := range []struct {
		name  string
		story func(r *rig)
		after time.Duration
		want  []string
	}{
		{name: "a plain pass", story: func(r *rig) { r.take("earth-ref", low) }, want: []string{}},
		{name: "failed", story: func(r *rig) { r.take("earth-ref", high) },
			want: []string{"3 earth-ref not passed OPEN: attempt 1: fail: " + above}},
		{name: "failed and repeated", story: func(r *rig) {
			r.take("earth-ref", high)
			r.read("earth-ref", low, nil, "loose lead")
			r.judge("earth-ref", "")
		}, want: []string{"3 earth-ref not passed: attempt 1: fail: " + above, "4 earth-ref repeat: attempt 2: loose lead"}},
		{name: "conceded", story: func(r *rig) { r.take("earth-ref", high); concede(r, "earth-ref", 1) },
			want: []string{"3 earth-ref not passed: attempt 1: fail: " + above, "4 earth-ref concession: Eva Muster accepted fail of attempt 1: accepted for the test"}},
		{name: "conceded, then repeated in vain", story: func(r *rig) {
			r.take("earth-ref", high)
			concede(r, "earth-ref", 1)
			r.read("earth-ref", high, nil, "lead changed")
			r.judge("earth-ref", "")
		},
			want: []string{"3 earth-ref not passed: attempt 1: fail: " + above, "5 earth-ref repeat: attempt 2: lead changed", "6 earth-ref not passed OPEN: attempt 2: fail: " + above,
				"4 earth-ref concession: Eva Muster accepted fail of attempt 1: accepted for the test"}},
		{name: "a stop stays open whoever concedes", story: func(r *rig) {
			r.wrapped("earth-ref", nil, func(w *checks.Work) { w.Stop("do not close") })
			r.take("earth-ref", low)
			concede(r, "earth-ref", 1)
		}, want: []string{"3 earth-ref stop OPEN: attempt 1: fail: do not close", "4 earth-ref concession: Eva Muster accepted fail of attempt 1: accepted for the test"}},
		{name: "kept", story: func(r *rig) {
			r.read("earth-ref", low, typed{"value": "it is so"}, "")
			r.judge("earth-ref", "")
		}, want: []string{`2 earth-ref kept reading OPEN: attempt 1: value "1.2" was kept: it is so`}},
		{name: "corrected", story: func(r *rig) {
			r.take("earth-ref", low)
			r.put(KindCorrect, "earth-ref", Corrected{1, r.answers("earth-ref", typed{"value": "1.3"}, nil), "misread"})
			r.judge("earth-ref", "after a correction")
		}, want: []string{`4 earth-ref correction: attempt 1: value was "1.2", is "1.3": misread`}},
		{name: "corrected and left", story: func(r *rig) {
			r.take("earth-ref", low)
			r.put(KindCorrect, "earth-ref", Corrected{1, r.answers("earth-ref", typed{"value": "1.3"}, nil), "misread"})
		}, want: []string{`4 earth-ref correction: attempt 1: value was "1.2", is "1.3": misread`, "4 earth-ref not complete OPEN: attempt 1 was corrected and not judged again"}},
		{name: "skipped", story: func(r *rig) { r.put(KindSkip, "tidy", Skipped{"later"}) }, want: []string{"2 tidy skipped OPEN: skipped: later"}},
		{name: "begun", story: func(r *rig) { r.read("earth-ref", typed{"meter": "dmm"}, nil, "") }, want: []string{"2 earth-ref not complete OPEN: attempt 1 is begun, not complete"}},
		{name: "begun behind a hold that nobody recorded", story: func(r *rig) { r.read("tidy", typed{"who": "ada"}, nil, "") },
			want: []string{"2 tidy out of order OPEN: attempt 1: the step of hold close above it was not taken", "2 tidy not complete OPEN: attempt 1 is begun, not complete"}},
		{name: "past a hold", story: func(r *rig) {
			r.put(KindRead, "earth-ref", Read{Attempt: 1, Answers: r.answers("earth-ref", low, nil), PastHold: "the panel was alive"})
			r.judge("earth-ref", "")
		}, want: []string{"2 earth-ref past a hold OPEN: attempt 1 was read behind a hold point that stood: the panel was alive"}},
		{name: "a step over gaps", story: func(r *rig) {
			r.take("earth-ref", low)
			r.step("close", r.now)
		}, want: []string{"4  past a hold OPEN: the step of hold close was taken while it waited for volts"}},
		{name: "stale", after: time.Hour, story: func(r *rig) { r.wrapped("earth-ref", nil, quick); r.take("earth-ref", low) },
			want: []string{"3 earth-ref stale OPEN: passed, but counted only until 2026-03-02 07:42:00 +01:00"}},
		{name: "read with an instrument that was found bad", story: func(r *rig) {
			r.take("earth-ref", low)
			r.put(KindBad, "", FoundBad{Serial: "EX-100", Since: dawn.Format(time.RFC3339), Why: "a fuse was open"})
		}, want: []string{"3 earth-ref lapsed OPEN: attempt 1 was taken with dmm (serial EX-100), found bad: a fuse was open; take it again with another instrument",
			"4  instrument found bad: serial EX-100, its readings from 2026-03-02 07:30:00 +01:00 on do not count: a fuse was open"}},
		{name: "rests on a reading of an instrument that was found bad", story: func(r *rig) {
			r.take("hv", typed{"meter": "vt", "value": "11.20"})
			r.take("volts", goodVolts)
			r.put(KindBad, "", FoundBad{Serial: "EX-200", Since: dawn.Format(time.RFC3339), Why: "a fuse was open"})
		}, want: []string{"3 hv lapsed OPEN: attempt 1 was taken with vt (serial EX-200), found bad: a fuse was open; take it again with another instrument",
			"5 volts lapsed OPEN: attempt 1 rests on a reading of hv, taken with an instrument (serial EX-200) found bad: a fuse was open; take hv again",
			"6  instrument found bad: serial EX-200, its readings from 2026-03-02 07:30:00 +01:00 on do not count: a fuse was open"}},
		{name: "clock set back", story: func(r *rig) {
			r.now = r.now.Add(-time.Hour)
			r.put(KindNote, "", Noted{"x"})
		}, want: []string{"2  clock OPEN: its time 2026-03-02T06:31:00+01:00 is 59m0s before that of entry 1; the clock was set back or is wrong"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := newLiveRig(t)
			if c.name == "past a hold" {
				r = newRig(t, "pump.yaml")
			}
			c.story(r)
			if diff := cmp.Diff(c.want, flagLines(r.job().Flags(r.now.Add(c.after)))); diff != "" {
				t.Errorf("(-want +got):\n%s", diff)
			}
		})
	}
}

// Work on dead plant must wait for a proof that has passed and was not overtaken by
// one that did not.
func TestFlags_dead_before_proof(t *testing.T) {
	no := maps.Clone(isolated)
	no["s1"] = "no"
	for _, c := range []struct {
		name  string
		story func(r *rig)
		want  bool
	}{
		{"before any proof", func(r *rig) { r.take("ir", insulated) }, true},
		{"after the proof", func(r *rig) { r.take("isolated", isolated); r.take("ir", insulated) }, false},
		{"after a proof that failed", func(r *rig) { r.take("isolated", no); r.take("ir", insulated) }, true},
		{"after a proof begun", func(r *rig) { r.read("isolated", isolated, nil, ""); r.take("ir", insulated) }, true},
		{"read before, judged after", func(r *rig) {
			r.read("ir", insulated, nil, "")
			r.take("isolated", isolated)
			r.judge("ir", "")
		}, true},
		{"proved, then proved otherwise", func(r *rig) { r.take("isolated", isolated); r.take("isolated", no); r.take("ir", insulated) }, true},
		{"proved, and failed only later", func(r *rig) { r.take("isolated", isolated); r.take("ir", insulated); r.take("isolated", no) }, false},
		{"proof judged again later", func(r *rig) {
			r.take("isolated", isolated)
			r.take("ir", insulated)
			r.judge("isolated", "after a correction")
		}, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := newRig(t, "pump.yaml")
			r.wrapped("isolated", func(k *checks.Kind) { k.Proves = true }, nil)
			r.wrapped("ir", func(k *checks.Kind) { k.Dead = true }, nil)
			c.story(r)
			got := false
			for _, f := range r.job().Flags(r.now) {
				got = got || f.What == FlagOrder && f.Check == "ir" && f.Open
			}
			if got != c.want {
				t.Errorf("flagged %v, want %v: %q", got, c.want, flagLines(r.job().Flags(r.now)))
			}
		})
	}
}

func TestFlags_name_what_was_judged_otherwise(t *testing.T) {
	r := newRig(t, "pump.yaml")
	r.read("earth-ref", typed{"meter": "dmm", "value": "7.1"}, nil, "")
	r.put(KindJudge, "earth-ref", Judged{Attempt: 1, Verdict: checks.Pass, Reasons: []Reason{}, Values: map[string]float64{}})
	flags := r.job().Flags(r.now)
	want := Flag{What: FlagRecomputed, Open: true, Text: "entry 3, check earth-ref attempt 1: recorded as pass, judged again it comes to fail"}
	if diff := cmp.Diff(want, flags[len(flags)-1]); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
	if got := r.job().State("earth-ref").Verdict(); got != checks.Fail {
		t.Errorf("verdict %s: what was recorded must not decide", got)
	}
}
