package grid

import (
	"testing"

	"handback/checks"
)

// A grey copy must still tell verdicts apart, so each has a border of its own, and
// every fill is a grey.
func TestVerdictLooks_differ_without_colour(t *testing.T) {
	seen := map[string]checks.Verdict{}
	for i := range checks.Verdicts() {
		v := checks.Verdict(i)
		l := VerdictLook(v)
		if other, twice := seen[l.Border]; twice || borders[l.Border] == 0 || !l.Bold {
			t.Errorf("%s: border %q (as %s), bold %v", v, l.Border, other, l.Bold)
		}
		seen[l.Border] = v
		if l.Fill != "" && (l.Fill[:2] != l.Fill[2:4] || l.Fill[:2] != l.Fill[4:]) {
			t.Errorf("%s: fill %s is no grey", v, l.Fill)
		}
		if (l.Fill == "000000") != l.White {
			t.Errorf("%s: fill %q with white letters %v", v, l.Fill, l.White)
		}
	}
}
