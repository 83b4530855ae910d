package kinds

import (
	"maps"
	"slices"
)

// cableOhms is the highest resistance of a cable's conductor at 20 °C by its material
// and nominal section in mm², Ω/km: IEC 60228, solid and stranded (classes 1 and 2),
// copper plain (from memory; a test holds it against the resistivities).
var cableOhms = map[string]map[float64]float64{
	"copper": {1.5: 12.1, 2.5: 7.41, 4: 4.61, 6: 3.08, 10: 1.83, 16: 1.15, 25: 0.727, 35: 0.524, 50: 0.387, 70: 0.268, 95: 0.193,
		120: 0.153, 150: 0.124, 185: 0.0991, 240: 0.0754, 300: 0.0601, 400: 0.0470, 500: 0.0366, 630: 0.0283},
	"aluminium": {16: 1.91, 25: 1.20, 35: 0.868, 50: 0.641, 70: 0.443, 95: 0.320, 120: 0.253, 150: 0.206, 185: 0.164, 240: 0.125,
		300: 0.100, 400: 0.0778, 500: 0.0605, 630: 0.0469},
}

// cableZero is the temperature constant of a material in IEC 60228, °C: the factor to
// 20 °C is 254.5/(234.5 + θ) for copper and 248/(228 + θ) for aluminium (from memory).
var cableZero = map[string]float64{"copper": 234.5, "aluminium": 228}

// copperOhms is the resistivity of annealed copper at 20 °C, Ω·mm²/m (IEC 60028).
const copperOhms = 1.0 / 58

// sectionsOf are the sections of cables of a material, mm².
func sectionsOf(material string) []float64 {
	return slices.Sorted(maps.Keys(cableOhms[material]))
}

// alone is the resistance at 20 °C that the conductor may have without its joints, Ω.
func (c earthConductor) alone() float64 {
	if c.Shape == "bar" {
		return copperOhms * float64(*c.Length) / *c.Section
	}
	return cableOhms[c.Material][*c.Section] / 1000 * float64(*c.Length)
}

// standard is where the resistance comes from.
func (c earthConductor) standard() string {
	if c.Shape == "bar" {
		return "IEC 60028"
	}
	return "IEC 60228"
}
