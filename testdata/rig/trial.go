package rig

import (
	"strings"
	"testing"
	"time"

	"handback/checks"
	"handback/checks/plan"
	"handback/records/chain"
	"handback/report"
)

// TrialJob is a job in which every check of a trial was taken once, nil when an answer
// cannot be read.
func TrialJob(t testing.TB, trial *plan.Trial) *report.Job {
	t.Helper()
	_, east := trial.At.Zone()
	at := trial.At.In(time.FixedZone("", east)) // as a record keeps it
	opened := chain.Draft{At: at, By: "ada", Kind: report.EntryOpen, Data: report.Opened{PlanHash: strings.Repeat("0", 64), Nonce: "trial"}}
	first, err := chain.Seal(chain.Entry{Head: chain.Head{Job: "trial-1"}, Hash: strings.Repeat("0", 64)}, opened)
	if err != nil {
		t.Fatal(err)
	}
	j, err := report.Fold(trial.Plan, []chain.Entry{first})
	if err != nil {
		t.Fatal(err)
	}
	add := func(kind, check string, data any) {
		e, err := chain.Seal(j.Head(), chain.Draft{At: at, By: "ada", Kind: kind, Check: check, Data: data})
		if err == nil {
			err = j.Add(e)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	for _, c := range trial.Plan.Checks() {
		in := j.Input(c, at)
		form := in.Form()
		for key, typed := range trial.Answers[c.ID] {
			field, ok := checks.FieldNamed(form, key)
			if !ok {
				return nil
			}
			ans, err := checks.ParseAnswer(field, trial.Plan, typed, at)
			if err != nil {
				return nil
			}
			ans.Kept = trial.Kept[c.ID][key]
			in.Answers[key] = ans
		}
		add(report.EntryRead, c.ID, report.Read{Attempt: 1, Answers: in.Answers})
		add(report.EntryJudge, c.ID, report.NewJudged(c.Kind, 1, checks.Judge(in), ""))
	}
	return j
}
