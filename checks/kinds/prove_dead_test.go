package kinds

import (
	"testing"
	"time"

	"handback/checks"
	"handback/checks/plan"
	"handback/testdata/cases"
)

// A proof of dead counts from the proof after the points, however late it is typed.
func TestProveDead_countsFromItsProof(t *testing.T) {
	trial, err := plan.LoadTrial("prove-dead.json", cases.Read(t, "prove-dead").Trial(t, nil))
	if err != nil {
		t.Fatal(err)
	}
	in, found, err := checks.JudgeTrial(trial)
	if err != nil || found.Verdict != checks.Pass {
		t.Fatalf("%s, %v", found.Verdict, err)
	}
	proved := in.Answers["after_at"].Time()
	for _, late := range []time.Duration{0, 20 * time.Minute, 3 * time.Hour} {
		in.At = proved.Add(late)
		if got := checks.Judge(in); got.Verdict != checks.Pass || !got.Until.Equal(proved.Add(time.Hour)) {
			t.Errorf("typed %s late: %s, counts until %s, want %s", late, got.Verdict, got.Until, proved.Add(time.Hour))
		}
	}
}
