package kinds

import (
	"math"
	"testing"

	"handback/checks"
)

// A cable conductor's highest resistance (IEC 60228) is that of its nominal section of
// metal, or up to a seventh more for lay, strand and tolerance. The resistivities stand
// in other standards: copper 1/58 Ω·mm²/m (IEC 60028), aluminium 0.028264 Ω·mm²/m
// (IEC 60889), both from memory.
func TestCableOhms(t *testing.T) {
	seen := 0
	for material, rho := range map[string]float64{"copper": 1.0 / 58, "aluminium": 0.028264} {
		for section, ohms := range cableOhms[material] {
			seen++
			if share := ohms / (1000 * rho / section); !(share >= 1 && share <= 8.0/7) {
				t.Errorf("%v mm² of %s: %v Ω/km is %.3f times that of its metal", section, material, ohms, share)
			}
		}
	}
	if seen < 30 {
		t.Errorf("%d sections", seen)
	}
}

// 12 m of 95 mm² copper have at most 0.193·12 = 2.316 mΩ at 20 °C, and at 40 °C
// 274.5/254.5 = 1.0785855 times as much, 2.498004 mΩ (IEC 60228, by hand).
func TestExpect_earthContinuity(t *testing.T) {
	for temp, want := range map[string]float64{"20": 2.316e-3, "40": 2.498004e-3} {
		in, _ := judgeChanged(t, "earth-continuity", map[string]any{"answers.temp": temp})
		f, _ := checks.FieldNamed(in.Form(), "tank_ohms")
		if e := f.Expect; e == nil || !(math.Abs(e.Value-want) <= 1e-9) || !(math.Abs(e.High-want) <= 1e-9) || e.Low != 1.158e-3 {
			t.Errorf("at %s °C %+v is expected, want %v Ω", temp, e, want)
		}
		if f, _ := checks.FieldNamed(in.Form(), "door_ohms"); f.Expect != nil {
			t.Errorf("%+v is expected where the plan gives a limit alone", f.Expect)
		}
	}
}
