package power

import (
	"math"
	"math/cmplx"
)

// rot is the operator a = 1∠120°, and rot2 its square, with the exact real part.
var (
	rot  = complex(-0.5, math.Sqrt(3)/2)
	rot2 = complex(-0.5, -math.Sqrt(3)/2)
)

// Polar returns the phasor of magnitude mag at deg degrees:
//
//	z = mag·(cos deg + j·sin deg)
//
// Any real mag and deg; a negative mag turns the phasor by 180°. A NaN or infinite argument gives a NaN phasor, which every
// function of this package that takes a phasor refuses.
func Polar(mag, deg float64) complex128 {
	// Whole turns are taken off in degrees, where they are exact.
	return cmplx.Rect(mag, math.Remainder(deg, 360)*math.Pi/180)
}

// Degrees returns the angle of z in degrees, in (-180, 180].
//
// Special cases:
//
//	Degrees(0) = 0
//	Degrees of a negative real = 180, whatever the sign of its zero imaginary part
//	Degrees of a NaN phasor = NaN
func Degrees(z complex128) float64 {
	if z == 0 {
		return 0
	}
	return wrap(cmplx.Phase(z) * 180 / math.Pi)
}

// wrap brings an angle in degrees into (-180, 180].
func wrap(deg float64) float64 {
	d := math.Remainder(deg, 360)
	if d == -180 {
		return 180
	}
	return d
}

// Sequence returns the zero, positive and negative sequence components of three phasors in the order L1, L2, L3, referred to L1:
//
//	zero = (V1 + V2 + V3)/3
//	pos  = (V1 + a·V2 + a²·V3)/3
//	neg  = (V1 + a²·V2 + a·V3)/3      a = 1∠120°
//
// The components have the unit of v. Any finite phasors; NaN goes through to the result. Source: C. L. Fortescue, 1918;
// IEC 60027-7 (from memory) for the names.
func Sequence(v [3]complex128) (zero, pos, neg complex128) {
	zero = (v[0] + v[1] + v[2]) / 3
	pos = (v[0] + rot*v[1] + rot2*v[2]) / 3
	neg = (v[0] + rot2*v[1] + rot*v[2]) / 3
	return zero, pos, neg
}
