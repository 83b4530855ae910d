package report_test

import (
	"encoding/json"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"handback/checks"
	"handback/records/chain"
	"handback/report"
	"handback/testdata/rig"
)

func TestFold_attempts(t *testing.T) {
	r := rig.New(t, "pump.yaml")
	s := func() *report.State { return r.Job().State("earth-ref") }
	if got := s().Verdict(); got != checks.Missing {
		t.Errorf("nothing read: %s", got)
	}
	r.Read("earth-ref", rig.Typed{"meter": "dmm"}, nil, "")
	r.Want(s().Verdict(), checks.Missing)
	r.Read("earth-ref", rig.Typed{"value": "7.1"}, nil, "")
	r.Want(r.Judge("earth-ref", ""), checks.Fail)
	r.Read("earth-ref", rig.Typed{"meter": "dmm"}, nil, "loose lead")
	if got := s(); got.Verdict() != checks.Fail || got.LastJudged().Number != 1 || got.Last().Number != 2 || got.Last().Why != "loose lead" {
		t.Errorf("an attempt that is not judged must not count: %s, judged %d, last %d", got.Verdict(), got.LastJudged().Number, got.Last().Number)
	}
	r.Read("earth-ref", rig.Typed{"value": "1.2"}, nil, "")
	r.Want(r.Judge("earth-ref", ""), checks.Pass)
	a := s().LastJudged()
	if len(a.Lines) != 2 || a.Answers["value"].Typed != "1.2" || a.Answers["meter"].Word != "dmm" || !a.At.Equal(r.Now) {
		t.Errorf("attempt 2: %d lines, %v at %v", len(a.Lines), a.Answers, a.At)
	}
}

func TestFold_correction_is_judged_again(t *testing.T) {
	r := rig.New(t, "pump.yaml")
	r.Want(r.Take("earth-ref", rig.Typed{"meter": "dmm", "value": "3.1"}), checks.Pass)
	judged := r.Now
	r.Put(report.EntryCorrect, "earth-ref", report.Corrected{Attempt: 1, Answers: r.Answers("earth-ref", rig.Typed{"value": "31"}, nil), Why: "the decimal point"})
	if g := r.Job().Gaps(r.Plan.Hold("close"), r.Now); len(g) != 2 || g[1].Why != "attempt 1 was corrected and not judged again" || g[1].Verdict != checks.Missing {
		t.Errorf("a correction nobody judged must stand open: %+v", g)
	}
	r.Want(r.Judge("earth-ref", "after a correction"), checks.Fail)
	a := r.Job().State("earth-ref").LastJudged()
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
	r := rig.New(t, "pump.yaml")
	r.Take("hv", rig.Typed{"meter": "vt", "value": "11.20"})
	r.Want(r.Take("volts", rig.GoodVolts), checks.Pass)
	r.Put(report.EntryCorrect, "hv", report.Corrected{Attempt: 1, Answers: r.Answers("hv", rig.Typed{"value": "10.60"}, nil), Why: "read the wrong scale"})
	r.Want(r.Judge("hv", "after a correction"), checks.Pass)
	j := r.Job()
	s := j.State("volts")
	if d, _ := s.LastJudged().Finding.Value("predicted"); !(d.Value > 440.8 && d.Value < 440.9) {
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
		alter func(*report.Judged)
		says  string
	}{
		{"verdict", func(j *report.Judged) { j.Verdict = checks.Pass }, "recorded as pass, judged again it comes to fail"},
		{"stop taken out", func(j *report.Judged) {
			j.Stop = &report.Stopped{Said: checks.Say("must-stop"), Words: "work must stop"}
		}, `recorded stop "work must stop", judged again ""`},
		{"value", func(j *report.Judged) { j.Values["value_value"] *= 1 + 1e-7 }, "recorded value_value as"},
		{"value of its own", func(j *report.Judged) { j.Values["invented"] = 1 }, "recorded invented as 1"},
		{"code of a reason", func(j *report.Judged) { j.Reasons[0].Code = "within" }, "recorded reason 1 as fail within"},
		{"verdict of a reason", func(j *report.Judged) { j.Reasons[0].Verdict = checks.Pass }, "recorded reason 1 as pass"},
		{"fields of a reason", func(j *report.Judged) { j.Reasons[0].Fields = nil }, "recorded reason 1 as"},
		{"reason left out", func(j *report.Judged) { j.Reasons = j.Reasons[1:] }, "recorded with 0 reasons, judged again with 1"},
		{"words of a reason", func(j *report.Judged) { j.Reasons[0].Words = "in other words" }, ""},
		{"nothing", func(*report.Judged) {}, ""},
		{"last digit of a value", func(j *report.Judged) { j.Values["value_value"] *= 1 + 1e-12 }, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := rig.New(t, "pump.yaml")
			r.Read("earth-ref", rig.Typed{"meter": "dmm", "value": "7.1"}, nil, "")
			j := r.Job()
			in := checks.Input{Plan: r.Plan, Check: r.Plan.Check("earth-ref"), Answers: j.State("earth-ref").Last().Answers, At: r.Now}
			data := report.NewJudged(in.Check.Kind, 1, checks.Judge(in), "")
			c.alter(&data)
			r.Put(report.EntryJudge, "earth-ref", data)
			got := strings.Join(r.Job().Differs, "\n")
			if c.says == "" && got != "" || !strings.Contains(got, c.says) || c.says != "" && !strings.Contains(got, "entry 3, check earth-ref attempt 1: ") {
				t.Errorf("differs %q, want words %q", got, c.says)
			}
		})
	}
}

func TestFold_concession_counts_for_its_attempt(t *testing.T) {
	r := rig.NewLive(t)
	r.Take("earth-ref", rig.Typed{"meter": "dmm", "value": "7.1"})
	concede := func(attempt int) {
		r.Put(report.EntryConcede, "earth-ref", report.Conceded{Attempt: attempt, Engineer: "eva", Verdict: checks.Fail, Reason: "known earth fault on the standby feeder"})
	}
	concede(1)
	if s := r.Job().State("earth-ref"); !s.IsConceded() {
		t.Error("the newest judged attempt was conceded")
	}
	r.Judge("earth-ref", "after a correction elsewhere")
	if s := r.Job().State("earth-ref"); s.IsConceded() {
		t.Error("a concession must not outlive the judgement it was given for")
	}
	concede(1)
	r.Take("earth-ref", rig.Typed{"meter": "dmm", "value": "7.4"})
	if s := r.Job().State("earth-ref"); s.IsConceded() {
		t.Error("a concession of attempt 1 must not cover attempt 2")
	}
	concede(2)
	s := r.Job().State("earth-ref")
	if !s.IsConceded() || len(s.Concessions) != 3 {
		t.Errorf("conceded %v, %d concessions on record", s.IsConceded(), len(s.Concessions))
	}
}

func TestFold_skip_ends_with_a_reading(t *testing.T) {
	r := rig.New(t, "pump.yaml")
	r.Put(report.EntrySkip, "tidy", report.Skipped{Why: "later"})
	if s := r.Job().State("tidy"); s.Skip == nil || s.Skip.Why != "later" {
		t.Errorf("skip %+v", s.Skip)
	}
	r.Read("tidy", rig.Typed{"who": "ada"}, nil, "")
	if s := r.Job().State("tidy"); s.Skip != nil {
		t.Errorf("skip %+v after a reading", s.Skip)
	}
}

func TestFold_refuses(t *testing.T) {
	answers := checks.Answers{"value": {Typed: "1", Value: 1, Unit: "V"}}
	judged := report.Judged{Attempt: 1, Verdict: checks.Pass, Reasons: []report.Reason{}, Values: map[string]float64{}}
	open := entry(report.EntryOpen, "", report.Opened{Title: "t", PlanFile: "f", PlanHash: "h", Program: "p", Nonce: "n"})
	for _, c := range []struct {
		name    string
		entries []chain.Entry
		says    string
	}{
		{"nothing", nil, "has no entries"},
		{"begins in the middle", []chain.Entry{entry(report.EntryNote, "", report.Noted{Text: "x"})}, "kind note does not belong there"},
		{"opened twice", []chain.Entry{open, open}, "entry 2: kind open does not belong there"},
		{"unknown kind", []chain.Entry{open, entry("dance", "earth-ref", report.Noted{Text: "x"})}, "kind is not known"},
		{"unknown check", []chain.Entry{open, entry(report.EntryRead, "nowhere", report.Read{Attempt: 1, Answers: answers})}, `check "nowhere" is not in the plan`},
		{"attempt left out", []chain.Entry{open, entry(report.EntryRead, "earth-ref", report.Read{Attempt: 2, Answers: answers})}, "attempt 2 does not follow"},
		{"attempt not judged", []chain.Entry{open, entry(report.EntryRead, "earth-ref", report.Read{Attempt: 1, Answers: answers}), entry(report.EntryRead, "earth-ref", report.Read{Attempt: 2, Answers: answers})}, "attempt 2 does not follow"},
		{"judged unread", []chain.Entry{open, entry(report.EntryJudge, "earth-ref", judged)}, "attempt 1 was not read"},
		{"corrected unjudged", []chain.Entry{open, entry(report.EntryRead, "earth-ref", report.Read{Attempt: 1, Answers: answers}), entry(report.EntryCorrect, "earth-ref", report.Corrected{Attempt: 1, Answers: answers, Why: "w"})}, "attempt 1 was not judged"},
		{"conceded unjudged", []chain.Entry{open, entry(report.EntryRead, "earth-ref", report.Read{Attempt: 1, Answers: answers}), entry(report.EntryConcede, "earth-ref", report.Conceded{Attempt: 1, Engineer: "eva", Verdict: checks.Fail, Reason: "r"})}, "attempt 1 was not judged"},
		{"conceded nothing", []chain.Entry{open, entry(report.EntryConcede, "earth-ref", report.Conceded{Attempt: 0, Engineer: "eva", Verdict: checks.Fail, Reason: "r"})}, "attempt 0 was not judged"},
		{"unknown hold", []chain.Entry{open, entry(report.EntryStep, "", report.Stepped{Hold: "nowhere", Action: "a", Taken: "2026-03-02T08:00:00Z"})}, "not a hold of the plan"},
		{"step at no time", []chain.Entry{open, entry(report.EntryStep, "", report.Stepped{Hold: "close", Action: "a", Taken: "noon"})}, "not a time"},
		{"data of another kind", []chain.Entry{open, entry(report.EntrySkip, "tidy", report.Noted{Text: "x"})}, "entry 2 (skip)"},
		{"verdict of no name", []chain.Entry{open, entry(report.EntryRead, "earth-ref", report.Read{Attempt: 1, Answers: answers}), entry(report.EntryJudge, "earth-ref", map[string]any{"attempt": 1, "verdict": "fine", "reasons": []any{}, "values": map[string]any{}})}, `verdict "fine"`},
	} {
		t.Run(c.name, func(t *testing.T) {
			for i := range c.entries {
				c.entries[i].Seq = i + 1
			}
			_, err := report.Fold(rig.New(t, "pump.yaml").Plan, c.entries)
			if err == nil || !strings.Contains(err.Error(), c.says) {
				t.Errorf("%v, want words %q", err, c.says)
			}
		})
	}
}

// entry is one that no book would hold, for what Fold must refuse.
func entry(kind, check string, data any) chain.Entry {
	raw, err := json.Marshal(data)
	if err != nil {
		panic(err)
	}
	return chain.Entry{Head: chain.Head{Job: "pump-t1-1", Kind: kind, Check: check, By: "ada", At: rig.Dawn.Add(time.Minute)}, Data: raw}
}
