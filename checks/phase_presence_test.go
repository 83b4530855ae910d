package checks

import (
	"strings"
	"testing"
)

// A job may stand on a plan that must not be worked by: where its share is lower than
// the volts of live plant (0.8 of nominal, our choice), a reading between the two does
// not pass. 0.8·400/√3 = 184.752 V, by hand.
func TestDoubtPresence_lowShare(t *testing.T) {
	in, found := judgeChanged(t, "phase-presence", map[string]any{"checks.0.instrument": "dmm", "given": map[string]any{"by": "volts", "share": "80 %", "board": "B"},
		"answers": map[string]any{"meter": "dmm", "l1n": "190", "l2n": "230.8", "l3n": "229.9"}})
	if found.Verdict != Pass {
		t.Fatalf("verdict %s, want pass", found.Verdict)
	}
	share := Percent(70)
	in.Check.Given.(*phasePresence).Share = &share
	in.Answers["l1n"] = Answer{Value: 170, Unit: "V"}
	if got := Judge(in); got.Verdict != Inconclusive {
		t.Errorf("verdict %s, want inconclusive", got.Verdict)
	}
	if want := "170 V reaches the plan's share, but live plant stands at 184.752 V (80 % of 230.94 V, our choice) or more"; !strings.Contains(toldDoubts(in), want) {
		t.Errorf("doubts %q, want %q", toldDoubts(in), want)
	}
}
