package kinds

import (
	"math"
	"strings"
	"testing"

	"handback/checks"
)

// What plan check prints of a Dyn11 of 11 kV/433 V at 400 V: numpy, phasors turned by 30°
// a number; and all six numbers that its windings can have, none that they cannot.
func TestVectorGroupPredict(t *testing.T) {
	got := predicted(t, "vector-group", nil)
	for _, says := range []string{"Dyn11: 1V-2V 386.4 V, 1V-2W 386.4 V, 1W-2V 400.3 V, 1W-2W 386.4 V", "Dyn5: 1V-2V 413.7 V, 1V-2W 413.7 V, 1W-2V 400.3 V, 1W-2W 413.7 V", "Dyn1: ", "Dyn3: ", "Dyn7: ", "Dyn9: "} {
		if !strings.Contains(got, says) {
			t.Errorf("predicts\n%s\nwant %q", got, says)
		}
	}
	if n := strings.Count(got, "\n") + 1; n != 6 {
		t.Errorf("%d lines, want 6", n)
	}
	if single := predicted(t, "vector-group", map[string]any{"given.supply": "single-phase", "answers": map[string]any{}}); !strings.Contains(single, "fed 1U-1W, Dyn11: 1V-2V 200.0 V, 1V-2W 186.4 V, 1W-2V 400.0 V, 1W-2W 386.4 V") {
		t.Errorf("single-phase predicts\n%s", single)
	}
}

// The form expects what the plate gives of the HV volts as they were read: numpy, 236∠3°,
// 226∠−118°, 231∠124° V; 20 % of 400·433/11000 V are 3.149 V.
func TestVectorGroupExpect(t *testing.T) {
	in, _ := judgeChanged(t, "vector-group", map[string]any{"answers.hv_uv": "402.134", "answers.hv_vw": "391.734", "answers.hv_wu": "406.464"})
	f, ok := checks.FieldNamed(in.Form(), "wv")
	if !ok || f.Expect == nil || !(math.Abs(f.Expect.Value-406.297) <= 0.002) || !(math.Abs(f.Expect.High-f.Expect.Value-3.1491) <= 0.0001) {
		t.Errorf("expects %+v", f.Expect)
	}
}
