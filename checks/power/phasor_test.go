package power_test

import (
	"math"
	"math/cmplx"
	"testing"

	"pgregory.net/rapid"

	"handback/checks/power"
)

func TestPolar_quarters(t *testing.T) {
	for deg, want := range map[float64]complex128{0: 2, 90: 2i, -90: -2i, 180: -2, 450: 2i, 36e6 + 90: 2i} {
		withinZ(t, "Polar(2, …)", power.Polar(2, deg), want, 1e-12)
	}
}

func TestDegrees_special(t *testing.T) {
	minus := math.Copysign(0, -1)
	for z, want := range map[complex128]float64{0: 0, 1: 0, -1: 180, complex(-1, minus): 180, 1i: 90, -1i: -90} {
		if got := power.Degrees(z); got != want {
			t.Errorf("Degrees(%v) = %v, want %v", z, got, want)
		}
	}
	if got := power.Degrees(cmplx.NaN()); !math.IsNaN(got) {
		t.Errorf("Degrees(NaN) = %v, want NaN", got)
	}
}

func TestPolar_Degrees_roundTrip(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		deg := rapid.Float64Range(-1e6, 1e6).Draw(r, "deg")
		got := power.Degrees(power.Polar(rapid.Float64Range(1e-3, 1e6).Draw(r, "mag"), deg))
		if !(got > -180) || !(got <= 180) {
			r.Fatalf("%v is outside (-180, 180]", got)
		}
		if off := math.Abs(math.Remainder(got-deg, 360)); !(off <= 1e-9) {
			r.Fatalf("angle %v came back as %v", deg, got)
		}
	})
}

func TestSequence_rebuildsThePhasors(t *testing.T) {
	part := rapid.Float64Range(-500, 500)
	rapid.Check(t, func(r *rapid.T) {
		var v [3]complex128
		for i := range v {
			v[i] = complex(part.Draw(r, "re"), part.Draw(r, "im"))
		}
		zero, pos, neg := power.Sequence(v)
		for i := range v {
			turn := power.Polar(1, -120*float64(i))
			withinZ(r, "phasor", zero+pos*turn+neg*cmplx.Conj(turn), v[i], 1e-9)
		}
	})
}

func TestSequence_balanced(t *testing.T) {
	v := [3]complex128{power.Polar(230, 10), power.Polar(230, -110), power.Polar(230, 130)}
	zero, pos, neg := power.Sequence(v)
	withinZ(t, "zero", zero, 0, 1e-12)
	withinZ(t, "positive", pos, v[0], 1e-12)
	withinZ(t, "negative", neg, 0, 1e-12)
	// The same conductors with two crossed are all negative.
	_, pos, neg = power.Sequence([3]complex128{v[0], v[2], v[1]})
	withinZ(t, "positive, crossed", pos, 0, 1e-12)
	withinZ(t, "negative, crossed", neg, v[0], 1e-12)
}
