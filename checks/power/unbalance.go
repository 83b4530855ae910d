package power

import (
	"fmt"
	"math"
)

// Unbalance returns the negative over the positive sequence voltage from the three line volts alone:
//
//	u2 = √((1 − √(3 − 6β)) / (1 + √(3 − 6β)))     β = (U12⁴ + U23⁴ + U31⁴) / (U12² + U23² + U31²)²
//
//	ll   volts between conductors, V, ≥ 0, able to close a triangle
//	u2   ratio, 0 (balanced) to 1 (flat triangle: one conductor dead or two alike)
//
// Three magnitudes cannot tell the sequence, so the larger component is taken as the positive one: rotation needs its own
// check. ErrVolts for NaN, infinite, negative or all-zero volts; ErrTriangle when no triangle has these sides.
// Source: IEC 61000-4-30:2015, 5.7.1.
func Unbalance(ll [3]float64) (float64, error) {
	top, err := checkSides(ll)
	if err != nil {
		return 0, err
	}
	var x [3]float64
	for i, u := range ll {
		x[i] = (u / top) * (u / top)
	}
	// With q = 2·Σ(Ui²−Uj²)²/(ΣU²)² the root of the standard is √(3−6β) = √(1−q), and the ratio is √q/(1+√(1−q)):
	// the same value without the difference of two nearly equal numbers, which would spoil a small unbalance.
	sum := x[0] + x[1] + x[2]
	spread := 0.0
	for i := range x {
		d := (x[i] - x[(i+1)%3]) / sum
		spread += float64(d * d)
	}
	q := math.Min(2*spread, 1) // above 1 only by the slack of checkSides
	return math.Sqrt(q) / (1 + math.Sqrt(1-q)), nil
}

// GreatestDeviation returns the greatest deviation of three volts from their mean, as a ratio to the mean:
//
//	d = max|Ui − Um| / Um     Um = (U1 + U2 + U3)/3
//
//	v   volts, V, ≥ 0, not all zero; line volts in the NEMA definition
//	d   ratio, 0 to 2
//
// The mean is not rounded. This is not Unbalance: 460, 467, 450 V gives 1.96 % here and 2.15 % there, so a limit must name its
// definition. ErrVolts for NaN, infinite, negative or all-zero volts. Source: NEMA MG 1, 14.36 (from memory of the clause number).
func GreatestDeviation(v [3]float64) (float64, error) {
	top, err := largest(v)
	if err != nil {
		return 0, fmt.Errorf("deviation from the mean: %w", err)
	}
	mean := (v[0]/top + v[1]/top + v[2]/top) / 3
	worst := 0.0
	for _, u := range v {
		worst = math.Max(worst, math.Abs(u/top-mean))
	}
	return worst / mean, nil
}
