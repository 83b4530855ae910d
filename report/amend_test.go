package report_test

import (
	"encoding/json"
	"slices"
	"strings"
	"testing"
	"time"

	"handback/checks"
	"handback/records/chain"
	"handback/report"
	"handback/testdata/rig"
)

// amended is an amendment of the plan in force: pairs of old and new text.
func amended(r *rig.Rig, why string, pairs ...string) report.Amended {
	r.Helper()
	return amendedFrom(r, string(rig.PlanText(r, "pump.yaml")), why, pairs...)
}

// amendedFrom is amended, of a job that was opened with another plan than pump.yaml.
func amendedFrom(r *rig.Rig, text, why string, pairs ...string) report.Amended {
	r.Helper()
	if a := r.Job().Amendments; len(a) > 0 {
		text = a[len(a)-1].Amended.Plan
	}
	for i := 0; i < len(pairs); i += 2 {
		if !strings.Contains(text, pairs[i]) {
			r.Fatalf("the plan does not hold %q", pairs[i])
		}
	}
	text = strings.NewReplacer(pairs...).Replace(text)
	return report.Amended{Why: why, PlanFile: "pump.yaml", PlanHash: chain.HashPlan([]byte(text)), Plan: text}
}

func putBy(r *rig.Rig, by, kind, check string, data any) {
	r.Helper()
	was := r.By
	r.By = by
	r.Put(kind, check, data)
	r.By = was
}

// judgeAgain records what the newest attempt comes to by the plan in force.
func judgeAgain(r *rig.Rig, check string) checks.Verdict {
	r.Helper()
	j := r.Job()
	s := j.State(check)
	is := report.NewJudged(s.Check.Kind, s.Last().Number, checks.Judge(j.Again(s)), "the plan was amended")
	r.Put(report.EntryJudge, check, is)
	return is.Verdict
}

// gapOf is why a check keeps the job from being ready, by a hold point that needs all
// above it.
func gapOf(r *rig.Rig, check string) string {
	r.Helper()
	j := r.Job()
	for _, g := range j.Gaps(j.Plan.Hold("energise"), r.Now) {
		if g.Check == check {
			return g.Why
		}
	}
	return ""
}

const (
	oldDue   = "due: 2026-02-28"
	newDue   = "due: 2027-02-28"
	oldLimit = "unit: MΩ, low: 100 MΩ"
	newLimit = "unit: MΩ, low: 900 MΩ"
)

// An entry is judged by the plan in force when it was made; a check that an amendment
// changes counts only when it is judged again, and by the plan as amended.
func TestAmend_plan_in_force(t *testing.T) {
	r := rig.New(t, "pump.yaml")
	r.Want(r.Take("isolated", rig.Isolated), checks.Pass)
	r.Want(r.Take("ir", rig.Insulated), checks.Fail) // the tester is out of date by the plan
	putBy(r, "eva", report.EntryAmend, "", amended(r, "the label says 2027", oldDue, newDue))
	j := r.Job()
	if len(j.Differs) > 0 || len(j.RuleFaults()) > 0 {
		t.Fatalf("what was recorded before the amendment is judged by it: %v %v", j.Differs, j.RuleFaults())
	}
	if got := gapOf(r, "ir"); !strings.Contains(got, "the plan was amended (entry 6), and attempt 1 was not judged again") {
		t.Errorf("gap %q", got)
	}
	if got := gapOf(r, "isolated"); got != "" {
		t.Errorf("a check that was not changed does not keep its pass: %q", got)
	}
	r.Want(judgeAgain(r, "ir"), checks.Pass)
	if got := gapOf(r, "ir"); got != "" || len(r.Job().Differs) > 0 {
		t.Errorf("judged again: gap %q, differs %v", got, r.Job().Differs)
	}
	then, err := r.Job().Upto(5)
	if err != nil || then.State("ir").Verdict() != checks.Fail || then.Force() != then.PlanHash {
		t.Errorf("as it stood before: %v %v", then.State("ir").Verdict(), err)
	}
	// A limit moved under a pass: the same readings come to fail. 850 MΩ is below 900 MΩ.
	putBy(r, "eva", report.EntryAmend, "", amended(r, "the standard says 900", oldLimit, newLimit))
	r.Want(judgeAgain(r, "ir"), checks.Fail)
	if d := r.Job().Differs; len(d) > 0 {
		t.Errorf("differs: %v", d)
	}
}

// What a technician changed frees no hold point, and keeps the job from being ready,
// until an engineer of the plan as it was decided last accepts it.
func TestAmend_is_an_engineers_to_accept(t *testing.T) {
	r := rig.New(t, "pump.yaml")
	r.Want(r.Take("isolated", rig.Isolated), checks.Pass)
	r.Take("ir", rig.Insulated)
	limit := amended(r, "the label says 2027, the standard 10", oldDue, newDue, oldLimit, "unit: MΩ, low: 10 MΩ",
		"role: owner, firm: Example Water}", "role: owner, firm: Example Water}\n  - {id: zoe, name: Zoe New, role: engineer}")
	r.Put(report.EntryAmend, "", limit)
	r.Want(judgeAgain(r, "ir"), checks.Pass)
	if got := gapOf(r, "ir"); !strings.Contains(got, "this check was changed by an amendment of the plan that no engineer has accepted") {
		t.Errorf("gap %q", got)
	}
	if got := gapOf(r, "isolated"); got != "" {
		t.Errorf("a check it did not change: %q", got)
	}
	if against := r.Job().Overall(r.Now).Against; len(against) != 1 || !strings.Contains(against[0], "not accepted by an engineer") {
		t.Errorf("against: %q", against)
	}
	for _, by := range []string{"ada", "odo", "zoe"} { // zoe is an engineer by that very amendment
		if err := r.Job().MayAcceptPlan(by, "seen on site tonight"); err == nil {
			t.Errorf("%s may accept it", by)
		}
	}
	putBy(r, "eva", report.EntryAccept, "", report.AcceptedPlan{PlanHash: limit.PlanHash, Reason: "the standard was changed in March"})
	j := r.Job()
	if got := gapOf(r, "ir"); got != "" || len(j.Overall(r.Now).Against) > 0 || len(j.RuleFaults()) > 0 {
		t.Errorf("accepted: gap %q, against %v", got, j.Overall(r.Now).Against)
	}
	if err := j.MayAccept(j.State("ir"), "zoe", "accepted for the test"); err == nil || strings.Contains(err.Error(), "nobody in the plan") {
		t.Errorf("zoe is an engineer by now: %v", err)
	}
}

// Rules that every check is judged by are changed with all checks.
func TestAmend_of_the_rule(t *testing.T) {
	r := rig.New(t, "pump.yaml")
	r.Want(r.Take("isolated", rig.Isolated), checks.Pass)
	r.Put(report.EntryAmend, "", amended(r, "no time for doubts", "instruments:\n", "rule: simple\ninstruments:\n"))
	if got := gapOf(r, "isolated"); !strings.Contains(got, "what every check is judged with was changed") {
		t.Errorf("gap %q", got)
	}
}

// A check that is taken out keeps its attempts on record and in the handover; put in
// again it has them, to be judged again. One of another kind is another check.
func TestAmend_taken_out(t *testing.T) {
	text := string(rig.PlanText(t, "pump.yaml"))
	from, to := strings.Index(text, "  - check: ir"), strings.Index(text, "  - hold: energise")
	ir := text[from:to]
	r := rig.New(t, "pump.yaml")
	r.Take("isolated", rig.Isolated)
	r.Take("ir", rig.Insulated)
	putBy(r, "eva", report.EntryAmend, "", amended(r, "the cable is new, tested by its maker", ir, ""))
	j := r.Job()
	if len(j.TakenOut) != 1 || len(j.TakenOut[0].Attempts) != 1 || j.State("ir") != nil {
		t.Fatalf("taken out: %v", j.TakenOut)
	}
	if faults := j.RuleFaults(); len(faults) > 0 {
		t.Errorf("faults: %v", faults)
	}
	var handed struct {
		TakenOut []struct {
			Check, Stands string
			Attempts      []json.RawMessage
		} `json:"taken_out"`
		Amendments []struct {
			Differs []struct{ Path string }
		}
	}
	data, err := j.HandoverData(r.Now)
	if err == nil {
		err = json.Unmarshal(data, &handed)
	}
	if err != nil || len(handed.TakenOut) != 1 || handed.TakenOut[0].Check != "ir" || handed.TakenOut[0].Stands != report.StandsTakenOut || len(handed.TakenOut[0].Attempts) != 1 {
		t.Errorf("handover data: %+v %v", handed, err)
	}
	if d := handed.Amendments[0].Differs; len(d) != 1 || d[0].Path != "steps[ir]" {
		t.Errorf("differs: %v", d)
	}
	if uses := j.Uses(); !slices.ContainsFunc(uses, func(u report.Use) bool { return u.Check == "ir" && u.Serial == "EX-300" }) {
		t.Errorf("what was read is no use of its instrument any longer: %v", uses)
	}
	kind := strings.Replace(strings.Replace(ir, "kind: measure", "kind: confirm", 1), ir[strings.Index(ir, "    instrument:"):], "    given: {statements: [The cable is new]}\n", 1)
	putBy(r, "eva", report.EntryAmend, "", amended(r, "its maker's sheet is looked at", "  - hold: energise", kind+"  - hold: energise"))
	if j = r.Job(); len(j.TakenOut) != 1 || len(j.State("ir").Attempts) > 0 {
		t.Errorf("a check of another kind has the attempts of the one taken out")
	}
	putBy(r, "eva", report.EntryAmend, "", amended(r, "the sheet was lost, it is tested", kind, ir))
	if j = r.Job(); len(j.State("ir").Attempts) != 1 || !j.State("ir").MustJudge() || len(j.TakenOut) != 1 {
		t.Errorf("put in again: %d attempts, taken out %d", len(j.State("ir").Attempts), len(j.TakenOut))
	}
}

// A check moved to the other side of a hold point whose step was taken is taken again.
func TestAmend_moved_across_a_hold(t *testing.T) {
	text := string(rig.PlanText(t, "pump.yaml"))
	from, to := strings.Index(text, "  - check: ir"), strings.Index(text, "  - hold: energise")
	ir := text[from:to]
	r := rig.New(t, "pump.yaml")
	r.Take("isolated", rig.Isolated)
	r.Take("ir", rig.Insulated)
	step(r, "energise", r.Now)
	putBy(r, "eva", report.EntryAmend, "", amended(r, "insulation is measured live", ir, "", "  - check: hv\n", ir+"  - check: hv\n"))
	j := r.Job()
	if why := j.Lapsed(j.State("ir")); !strings.Contains(why, "moved it to the other side of hold energise") {
		t.Errorf("lapsed: %q", why)
	}
}

// An attempt that was begun goes on by the plan as amended.
func TestAmend_begun(t *testing.T) {
	r := rig.New(t, "pump.yaml")
	r.Take("isolated", rig.Isolated)
	r.Read("ir", rig.Typed{"meter": "old", "p1": "850"}, nil, "")
	putBy(r, "eva", report.EntryAmend, "", amended(r, "the label says 2027", oldDue, newDue))
	r.Read("ir", rig.Typed{"p2": "1.2 GΩ", "p3": "910"}, nil, "")
	j := r.Job()
	s := j.State("ir")
	in := j.Input(s.Check, r.Now)
	f := checks.Judge(in)
	r.Put(report.EntryJudge, "ir", report.NewJudged(s.Check.Kind, 1, f, ""))
	if j = r.Job(); j.State("ir").Verdict() != checks.Pass || len(j.Differs) > 0 {
		t.Errorf("%s, differs %v", j.State("ir").Verdict(), j.Differs)
	}
}

// Amendments that no command writes are named, however sound the chain; what cannot be
// followed is an error.
func TestAmend_forged(t *testing.T) {
	text := string(rig.PlanText(t, "pump.yaml"))
	for name, c := range map[string]struct {
		forge func(r *rig.Rig)
		fault string // of the rules
		err   string // of the fold
	}{
		"sound": {forge: func(r *rig.Rig) { r.Put(report.EntryAmend, "", amended(r, "the label says 2027", oldDue, newDue)) }},
		"without a word": {forge: func(r *rig.Rig) { r.Put(report.EntryAmend, "", amended(r, " ", oldDue, newDue)) },
			fault: "an amendment of the plan that does not say why"},
		"by nobody": {forge: func(r *rig.Rig) {
			putBy(r, "zoe", report.EntryAmend, "", amended(r, "the label says 2027", oldDue, newDue))
		},
			fault: "who made it, is no person of the plan"},
		"by one it brings in": {forge: func(r *rig.Rig) {
			putBy(r, "zoe", report.EntryAmend, "", amended(r, "zoe is here tonight", "  - {id: odo", "  - {id: zoe, name: Zoe New, role: engineer}\n  - {id: odo"))
		}, fault: "who made it, is no person of the plan"},
		"another name": {forge: func(r *rig.Rig) {
			r.Put(report.EntryAmend, "", amended(r, "ada is another", "Ada Example, role: technician", "Ida Example, role: technician"))
		}, fault: "an amendment of the plan that no command takes: people: ada"},
		"another role, accepted by herself": {forge: func(r *rig.Rig) {
			a := amended(r, "ada decides tonight", "Ada Example, role: technician", "Ada Example, role: engineer")
			r.Put(report.EntryAmend, "", a)
			r.Put(report.EntryAccept, "", report.AcceptedPlan{PlanHash: a.PlanHash, Reason: "ada decides tonight"})
		}, fault: "no engineer of the plan as it was last decided"},
		"another role, accepted without a key": {forge: func(r *rig.Rig) {
			a := amended(r, "ada decides tonight", "Ada Example, role: technician", "Ada Example, role: engineer")
			r.Put(report.EntryAmend, "", a)
			putBy(r, "eva", report.EntryAccept, "", report.AcceptedPlan{PlanHash: a.PlanHash, Reason: "ada decides tonight"})
		}, fault: "an acceptance of the plan that accepts nothing: it is not signed"},
		"nothing else": {forge: func(r *rig.Rig) { r.Put(report.EntryAmend, "", amended(r, "looked at again")) },
			fault: "it says nothing else"},
		"read with, and out": {forge: func(r *rig.Rig) {
			meter := text[strings.Index(text, "  - id: old"):strings.Index(text, "plant:\n")]
			r.Put(report.EntryAmend, "", amended(r, "it went back to the shop", meter, "", "    instrument: old\n", ""))
		}, fault: "instruments: old is not in it, and check ir was read with it"},
		"a step that was taken": {forge: func(r *rig.Rig) {
			step(r, "energise", r.Now)
			r.Put(report.EntryAmend, "", amended(r, "nothing was closed", "Close the HV breaker of T1", "Look at the HV breaker of T1"))
		}, fault: "step energise (Close the HV breaker of T1) is not in it as before"},
		"accepted by a technician": {forge: func(r *rig.Rig) {
			a := amended(r, "the label says 2027", oldDue, newDue)
			r.Put(report.EntryAmend, "", a)
			r.Put(report.EntryAccept, "", report.AcceptedPlan{PlanHash: a.PlanHash, Reason: "seen on the label"})
		}, fault: "an acceptance of the plan that accepts nothing: Ada Example is no engineer"},
		"another plan accepted": {forge: func(r *rig.Rig) {
			r.Put(report.EntryAmend, "", amended(r, "the label says 2027", oldDue, newDue))
			putBy(r, "eva", report.EntryAccept, "", report.AcceptedPlan{PlanHash: r.Job().PlanHash, Reason: "seen on the label"})
		}, fault: "is not the one in force"},
		"other bytes": {forge: func(r *rig.Rig) {
			a := amended(r, "the label says 2027", oldDue, newDue)
			a.PlanHash = r.Job().PlanHash
			r.Put(report.EntryAmend, "", a)
		}, err: "the plan in it has SHA-256"},
		"no plan": {forge: func(r *rig.Rig) {
			r.Put(report.EntryAmend, "", report.Amended{Why: "nothing is left", PlanFile: "x.yaml", PlanHash: chain.HashPlan([]byte("x")), Plan: "x"})
		}, err: "x.yaml:1:1"},
		"another id": {forge: func(r *rig.Rig) {
			r.Put(report.EntryAmend, "", amended(r, "another job", "id: pump-t1", "id: pump-t9"))
		},
			fault: "its id is pump-t9"},
	} {
		r := rig.New(t, "pump.yaml")
		r.Take("isolated", rig.Isolated)
		r.Take("ir", rig.Insulated)
		c.forge(r)
		entries, err := r.Book.Entries(rig.Ctx, r.ID)
		if err != nil {
			t.Fatal(err)
		}
		j, err := report.Fold(r.Plan, entries)
		if c.err != "" {
			if err == nil || !strings.Contains(err.Error(), c.err) {
				t.Errorf("%s: error %v, want %q", name, err, c.err)
			}
			continue
		}
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		faults := strings.Join(j.RuleFaults(), "; ")
		if c.fault == "" && faults != "" || !strings.Contains(faults, c.fault) {
			t.Errorf("%s: %q, want %q", name, faults, c.fault)
		}
		if c.fault != "" && j.Overall(r.Now.Add(time.Minute)).Ready {
			t.Errorf("%s: ready", name)
		}
	}
}
