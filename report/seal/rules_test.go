package seal

import (
	"testing"

	"handback/testdata/rig"
)

// A record that commands wrote breaks no rule.
func TestRuleFaults_sound(t *testing.T) {
	for name, r := range map[string]*rig.Rig{"told": rig.Told(t), "bag": bagRig(t)} {
		if faults := r.Job().RuleFaults(); len(faults) > 0 {
			t.Errorf("%s: %q", name, faults)
		}
	}
}
