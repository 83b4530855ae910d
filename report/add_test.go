package report_test

import (
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"handback/checks"
	"handback/checks/calc"
	"handback/report"
	"handback/testdata/rig"
)

// Entries taken up one by one make the same job as all of them folded at once, at
// every entry.
func TestAdd_asFold(t *testing.T) {
	r := rig.Told(t)
	all := r.Job().Entries
	if len(all) < 10 {
		t.Fatalf("only %d entries", len(all))
	}
	grown, err := report.Fold(r.Plan, all[:1])
	if err != nil {
		t.Fatal(err)
	}
	same := cmp.Options{cmp.AllowUnexported(report.Attempt{}), cmpopts.IgnoreTypes(&calc.Expr{}), cmpopts.IgnoreUnexported(checks.Finding{}, checks.Derived{}, checks.Condition{}, checks.Value{}), cmpopts.IgnoreFields(report.State{}, "Check"),
		cmpopts.IgnoreFields(report.Job{}, "Plan"), cmpopts.IgnoreUnexported(report.Job{}, report.Step{}), cmpopts.EquateNaNs(), cmpopts.EquateEmpty()}
	for i, e := range all[1:] {
		if err := grown.Add(e); err != nil {
			t.Fatal(err)
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
