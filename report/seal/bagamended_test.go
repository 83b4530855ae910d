package seal

import (
	"slices"
	"strings"
	"testing"

	"handback/checks"
	"handback/records/chain"
	"handback/report"
	"handback/testdata/rig"
)

// A bag holds the plan as opened and as each entry amended it: one that is gone, changed
// or made up is found, manifests made anew or not, and so is an amendment that no command
// writes.
func TestExamineBag_amended(t *testing.T) {
	amends := func(r *rig.Rig, by, from, to string) {
		text := strings.Replace(string(rig.PlanText(t, "pump.yaml")), from, to, 1)
		was := r.By
		r.By = by
		r.Put(report.EntryAmend, "", report.Amended{Why: "seen on the label", PlanFile: "pump.yaml", PlanHash: chain.HashPlan([]byte(text)), Plan: text})
		r.By = was
	}
	r := rig.New(t, "pump.yaml")
	r.Want(r.Take("isolated", rig.Isolated), checks.Pass)
	r.Want(r.Take("ir", rig.Insulated), checks.Fail)
	amends(r, "ada", "due: 2026-02-28", "due: 2027-02-28")
	j := r.Job()
	s := j.State("ir")
	r.Put(report.EntryJudge, "ir", report.NewJudged(s.Check.Kind, 1, checks.Judge(j.Again(s)), "the plan was amended"))
	good := pack(r)
	name := amendedPlan(6)
	if !strings.Contains(string(good[name]), "due: 2027-02-28") || strings.Contains(string(good[bagPlan]), "due: 2027-02-28") {
		t.Fatal("the bag does not hold both plans")
	}
	for what, c := range map[string]struct {
		change func(pile)
		want   string
	}{
		"nothing":        {func(pile) {}, ""},
		"gone":           {func(p pile) { delete(p, name) }, name + " is missing"},
		"changed":        {func(p pile) { p[name] = append([]byte("# \n"), good[name]...) }, name + " is not what the record gives"},
		"the plan put":   {func(p pile) { p[bagPlan] = good[name] }, "data/plan.yaml is not the plan the job was opened with"},
		"one more of it": {func(p pile) { p[amendedPlan(7)] = good[name] }, amendedPlan(7) + ": nothing in the record tells of it"},
	} {
		p := pile{}
		for n, content := range good {
			p[n] = content
		}
		c.change(p)
		x := examine(t, p.again(t).folder(t))
		all := strings.Join(x.Faults, "; ")
		if c.want == "" && all != "" || !strings.Contains(all, c.want) {
			t.Errorf("%s: %q, want %q", what, all, c.want)
		}
	}
	amends(r, "odo", "name: Odo Invent", "name: Odo Other")
	x := examine(t, pack(r).folder(t))
	if !slices.ContainsFunc(x.Faults, func(f string) bool {
		return strings.Contains(f, "an amendment of the plan that no command takes: people: odo")
	}) {
		t.Errorf("forged: %q", x.Faults)
	}
}
