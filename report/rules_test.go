package report_test

import (
	"maps"
	"slices"
	"strings"
	"testing"
	"time"

	"handback/checks"
	"handback/records/chain"
	"handback/report"
	"handback/testdata/rig"
)

// A chain made anew by another hand is sound, and every finding in it follows from
// the values stored. What no command would have written is named all the same.
func TestRuleFaults_forged(t *testing.T) {
	stored := func(r *rig.Rig, key, typedText string, change func(*checks.Answer)) checks.Answers {
		said := maps.Clone(rig.GoodVolts)
		said[key] = typedText
		out := r.Answers("volts", said, nil)
		a := out[key]
		change(&a)
		out[key] = a
		return out
	}
	judged := func(r *rig.Rig, check string, answers checks.Answers) {
		r.Put(report.EntryRead, check, report.Read{Attempt: 1, Answers: answers})
		r.Judge(check, "")
	}
	for name, c := range map[string]struct {
		forge func(r *rig.Rig)
		want  string
	}{
		"nothing":            {func(r *rig.Rig) {}, ""},
		"nobody":             {func(r *rig.Rig) { r.By = "nobody"; r.Put(report.EntryNote, "", report.Noted{Text: "all well"}) }, `"nobody", who made it, is no person of the plan`},
		"technician accepts": {func(r *rig.Rig) { concedes(r, "ada", "ada", 1, checks.Fail, "looks fine") }, "a concession by Ada Example, who is technician"},
		"owner accepts":      {func(r *rig.Rig) { concedes(r, "odo", "odo", 1, checks.Fail, "looks fine") }, "who is owner"},
		"nobody accepts":     {func(r *rig.Rig) { concedes(r, "ada", "zoe", 1, checks.Fail, "looks fine") }, `a concession by "zoe", who is no person`},
		"in another's name":  {func(r *rig.Rig) { concedes(r, "ada", "eva", 1, checks.Fail, "looks fine") }, `that "ada" recorded`},
		"without a reason":   {func(r *rig.Rig) { concedes(r, "eva", "eva", 1, checks.Fail, " ") }, "does not say why"},
		"another verdict":    {func(r *rig.Rig) { concedes(r, "eva", "eva", 1, checks.Inconclusive, "looks fine") }, "a concession of inconclusive, the finding was fail"},
		"an engineer":        {func(r *rig.Rig) { concedes(r, "eva", "eva", 1, checks.Fail, "compared with a resistor") }, ""},
		"typed otherwise": {func(r *rig.Rig) {
			judged(r, "volts", stored(r, "l1l2", "440.9", func(a *checks.Answer) { a.Typed = "462.9" }))
		}, `l1l2: "462.9" was typed, which is 462.9 V, and 440.9 V is stored`},
		"a bound dropped": {func(r *rig.Rig) {
			judged(r, "volts", stored(r, "l1l2", "440.9", func(a *checks.Answer) { a.Typed = "< 440.9" }))
		}, "no such reading"},
		"no number typed": {func(r *rig.Rig) {
			judged(r, "volts", stored(r, "l1l2", "440.9", func(a *checks.Answer) { a.Typed = "open" }))
		}, "no such reading"},
		"other unit": {func(r *rig.Rig) {
			judged(r, "volts", stored(r, "l1l2", "0.4409 kV", func(a *checks.Answer) { a.Typed = "0.4409" }))
		}, "which is 0.4409 V"},
		"stored in another unit": {func(r *rig.Rig) {
			judged(r, "volts", stored(r, "l1l2", "440.9", func(a *checks.Answer) { a.Unit = "kV" }))
		}, "which is 440.9 V, and 440.9 kV is stored"},
		"declared comma": {func(r *rig.Rig) {
			judged(r, "volts", stored(r, "l1l2", "440.9", func(a *checks.Answer) { a.Typed = "440,9" }))
		}, ""},
		"another meter": {func(r *rig.Rig) {
			judged(r, "volts", stored(r, "meter", "dmm", func(a *checks.Answer) { a.Typed = "old" }))
		}, `which is "old", and "dmm" is stored`},
		"a meter of nobody": {func(r *rig.Rig) {
			judged(r, "volts", stored(r, "meter", "dmm", func(a *checks.Answer) { a.Typed, a.Word = "best", "best" }))
		}, `and "best" is stored`},
		"another word": {func(r *rig.Rig) {
			answers := r.Answers("isolated", rig.Isolated, nil)
			a := answers["s1"]
			a.Typed = "no"
			answers["s1"] = a
			r.Put(report.EntryRead, "isolated", report.Read{Attempt: 2, Answers: answers, Why: "looked again"})
			r.Judge("isolated", "")
		}, `s1: "no" was typed, which is "no", and "yes" is stored`},
		"corrected otherwise": {func(r *rig.Rig) {
			judged(r, "volts", r.Answers("volts", rig.GoodVolts, nil))
			r.Put(report.EntryCorrect, "volts", report.Corrected{Attempt: 1, Answers: stored(r, "l1n", "254.5", func(a *checks.Answer) { a.Typed = "999" }), Why: "misread"})
			r.Judge("volts", "after a correction")
		}, `l1n: "999" was typed`},
		"corrected without a word": {func(r *rig.Rig) {
			judged(r, "volts", r.Answers("volts", rig.GoodVolts, nil))
			r.Put(report.EntryCorrect, "volts", report.Corrected{Attempt: 1, Answers: r.Answers("volts", rig.Typed{"l1n": "254.4"}, nil), Why: ""})
			r.Judge("volts", "after a correction")
		}, "a correction that does not say why"},
		"repeated without a word": {func(r *rig.Rig) { r.Take("ir", rig.Insulated); r.Read("ir", rig.Insulated, nil, ""); r.Judge("ir", "") }, "attempt 2 repeats one before"},
		"another step": {func(r *rig.Rig) {
			r.Put(report.EntryStep, "", report.Stepped{Hold: "energise", Action: "Have a look at T1", Taken: rig.Dawn.Format(time.RFC3339)})
		}, `its step is "Have a look at T1"`},
		"left out": {func(r *rig.Rig) { r.Put(report.EntrySkip, "tidy", report.Skipped{Why: ""}) }, "a check left out"},
	} {
		r := rig.NewLive(t)
		if name == "another step" {
			r = rig.New(t, "pump.yaml")
		}
		r.Take("isolated", rig.Isolated)
		r.Take("ir", rig.Insulated) // fails: the tester is out of date
		c.forge(r)
		j := r.Job()
		if faults := chain.CheckChain(j.Entries); len(faults) > 0 || len(j.Differs) > 0 {
			t.Errorf("%s: it is no forgery that only the rules find: %v %v", name, faults, j.Differs)
		}
		faults := j.RuleFaults()
		if c.want == "" && len(faults) > 0 || c.want != "" && !slices.ContainsFunc(faults, func(f string) bool { return strings.Contains(f, c.want) }) {
			t.Errorf("%s: %q, want %q", name, faults, c.want)
		}
	}
}

// Every rule is broken by a record made for it, and by no rule less is it named.
func TestRules_eachBroken(t *testing.T) {
	var broken []string
	for _, f := range rig.Forgeries() {
		r := f.Open(t)
		before := len(r.Job().Entries)
		f.Put(r)
		j := r.Job()
		if faults := chain.CheckChain(j.Entries); len(faults) > 0 {
			t.Errorf("%s: the chain tells: %v", f.Rule, faults)
		}
		named := func(all []report.Breach) bool {
			return slices.ContainsFunc(all, func(b report.Breach) bool { return b.Rule == f.Rule && strings.Contains(b.Words, f.Words) })
		}
		if all := j.Breaches(); !named(all) {
			t.Errorf("%s: replay names %q, want %q", f.Rule, all, f.Words)
		}
		if all := j.BreachesSince(before); !named(all) {
			t.Errorf("%s: before it is stored %q are named, want %q", f.Rule, all, f.Words)
		}
		broken = append(broken, f.Rule)
	}
	for _, name := range report.Rules() {
		if !slices.Contains(broken, name) {
			t.Errorf("no record breaks the rule %s", name)
		}
	}
}

// concedes puts a concession as whoever says so.
func concedes(r *rig.Rig, by, engineer string, attempt int, v checks.Verdict, reason string) {
	r.Helper()
	r.By = by
	r.Put(report.EntryConcede, "ir", report.Conceded{Attempt: attempt, Engineer: engineer, Verdict: v, Reason: reason})
	r.By = "ada"
}
