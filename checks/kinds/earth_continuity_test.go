package kinds

import "testing"

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
