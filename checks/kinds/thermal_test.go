package kinds

import "testing"

// A joint is doubted from more than 5 K under the air on (our choice): the air at 21.5 °C.
func TestThermal_colderThanAir(t *testing.T) {
	for joint, want := range map[string]bool{"16.5": false, "16.4": true, "21.4": false} {
		in, _ := judgedCase(t, "thermal", map[string]any{"answers.inc_l1": joint})
		if got := len(in.Doubts()) > 0; got != want {
			t.Errorf("joint at %s °C in air of 21.5 °C: doubts %v", joint, in.Doubts())
		}
	}
}
