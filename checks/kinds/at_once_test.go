package kinds

import (
	"testing"

	"handback/checks"
	"handback/checks/plan"
	"handback/testdata/cases"
)

// What an interlock let happen, a device tried in no safe way and a breaker that stayed
// closed stop at the line that says so, and nothing else does: every case with a stop is
// stopped by the answers named, and without them it is not.
func TestStopsAtOnce(t *testing.T) {
	stops := 0
	for _, kind := range []string{"interlock", "trip-proof"} {
		f := cases.Read(t, kind)
		for _, c := range f.Cases {
			trial, err := plan.LoadTrial(kind, f.Trial(t, c.Set))
			if err != nil {
				continue
			}
			in, found, err := checks.JudgeTrial(trial)
			if err != nil {
				continue
			}
			named := in.StopsAtOnce()
			if stopped := !found.Stop.None(); stopped != (len(named) > 0) {
				t.Errorf("%s, %s: stop %q, at once by %q", kind, c.Name, found.Stop, named)
			}
			for _, key := range named {
				stops++
				in = without(in, key)
			}
			if !checks.Judge(in).Stop.None() {
				t.Errorf("%s, %s: it is stopped without %q, too", kind, c.Name, named)
			}
		}
	}
	if stops < 5 {
		t.Errorf("%d answers stop at once", stops)
	}
}
