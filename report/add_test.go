package report

import (
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"handback/checks"
)

// Entries taken up one by one make the same job as all of them folded at once, at
// every entry.
func TestAdd_asFold(t *testing.T) {
	r := told(t)
	all := r.job().Entries
	if len(all) < 10 {
		t.Fatalf("only %d entries", len(all))
	}
	grown, err := Fold(r.plan, all[:1])
	if err != nil {
		t.Fatal(err)
	}
	same := cmp.Options{cmp.AllowUnexported(Attempt{}), cmpopts.IgnoreTypes(&checks.Expr{}), cmpopts.IgnoreUnexported(checks.Finding{}, checks.Derived{}, checks.Condition{}, checks.Value{}), cmpopts.IgnoreFields(State{}, "Check"),
		cmpopts.IgnoreFields(Job{}, "Plan"), cmpopts.EquateNaNs(), cmpopts.EquateEmpty()}
	for i, e := range all[1:] {
		if err := grown.Add(e); err != nil {
			t.Fatal(err)
		}
		folded, err := Fold(r.plan, all[:i+2])
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
