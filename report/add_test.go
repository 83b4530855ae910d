package report_test

import (
	"reflect"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"handback/checks"
	"handback/checks/calc"
	"handback/checks/plan"
	"handback/report"
	"handback/testdata/rig"
)

// Entries taken up one by one make the same job as all of them folded at once, at
// every entry.
func TestAdd_asFold(t *testing.T) {
	r := rig.Told(t)
	was := amended(r, "the label says 2027", oldDue, newDue)
	r.Put(report.EntryAmend, "", was)
	judgeAgain(r, "ir")
	putBy(r, "eva", report.EntryAccept, "", report.AcceptedPlan{PlanHash: was.PlanHash, Reason: "seen on the label"})
	r.Put(report.EntryDefect, "", report.Raised{Defect: 1, What: "a door sticks", Holds: "close"})
	r.Put(report.EntryClose, "", report.Closed{Defect: 1, Done: "planed and oiled"})
	remarked(r, "eva", report.RemarkOrder, "volts", "", "the digits are hard to read")
	remarked(r, "eva", report.RemarkQuestion, "", "", "who held the lamp?")
	r.Put(report.EntryAnswer, "", report.Answered{Remark: 2, Text: "the driver"})
	putBy(r, "eva", report.EntryWithdraw, "", report.Withdrawn{Remark: 1, Why: "a better picture came"})
	putBy(r, "eva", report.EntryReview, "", report.Reviewed{Points: []report.Looked{{What: report.FlagKept, Entry: 3}}})
	all := r.Job().Entries
	if len(all) < 10 {
		t.Fatalf("only %d entries", len(all))
	}
	grown, err := report.Fold(r.Plan, all[:1])
	if err != nil {
		t.Fatal(err)
	}
	same := cmp.Options{cmp.AllowUnexported(report.Attempt{}, report.State{}, report.Job{}, report.Step{}),
		cmp.Exporter(func(t reflect.Type) bool { return t.PkgPath() == "handback/report/history" }), cmp.Comparer(func(a, b *plan.Plan) bool {
			return (a == nil) == (b == nil) && (a == nil || len(plan.Differences(a, b)) == 0)
		}),
		cmp.Comparer(func(a, b *plan.Check) bool { return (a == nil) == (b == nil) && (a == nil || a.ID == b.ID) }), cmpopts.IgnoreTypes(&calc.Expr{}), cmpopts.IgnoreUnexported(checks.Finding{}, checks.Derived{}, checks.Condition{}, checks.Value{}),
		cmpopts.EquateNaNs(), cmpopts.EquateEmpty()}
	for i, e := range all[1:] {
		if err := grown.Add(e); err != nil {
			t.Fatal(err)
		}
		if testing.Short() && i%4 > 0 && i < len(all)-2 {
			continue
		}
		folded, err := report.Fold(r.Plan, all[:i+2])
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(folded, grown, same); diff != "" {
			t.Fatalf("after entry %d (-folded +grown):\n%s", e.Seq, diff)
		}
	}
	if err := grown.Add(all[0]); err == nil {
		t.Error("a second opening is taken up")
	}
}
