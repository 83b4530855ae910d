package report_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"handback/checks"
	"handback/report"
	"handback/testdata/rig"
)

// remarked makes the next remark of a job, by whoever.
func remarked(r *rig.Rig, by, sort, check, step, text string) {
	r.Helper()
	putBy(r, by, report.EntryRemark, check, r.Job().NewRemark(sort, check, step, 0, text))
}

// gapNames are what a hold point waits for.
func gapNames(r *rig.Rig, hold string) []string {
	r.Helper()
	var out []string
	j := r.Job()
	for _, g := range j.Gaps(j.Plan.Hold(hold), r.Now) {
		out = append(out, g.Name())
	}
	return out
}

// A check whose repeat is ordered is open, whatever it came to, until a newer attempt was
// judged: one that was judged before the order meets none. A withdrawn order holds nothing.
func TestRemark_order(t *testing.T) {
	r := rig.New(t, "pump.yaml")
	r.Want(r.Take("isolated", rig.Isolated), checks.Pass)
	if why := gapOf(r, "isolated"); why != "" {
		t.Fatalf("it is open before any order: %s", why)
	}
	remarked(r, "eva", report.RemarkOrder, "isolated", "", "the picture shows another lock")
	if why := gapOf(r, "isolated"); !strings.Contains(why, "order 1: a repeat is ordered by Eva Muster: the picture") {
		t.Errorf("an ordered check is open because %q", why)
	}
	if j := r.Job(); j.StandsAt(j.State("isolated"), r.Now) != report.StandsOpen {
		t.Errorf("it stands as %s", j.StandsAt(j.State("isolated"), r.Now))
	}
	if it, ok := r.Job().Next(r.Now); !ok || it.ID() != "isolated" {
		t.Errorf("next is %q, not what was ordered", it.ID())
	}
	if err := r.Job().MayRemark("eva", "isolated", r.Job().NewRemark(report.RemarkOrder, "isolated", "", 0, "the picture shows another lock")); err == nil {
		t.Error("a repeat is ordered twice")
	}
	r.Read("isolated", rig.Isolated, nil, "ordered")
	if gapOf(r, "isolated") == "" {
		t.Error("an attempt that is begun meets the order")
	}
	r.Want(r.Judge("isolated", ""), checks.Pass)
	if why := gapOf(r, "isolated"); why != "" {
		t.Errorf("after the repeat it is open: %s", why)
	}
	remarked(r, "eva", report.RemarkOrder, "isolated", "", "and once more in daylight")
	putBy(r, "eva", report.EntryWithdraw, "", report.Withdrawn{Remark: 2, Why: "the picture came out well"})
	if why := gapOf(r, "isolated"); why != "" {
		t.Errorf("a withdrawn order holds: %s", why)
	}
	if faults := r.Job().RuleFaults(); len(faults) > 0 {
		t.Errorf("faults %q", faults)
	}
}

// A question about what lies above a hold point, or about the job, holds it until somebody
// else answers; a comment holds nothing.
func TestRemark_question(t *testing.T) {
	for _, place := range []string{"isolated", ""} {
		r := rig.New(t, "pump.yaml")
		r.Want(r.Take("isolated", rig.Isolated), checks.Pass)
		remarked(r, "eva", report.RemarkComment, place, "", "reads well")
		was := gapNames(r, "energise")
		remarked(r, "eva", report.RemarkQuestion, place, "", "which lock is it?")
		if got := gapNames(r, "energise"); !slices.Equal(got, append(was, "question 2")) {
			t.Errorf("place %q: the hold waits for %q, before the question for %q", place, got, was)
		}
		if o := r.Job().Overall(r.Now); !slices.ContainsFunc(o.Against, func(s string) bool { return strings.Contains(s, "question 2") }) {
			t.Errorf("place %q: nothing of it stands against the job: %q", place, o.Against)
		}
		r.Put(report.EntryAnswer, "", report.Answered{Remark: 2, Text: "14"})
		if got := gapNames(r, "energise"); !slices.Equal(got, was) {
			t.Errorf("place %q: after the answer it waits for %q, want %q", place, got, was)
		}
		if faults := r.Job().RuleFaults(); len(faults) > 0 {
			t.Errorf("faults %q", faults)
		}
	}
}

// A question about a step that is left or undone keeps it from being done, a plain one too;
// what another hand recorded all the same was done past it.
func TestRemark_holdsItsStep(t *testing.T) {
	r := sectionB(t)
	did(r, "open-q2")
	r.Put(report.EntryUndo, "", report.Undone{Step: "open-q2", Done: r.Now.Format(time.RFC3339), Why: "the wrong cubicle"})
	remarked(r, "jonas", report.RemarkQuestion, "", "open-q2", "whose lock hung there?")
	if err := r.Job().Held(r.Plan.Step("open-q2")); err == nil || !strings.Contains(err.Error(), "question 1") {
		t.Errorf("a step with a question is held by %v", err)
	}
	did(r, "open-q2")
	j := r.Job()
	if open := j.Steps["open-q2"].Open; len(open) != 1 || open[0].Name() != "question 1" {
		t.Errorf("it waited for %+v", open)
	}
	if faults := strings.Join(j.RuleFaults(), "\n"); !strings.Contains(faults, "open-q2 was done while it waited for question 1") {
		t.Errorf("faults %q", faults)
	}
}

// A remark on what an amendment took out of the plan holds every hold point until who made
// it withdraws it: nobody gets round an order by renaming its check.
func TestRemark_takenOut(t *testing.T) {
	r := rig.New(t, "pump.yaml")
	r.Want(r.Take("isolated", rig.Isolated), checks.Pass)
	remarked(r, "eva", report.RemarkOrder, "isolated", "", "the picture shows another lock")
	putBy(r, "eva", report.EntryAmend, "", amended(r, "called by its new name", "check: isolated", "check: isolation"))
	if got := gapNames(r, "energise"); !slices.Contains(got, "order 1") {
		t.Errorf("the hold waits for %q", got)
	}
	putBy(r, "eva", report.EntryWithdraw, "", report.Withdrawn{Remark: 1, Why: "it is asked for by its new name"})
	if got := gapNames(r, "energise"); slices.Contains(got, "order 1") {
		t.Errorf("withdrawn, the hold waits for %q", got)
	}
}

// An order on a step is met when the step was done again, and the hold point below waits.
func TestRemark_step(t *testing.T) {
	r := sectionB(t)
	did(r, "open-q2")
	below := ""
	for _, it := range r.Plan.Items() {
		if it.Hold != nil {
			below = it.Hold.ID
			break
		}
	}
	remarked(r, "jonas", report.RemarkOrder, "", "open-q2", "nobody saw the flag of the switch")
	if got := gapNames(r, below); !slices.Contains(got, "order 1") {
		t.Errorf("hold %s waits for %q", below, got)
	}
	r.Put(report.EntryUndo, "", report.Undone{Step: "open-q2", Done: r.Now.Format(time.RFC3339), Why: "to do it again"})
	if got := gapNames(r, below); !slices.Contains(got, "order 1") {
		t.Errorf("undone, hold %s waits for %q", below, got)
	}
	did(r, "open-q2")
	if got := gapNames(r, below); slices.Contains(got, "order 1") {
		t.Errorf("done again, hold %s waits for %q", below, got)
	}
}

// What another hand put into a record and no command writes orders, answers and withdraws
// nothing, and is named.
func TestRemark_forged(t *testing.T) {
	order := func(r *rig.Rig, by string) {
		remarked(r, by, report.RemarkOrder, "isolated", "", "the picture shows another lock")
	}
	for name, c := range map[string]struct {
		forge  func(r *rig.Rig)
		stands int // remarks that wait afterwards
		want   string
	}{
		"an engineer":        {func(r *rig.Rig) { order(r, "eva") }, 1, ""},
		"a technician":       {func(r *rig.Rig) { order(r, "ada") }, 0, "Ada Example is technician in the plan: a review is an engineer's"},
		"an owner":           {func(r *rig.Rig) { order(r, "odo") }, 0, "is owner in the plan"},
		"nothing to repeat":  {func(r *rig.Rig) { remarked(r, "eva", report.RemarkOrder, "hv", "", "read it twice") }, 0, "is not judged: there is nothing to repeat"},
		"without a reason":   {func(r *rig.Rig) { remarked(r, "eva", report.RemarkOrder, "isolated", "", " ") }, 0, "gives no reason"},
		"of nothing":         {func(r *rig.Rig) { remarked(r, "eva", report.RemarkOrder, "", "", "all of it again") }, 0, "names a check or a step"},
		"of a step not done": {func(r *rig.Rig) { remarked(r, "eva", report.RemarkOrder, "", "energise", "nobody looked") }, 0, "was not done: there is nothing to repeat"},
		"no sort":            {func(r *rig.Rig) { remarked(r, "eva", "demand", "isolated", "", "now") }, 0, `"demand" is no sort of remark`},
		"no words":           {func(r *rig.Rig) { remarked(r, "eva", report.RemarkQuestion, "isolated", "", " ") }, 0, "a question needs words"},
		"no such check":      {func(r *rig.Rig) { remarked(r, "eva", report.RemarkQuestion, "nothing", "", "what of it?") }, 0, `check "nothing" is not in the plan`},
		"an older attempt": {func(r *rig.Rig) {
			d := r.Job().NewRemark(report.RemarkOrder, "isolated", "", 0, "read it twice")
			d.Attempt = 0
			putBy(r, "eva", report.EntryRemark, "isolated", d)
		}, 0, "attempt 0 is not the newest that was judged"},
		"ordered twice": {func(r *rig.Rig) { order(r, "eva"); order(r, "eva") }, 1, "order 1 orders that already"},
		"answered by who asked": {func(r *rig.Rig) {
			remarked(r, "eva", report.RemarkQuestion, "isolated", "", "which lock is it?")
			putBy(r, "eva", report.EntryAnswer, "", report.Answered{Remark: 1, Text: "14"})
		}, 1, "nobody answers a question of their own"},
		"an answer to an order": {func(r *rig.Rig) {
			order(r, "eva")
			r.Put(report.EntryAnswer, "", report.Answered{Remark: 1, Text: "no"})
		}, 1, "order 1 is no question"},
		"an answer to nothing": {func(r *rig.Rig) { r.Put(report.EntryAnswer, "", report.Answered{Remark: 7, Text: "no"}) }, 0, "there is no question 7"},
		"withdrawn by another": {func(r *rig.Rig) {
			order(r, "eva")
			r.Put(report.EntryWithdraw, "", report.Withdrawn{Remark: 1, Why: "it takes too long"})
		}, 1, "nobody else withdraws order 1"},
		"withdrawn twice": {func(r *rig.Rig) {
			order(r, "eva")
			for range 2 {
				putBy(r, "eva", report.EntryWithdraw, "", report.Withdrawn{Remark: 1, Why: "the picture came out well"})
			}
		}, 0, "there is nothing to withdraw"},
		"looked at by a technician": {func(r *rig.Rig) { r.Put(report.EntryReview, "", report.Reviewed{Points: []report.Looked{}}) }, 0, "a review that no command writes"},
	} {
		t.Run(name, func(t *testing.T) {
			r := rig.New(t, "pump.yaml")
			r.Want(r.Take("isolated", rig.Isolated), checks.Pass)
			c.forge(r)
			j := r.Job()
			if got := len(j.StandingRemarks()); got != c.stands {
				t.Errorf("%d remarks wait, want %d", got, c.stands)
			}
			faults := strings.Join(j.RuleFaults(), "\n")
			if c.want == "" && faults != "" || !strings.Contains(faults, c.want) {
				t.Errorf("faults %q, want %q", faults, c.want)
			}
		})
	}
}

// Nobody accepts a finding whose repeat is ordered.
func TestRemark_accepted_while_ordered(t *testing.T) {
	r := rig.New(t, "pump.yaml")
	r.Want(r.Take("isolated", rig.Isolated), checks.Pass)
	r.Want(r.Take("ir", rig.Insulated), checks.Fail) // the tester is out of date
	j := r.Job()
	if err := j.MayAccept(j.State("ir"), "eva", "compared with a resistor"); err != nil {
		t.Fatal(err)
	}
	remarked(r, "eva", report.RemarkOrder, "ir", "", "with a tester that is in date")
	concedesIR := report.Conceded{Attempt: 1, Engineer: "eva", Verdict: checks.Fail, Reason: "compared with a resistor"}
	putBy(r, "eva", report.EntryConcede, "ir", concedesIR)
	if j = r.Job(); j.State("ir").IsConceded() || !strings.Contains(j.State("ir").Concession.Void, "order 1 stands") {
		t.Errorf("it is accepted: %+v", j.State("ir").Concession)
	}
}
