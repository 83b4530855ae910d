package report

import (
	"maps"
	"slices"
	"strings"
	"testing"
	"time"

	"handback/checks"
	"handback/records"
)

// A record that commands wrote breaks no rule.
func TestRuleFaults_sound(t *testing.T) {
	for name, r := range map[string]*rig{"told": told(t), "bag": bagRig(t)} {
		if faults := r.job().RuleFaults(); len(faults) > 0 {
			t.Errorf("%s: %q", name, faults)
		}
	}
}

// A chain made anew by another hand is sound, and every finding in it follows from
// the values stored. What no command would have written is named all the same.
func TestRuleFaults_forged(t *testing.T) {
	stored := func(r *rig, key, typedText string, change func(*checks.Answer)) checks.Answers {
		said := maps.Clone(goodVolts)
		said[key] = typedText
		out := r.answers("volts", said, nil)
		a := out[key]
		change(&a)
		out[key] = a
		return out
	}
	judged := func(r *rig, check string, answers checks.Answers) {
		r.put(KindRead, check, Read{Attempt: 1, Answers: answers})
		r.judge(check, "")
	}
	for name, c := range map[string]struct {
		forge func(r *rig)
		want  string
	}{
		"nothing":            {func(r *rig) {}, ""},
		"nobody":             {func(r *rig) { r.by = "nobody"; r.put(KindNote, "", Noted{"all well"}) }, `"nobody", who made it, is no person of the plan`},
		"technician accepts": {func(r *rig) { r.concede("ada", "ada", 1, checks.Fail, "looks fine") }, "a concession by Ada Example, who is technician"},
		"owner accepts":      {func(r *rig) { r.concede("odo", "odo", 1, checks.Fail, "looks fine") }, "who is owner"},
		"nobody accepts":     {func(r *rig) { r.concede("ada", "zoe", 1, checks.Fail, "looks fine") }, `a concession by "zoe", who is no person`},
		"in another's name":  {func(r *rig) { r.concede("ada", "eva", 1, checks.Fail, "looks fine") }, `that "ada" recorded`},
		"without a reason":   {func(r *rig) { r.concede("eva", "eva", 1, checks.Fail, " ") }, "does not say why"},
		"another verdict":    {func(r *rig) { r.concede("eva", "eva", 1, checks.Inconclusive, "looks fine") }, "a concession of inconclusive, the finding was fail"},
		"an engineer":        {func(r *rig) { r.concede("eva", "eva", 1, checks.Fail, "compared with a resistor") }, ""},
		"typed otherwise": {func(r *rig) {
			judged(r, "volts", stored(r, "l1l2", "440.9", func(a *checks.Answer) { a.Typed = "462.9" }))
		}, `l1l2: "462.9" was typed, which is 462.9 V, and 440.9 V is stored`},
		"a bound dropped": {func(r *rig) {
			judged(r, "volts", stored(r, "l1l2", "440.9", func(a *checks.Answer) { a.Typed = "< 440.9" }))
		}, "no such reading"},
		"no number typed": {func(r *rig) {
			judged(r, "volts", stored(r, "l1l2", "440.9", func(a *checks.Answer) { a.Typed = "open" }))
		}, "no such reading"},
		"other unit": {func(r *rig) {
			judged(r, "volts", stored(r, "l1l2", "0.4409 kV", func(a *checks.Answer) { a.Typed = "0.4409" }))
		}, "which is 0.4409 V"},
		"stored in another unit": {func(r *rig) {
			judged(r, "volts", stored(r, "l1l2", "440.9", func(a *checks.Answer) { a.Unit = "kV" }))
		}, "which is 440.9 V, and 440.9 kV is stored"},
		"declared comma": {func(r *rig) {
			judged(r, "volts", stored(r, "l1l2", "440.9", func(a *checks.Answer) { a.Typed = "440,9" }))
		}, ""},
		"another meter": {func(r *rig) {
			judged(r, "volts", stored(r, "meter", "dmm", func(a *checks.Answer) { a.Typed = "old" }))
		}, `which is "old", and "dmm" is stored`},
		"a meter of nobody": {func(r *rig) {
			judged(r, "volts", stored(r, "meter", "dmm", func(a *checks.Answer) { a.Typed, a.Word = "best", "best" }))
		}, `and "best" is stored`},
		"another word": {func(r *rig) {
			answers := r.answers("isolated", isolated, nil)
			a := answers["s1"]
			a.Typed = "no"
			answers["s1"] = a
			r.put(KindRead, "isolated", Read{Attempt: 2, Answers: answers, Why: "looked again"})
			r.judge("isolated", "")
		}, `s1: "no" was typed, which is "no", and "yes" is stored`},
		"corrected otherwise": {func(r *rig) {
			judged(r, "volts", r.answers("volts", goodVolts, nil))
			r.put(KindCorrect, "volts", Corrected{1, stored(r, "l1n", "254.5", func(a *checks.Answer) { a.Typed = "999" }), "misread"})
			r.judge("volts", "after a correction")
		}, `l1n: "999" was typed`},
		"corrected without a word": {func(r *rig) {
			judged(r, "volts", r.answers("volts", goodVolts, nil))
			r.put(KindCorrect, "volts", Corrected{1, r.answers("volts", typed{"l1n": "254.4"}, nil), ""})
			r.judge("volts", "after a correction")
		}, "a correction that does not say why"},
		"repeated without a word": {func(r *rig) { r.take("ir", insulated); r.read("ir", insulated, nil, ""); r.judge("ir", "") }, "attempt 2 repeats one before"},
		"another step":            {func(r *rig) { r.put(KindStep, "", Stepped{"energise", "Have a look at T1", dawn.Format(time.RFC3339)}) }, `its step is "Have a look at T1"`},
		"left out":                {func(r *rig) { r.put(KindSkip, "tidy", Skipped{""}) }, "a check left out"},
	} {
		r := newRig(t, "pump.yaml")
		r.take("isolated", isolated)
		r.take("ir", insulated) // fails: the tester is out of date
		c.forge(r)
		j := r.job()
		if faults := records.CheckChain(j.Entries); len(faults) > 0 || len(j.Differs) > 0 {
			t.Errorf("%s: it is no forgery that only the rules find: %v %v", name, faults, j.Differs)
		}
		faults := j.RuleFaults()
		if c.want == "" && len(faults) > 0 || c.want != "" && !slices.ContainsFunc(faults, func(f string) bool { return strings.Contains(f, c.want) }) {
			t.Errorf("%s: %q, want %q", name, faults, c.want)
		}
	}
}

// concede puts a concession as whoever says so.
func (r *rig) concede(by, engineer string, attempt int, v checks.Verdict, reason string) {
	r.Helper()
	r.by = by
	r.put(KindConcede, "ir", Conceded{Attempt: attempt, Engineer: engineer, Verdict: v, Reason: reason})
	r.by = "ada"
}

// A time of day and "now" were completed when they were typed: the date they got
// cannot be told from the typed words, all else can.
func TestOtherMoment(t *testing.T) {
	at := time.Date(2026, 5, 12, 9, 0, 30, 0, time.FixedZone("", 3600))
	for _, c := range []struct {
		typed, word string
		sound       bool
	}{
		{"now", "2026-05-12T09:00:20+01:00", true}, {"now", "2026-05-12T09:30:00+01:00", false}, {"NOW", "2026-05-10T09:00:00+01:00", false}, {"now", "soon", false},
		{"08:55", "2026-05-12T08:55:00+01:00", true}, {"8:55", "2026-05-12T08:55:00+01:00", true}, {"23:58", "2026-05-11T23:58:00+01:00", true}, {"08:55", "2026-05-12T08:50:00+01:00", false},
		{"08:55", "2026-05-12T08:55:40+01:00", false}, {"08:55:40", "2026-05-12T08:55:40+01:00", true}, {"08:55:40", "2026-05-12T08:55:41+01:00", false},
		{"2026-05-12 08:55", "2026-05-12T08:55:00+01:00", true}, {"2026-05-11 08:55", "2026-05-12T08:55:00+01:00", false},
		{"2026-05-12T07:55:00Z", "2026-05-12T08:55:00+01:00", true}, {"2026-05-12T08:55:00Z", "2026-05-12T08:55:00+01:00", false}, {"later", "2026-05-12T08:55:00+01:00", false},
	} {
		if why := otherMoment(checks.Answer{Typed: c.typed, Word: c.word}, at); (why == "") != c.sound {
			t.Errorf("%s as %s: %q", c.typed, c.word, why)
		}
	}
}
