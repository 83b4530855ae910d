package report

import (
	"encoding/json"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"handback/checks"
	"handback/records"
)

// wrapped replaces the kind of a check by a copy whose judgement is followed by
// then, so that stops and freshness can be told with the plainest readings.
func (r *rig) wrapped(check string, change func(k *checks.Kind), then func(w *checks.Work)) {
	c := r.plan.Check(check)
	k := *checks.KindOf(c)
	if change != nil {
		change(&k)
	}
	if then != nil {
		judge := k.Judge
		k.Judge = func(w *checks.Work) { judge(w); then(w) }
	}
	k.Take(c)
}

func TestFold_attempts(t *testing.T) {
	r := newRig(t, "pump.yaml")
	s := func() *State { return r.job().State("earth-ref") }
	if got := s().Verdict(); got != checks.Missing {
		t.Errorf("nothing read: %s", got)
	}
	r.read("earth-ref", typed{"meter": "dmm"}, nil, "")
	r.want(s().Verdict(), checks.Missing)
	r.read("earth-ref", typed{"value": "7.1"}, nil, "")
	r.want(r.judge("earth-ref", ""), checks.Fail)
	r.read("earth-ref", typed{"meter": "dmm"}, nil, "loose lead")
	if got := s(); got.Verdict() != checks.Fail || got.Judged().Number != 1 || got.Last().Number != 2 || got.Last().Why != "loose lead" {
		t.Errorf("an attempt that is not judged must not count: %s, judged %d, last %d", got.Verdict(), got.Judged().Number, got.Last().Number)
	}
	r.read("earth-ref", typed{"value": "1.2"}, nil, "")
	r.want(r.judge("earth-ref", ""), checks.Pass)
	a := s().Judged()
	if len(a.Lines) != 2 || a.Answers["value"].Typed != "1.2" || a.Answers["meter"].Word != "dmm" || !a.At.Equal(r.now) {
		t.Errorf("attempt 2: %d lines, %v at %v", len(a.Lines), a.Answers, a.At)
	}
}

func TestFold_correction_is_judged_again(t *testing.T) {
	r := newRig(t, "pump.yaml")
	r.want(r.take("earth-ref", typed{"meter": "dmm", "value": "3.1"}), checks.Pass)
	judged := r.now
	r.put(KindCorrect, "earth-ref", Corrected{Attempt: 1, Answers: r.answers("earth-ref", typed{"value": "31"}, nil), Why: "the decimal point"})
	if g := r.job().Gaps(r.plan.Hold("close"), r.now); len(g) != 2 || g[1].Why != "attempt 1 was corrected and not judged again" || g[1].Verdict != checks.Missing {
		t.Errorf("a correction nobody judged must stand open: %+v", g)
	}
	r.want(r.judge("earth-ref", "after a correction"), checks.Fail)
	a := r.job().State("earth-ref").Judged()
	if !a.At.Equal(judged) || a.JudgedFirst != 3 || a.Seq != 5 || a.Finding.Verdict != checks.Fail {
		t.Errorf("at %v, entries %d and %d, %s", a.At, a.JudgedFirst, a.Seq, a.Finding.Verdict)
	}
	want := []string{"value", "3.1", "31", "the decimal point"}
	c := a.Corrections[0]
	if diff := cmp.Diff(want, []string{c.Key, c.Was.Typed, c.Is.Typed, c.Why}); len(a.Corrections) != 1 || diff != "" {
		t.Errorf("correction (-want +got):\n%s", diff)
	}
}

// The volts are predicted from the HV reading. A later correction of that reading
// must not move what was found before it, until the volts are judged again.
func TestFold_finding_rests_on_what_was_known(t *testing.T) {
	r := newRig(t, "pump.yaml")
	r.take("hv", typed{"meter": "vt", "value": "11.20"})
	r.want(r.take("volts", goodVolts), checks.Pass)
	r.put(KindCorrect, "hv", Corrected{Attempt: 1, Answers: r.answers("hv", typed{"value": "10.60"}, nil), Why: "read the wrong scale"})
	r.want(r.judge("hv", "after a correction"), checks.Pass)
	j := r.job()
	s := j.State("volts")
	if d, _ := s.Judged().Finding.Value("predicted"); !(d.Value > 440.8 && d.Value < 440.9) {
		t.Errorf("predicted %v V from an HV reading of 11.20 kV, want 440.87 V", d.Value)
	}
	if len(j.Differs) != 0 {
		t.Errorf("differs: %q", j.Differs)
	}
	again := checks.Judge(j.Again(s))
	if d, _ := again.Value("predicted"); again.Verdict != checks.Fail || !(d.Value > 417.2 && d.Value < 417.3) {
		t.Errorf("judged again: %s, predicted %v V, want fail and 417.25 V", again.Verdict, d.Value)
	}
}

func TestFold_names_altered_findings(t *testing.T) {
	for _, c := range []struct {
		name  string
		alter func(*Judged)
		says  string
	}{
		{"verdict", func(j *Judged) { j.Verdict = checks.Pass }, "recorded as pass, judged again it comes to fail"},
		{"stop taken out", func(j *Judged) { j.Stop = &Stopped{checks.Say("must-stop"), "work must stop"} }, `recorded stop "work must stop", judged again ""`},
		{"value", func(j *Judged) { j.Values["value_value"] *= 1 + 1e-7 }, "recorded value_value as"},
		{"value of its own", func(j *Judged) { j.Values["invented"] = 1 }, "recorded invented as 1"},
		{"code of a reason", func(j *Judged) { j.Reasons[0].Code = "within" }, "recorded reason 1 as fail within"},
		{"verdict of a reason", func(j *Judged) { j.Reasons[0].Verdict = checks.Pass }, "recorded reason 1 as pass"},
		{"fields of a reason", func(j *Judged) { j.Reasons[0].Fields = nil }, "recorded reason 1 as"},
		{"reason left out", func(j *Judged) { j.Reasons = j.Reasons[1:] }, "recorded with 0 reasons, judged again with 1"},
		{"words of a reason", func(j *Judged) { j.Reasons[0].Words = "in other words" }, ""},
		{"nothing", func(*Judged) {}, ""},
		{"last digit of a value", func(j *Judged) { j.Values["value_value"] *= 1 + 1e-12 }, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := newRig(t, "pump.yaml")
			r.read("earth-ref", typed{"meter": "dmm", "value": "7.1"}, nil, "")
			j := r.job()
			in := checks.Input{Plan: r.plan, Check: r.plan.Check("earth-ref"), Answers: j.State("earth-ref").Last().Answers, At: r.now}
			data := NewJudged(in.Check.Kind, 1, checks.Judge(in), "")
			c.alter(&data)
			r.put(KindJudge, "earth-ref", data)
			got := strings.Join(r.job().Differs, "\n")
			if c.says == "" && got != "" || !strings.Contains(got, c.says) || c.says != "" && !strings.Contains(got, "entry 3, check earth-ref attempt 1: ") {
				t.Errorf("differs %q, want words %q", got, c.says)
			}
		})
	}
}

func TestFold_concession_counts_for_its_attempt(t *testing.T) {
	r := newLiveRig(t)
	r.take("earth-ref", typed{"meter": "dmm", "value": "7.1"})
	concede := func(attempt int) {
		r.put(KindConcede, "earth-ref", Conceded{Attempt: attempt, Engineer: "eva", Verdict: checks.Fail, Reason: "known earth fault on the standby feeder"})
	}
	concede(1)
	if s := r.job().State("earth-ref"); !s.IsConceded() {
		t.Error("the newest judged attempt was conceded")
	}
	r.judge("earth-ref", "after a correction elsewhere")
	if s := r.job().State("earth-ref"); s.IsConceded() {
		t.Error("a concession must not outlive the judgement it was given for")
	}
	concede(1)
	r.take("earth-ref", typed{"meter": "dmm", "value": "7.4"})
	if s := r.job().State("earth-ref"); s.IsConceded() {
		t.Error("a concession of attempt 1 must not cover attempt 2")
	}
	concede(2)
	s := r.job().State("earth-ref")
	if !s.IsConceded() || len(s.Concessions) != 3 {
		t.Errorf("conceded %v, %d concessions on record", s.IsConceded(), len(s.Concessions))
	}
}

func TestFold_skip_ends_with_a_reading(t *testing.T) {
	r := newRig(t, "pump.yaml")
	r.put(KindSkip, "tidy", Skipped{Why: "later"})
	if s := r.job().State("tidy"); s.Skip == nil || s.Skip.Why != "later" {
		t.Errorf("skip %+v", s.Skip)
	}
	r.read("tidy", typed{"who": "ada"}, nil, "")
	if s := r.job().State("tidy"); s.Skip != nil {
		t.Errorf("skip %+v after a reading", s.Skip)
	}
}

func TestFold_refuses(t *testing.T) {
	answers := checks.Answers{"value": {Typed: "1", Value: 1, Unit: "V"}}
	judged := Judged{Attempt: 1, Verdict: checks.Pass, Reasons: []Reason{}, Values: map[string]float64{}}
	open := entry(KindOpen, "", Opened{Title: "t", PlanFile: "f", PlanHash: "h", Program: "p", Nonce: "n"})
	for _, c := range []struct {
		name    string
		entries []records.Entry
		says    string
	}{
		{"nothing", nil, "has no entries"},
		{"begins in the middle", []records.Entry{entry(KindNote, "", Noted{"x"})}, "kind note does not belong there"},
		{"opened twice", []records.Entry{open, open}, "entry 2: kind open does not belong there"},
		{"unknown kind", []records.Entry{open, entry("dance", "earth-ref", Noted{"x"})}, "kind is not known"},
		{"unknown check", []records.Entry{open, entry(KindRead, "nowhere", Read{Attempt: 1, Answers: answers})}, `check "nowhere" is not in the plan`},
		{"attempt left out", []records.Entry{open, entry(KindRead, "earth-ref", Read{Attempt: 2, Answers: answers})}, "attempt 2 does not follow"},
		{"attempt not judged", []records.Entry{open, entry(KindRead, "earth-ref", Read{Attempt: 1, Answers: answers}), entry(KindRead, "earth-ref", Read{Attempt: 2, Answers: answers})}, "attempt 2 does not follow"},
		{"judged unread", []records.Entry{open, entry(KindJudge, "earth-ref", judged)}, "attempt 1 was not read"},
		{"corrected unjudged", []records.Entry{open, entry(KindRead, "earth-ref", Read{Attempt: 1, Answers: answers}), entry(KindCorrect, "earth-ref", Corrected{1, answers, "w"})}, "attempt 1 was not judged"},
		{"conceded unjudged", []records.Entry{open, entry(KindRead, "earth-ref", Read{Attempt: 1, Answers: answers}), entry(KindConcede, "earth-ref", Conceded{Attempt: 1, Engineer: "eva", Verdict: checks.Fail, Reason: "r"})}, "attempt 1 was not judged"},
		{"conceded nothing", []records.Entry{open, entry(KindConcede, "earth-ref", Conceded{Attempt: 0, Engineer: "eva", Verdict: checks.Fail, Reason: "r"})}, "attempt 0 was not judged"},
		{"unknown hold", []records.Entry{open, entry(KindStep, "", Stepped{"nowhere", "a", "2026-03-02T08:00:00Z"})}, "not a hold of the plan"},
		{"step at no time", []records.Entry{open, entry(KindStep, "", Stepped{"close", "a", "noon"})}, "not a hold of the plan at a time"},
		{"data of another kind", []records.Entry{open, entry(KindSkip, "tidy", Noted{"x"})}, "entry 2 (skip)"},
		{"verdict of no name", []records.Entry{open, entry(KindRead, "earth-ref", Read{Attempt: 1, Answers: answers}), entry(KindJudge, "earth-ref", map[string]any{"attempt": 1, "verdict": "fine", "reasons": []any{}, "values": map[string]any{}})}, `verdict "fine"`},
	} {
		t.Run(c.name, func(t *testing.T) {
			for i := range c.entries {
				c.entries[i].Seq = i + 1
			}
			_, err := Fold(newRig(t, "pump.yaml").plan, c.entries)
			if err == nil || !strings.Contains(err.Error(), c.says) {
				t.Errorf("%v, want words %q", err, c.says)
			}
		})
	}
}

// entry is one that no book would hold, for what Fold must refuse.
func entry(kind, check string, data any) records.Entry {
	raw, err := json.Marshal(data)
	if err != nil {
		panic(err)
	}
	return records.Entry{Head: records.Head{Job: "pump-t1-1", Kind: kind, Check: check, By: "ada", At: dawn.Add(time.Minute)}, Data: raw}
}
