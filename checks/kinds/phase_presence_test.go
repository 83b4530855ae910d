package kinds

import (
	"strings"
	"testing"

	"handback/checks"
	"handback/checks/quantity"
	"handback/testdata/cases"
)

// A job may stand on a plan that must not be worked by: where its share is lower than
// the volts of live plant (0.8 of nominal, our choice), a reading between the two does
// not pass. 0.8·400/√3 = 184.752 V, by hand.
func TestDoubtPresence_lowShare(t *testing.T) {
	in, found := judgeChanged(t, "phase-presence", map[string]any{"checks.0.instrument": "dmm", "given": map[string]any{"by": "volts", "share": "80 %", "board": "B"},
		"answers": map[string]any{"meter": "dmm", "l1n": "190", "l2n": "230.8", "l3n": "229.9"}})
	if found.Verdict != checks.Pass {
		t.Fatalf("verdict %s, want pass", found.Verdict)
	}
	share := quantity.Percent(70)
	in.Check.Given.(*phasePresence).Share = &share
	in.Answers["l1n"] = checks.Answer{Value: 170, Unit: "V"}
	if got := checks.Judge(in); got.Verdict != checks.Inconclusive {
		t.Errorf("verdict %s, want inconclusive", got.Verdict)
	}
	if want := "170 V reaches the plan's share, but live plant reads 184.752 V (80 % of 230.94 V, our choice) or more"; !strings.Contains(cases.ToldDoubts(in), want) {
		t.Errorf("doubts %q, want %q", cases.ToldDoubts(in), want)
	}
}
