package power

import (
	"fmt"
	"math"
)

// PoleVolts returns the volts across each pole of an open three-pole device between two balanced systems with tied neutrals:
//
//	v = √(u1² + u2² − 2·u1·u2·cos φ) / √3
//
//	u1, u2   volts between conductors on each side, V, > 0
//	deg      φ, angle between the sides, degrees, any finite value
//	v        volts across one pole, V (phase volts: 180° at 400 V gives 461.9)
//
// ErrVolts for anything outside that.
func PoleVolts(u1, u2, deg float64) (float64, error) {
	if !isPositive(u1, u2) || !isFinite(deg) {
		return 0, fmt.Errorf("%w: %g V and %g V at %g degrees, want volts above zero and a finite angle", ErrVolts, u1, u2, deg)
	}
	// (u1−u2)² + 4·u1·u2·sin²(φ/2) is the same sum, and stays accurate at the small angles that matter.
	half := math.Sin(math.Remainder(deg, 360) * math.Pi / 360)
	return math.Hypot(u1-u2, 2*math.Sqrt(u1)*math.Sqrt(u2)*half) / math.Sqrt(3), nil
}

// AngleFromPole returns the angle between two balanced systems from the volts across one open pole, the reverse of PoleVolts:
//
//	cos φ = (u1² + u2² − 3v²) / (2·u1·u2)
//
//	u1, u2   volts between conductors on each side, V, > 0
//	v        volts across one open pole, V, ≥ 0
//	deg      |φ|, degrees, 0 to 180: the volts cannot tell which side leads
//
// The same holds for other consistent readings: give √3 times phase volts as u1 and u2. ErrVolts for values out of domain; ErrPole when
// √3·v is less than the difference of u1 and u2 or more than their sum, with a slack of 1e-9 for rounding. Near 0° a small
// reading error makes a large error of angle.
func AngleFromPole(u1, u2, v float64) (float64, error) {
	if !isPositive(u1, u2) || !isFinite(v) || !(v >= 0) {
		return 0, fmt.Errorf("%w: %g V and %g V with %g V across the pole, want volts above zero, across the pole zero or above", ErrVolts, u1, u2, v)
	}
	line := math.Sqrt(3) * v
	low, high := math.Abs(u1-u2), u1+u2
	if slack := closeSlack * high; !(line >= low-slack) || !(line <= high+slack) {
		return 0, fmt.Errorf("%w: %g V and %g V with %g V across the pole, want %.4g to %.4g V; read all three again",
			ErrPole, u1, u2, v, low/math.Sqrt(3), high/math.Sqrt(3))
	}
	square := (line - low) / u1 * ((line + low) / u2) / 4 // sin²(φ/2)
	half := math.Sqrt(math.Min(math.Max(square, 0), 1))
	return 2 * math.Asin(half) * 180 / math.Pi, nil
}

// AngleAtTouch returns the angle when the contacts meet, from the angle when the closing order is given:
//
//	φ_touch = deg + 360·slipHz·closeS, brought into (-180, 180]
//
//	deg      angle at the order, degrees, positive = incoming side leads
//	slipHz   frequency of the incoming side less that of the bar, Hz
//	closeS   closing time of the breaker, s, ≥ 0
//
// ErrSync for a value that is not finite or a negative closing time. Source: derived; the advance angle of common practice.
func AngleAtTouch(deg, slipHz, closeS float64) (float64, error) {
	turn := 360 * slipHz * closeS
	if !isFinite(deg, turn, closeS) || !(closeS >= 0) {
		return 0, fmt.Errorf("%w: angle %g degrees, slip %g Hz, closing time %g s: want finite values, the time zero or above", ErrSync, deg, slipHz, closeS)
	}
	return wrap(math.Remainder(deg, 360) + math.Remainder(turn, 360)), nil
}
