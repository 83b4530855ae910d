package kinds

import (
	"fmt"
	"math"
	"math/cmplx"
	"testing"

	"pgregory.net/rapid"

	"handback/checks/calc"
	"handback/checks/power"
)

// acrossPole and fromPole are what the trees of a sync check come to.
func acrossPole(a, b, deg float64) float64 {
	return poleVolts(calc.K(a), calc.K(b), calc.K(deg)).Eval(nil)
}

func fromPole(a, b, v float64) float64 {
	return angleFromPole(calc.K(a), calc.K(b), calc.K(v)).Eval(nil)
}

// The table of 2V·sin(δ/2) is printed per unit of phase volts; the other rows are derived
// from the cosine rule, those at 400 V as the diagonal of the nine volts across two boards.
func TestPoleVolts_printed(t *testing.T) {
	unit := math.Sqrt(3) // line volts of 1 per unit phase volts
	for _, c := range []struct{ a, b, deg, want, tol float64 }{
		{unit, unit, 10, 0.1743, 5e-5}, {unit, unit, 20, 0.3473, 5e-5}, {unit, unit, 30, 0.5176, 5e-5}, {unit, unit, 60, 1, 1e-9}, {unit, unit, 120, 1.7321, 5e-5},
		{410, 400, 10, 41.16, 5e-3}, {400, 400, -30, 119.5, 0.05}, {400, 400, 60, 230.9, 0.05}, {400, 400, 120, 400, 1e-9}, {400, 400, 180, 461.9, 0.05},
	} {
		wantNear(t, fmt.Sprint(c), acrossPole(c.a, c.b, c.deg), c.want, c.tol)
	}
}

func TestPoleVolts_numpy(t *testing.T) {
	for i, c := range readPowerCases(t).Sync {
		wantNear(t, fmt.Sprint(i, " pole"), acrossPole(c.A, c.B, c.Angle), c.Pole, 1e-9*c.Pole)
		wantNear(t, fmt.Sprint(i, " angle"), fromPole(c.A, c.B, c.Pole), math.Abs(c.Angle), 1e-9*math.Abs(c.Angle))
	}
}

func TestPoleVolts_areThePhasorDifference(t *testing.T) {
	volts, ratio, turn := rapid.Float64Range(50, 15e3), rapid.Float64Range(0.5, 2), rapid.Float64Range(-720, 720)
	rapid.Check(t, func(r *rapid.T) {
		a, deg := volts.Draw(r, "a"), turn.Draw(r, "deg")
		b := a * ratio.Draw(r, "b over a")
		got := acrossPole(a, b, deg)
		wantNear(r, "pole", got, cmplx.Abs(power.Polar(a, 0)-power.Polar(b, deg))/math.Sqrt(3), 1e-9*(a+b))
		// Near 0° and 180° the angle hangs on the square root of a rounding.
		wantNear(r, "angle", fromPole(a, b, got), math.Abs(math.Remainder(deg, 360)), 1e-5)
	})
}

// A small angle keeps its digits: sides of like volts stand 2·arcsin(√3·V/2U) apart. By
// the cosine rule 0.1 mV at 400 V comes out 0.025 % low.
func TestAngleFromPole_smallAngles(t *testing.T) {
	for _, v := range []float64{1, 0.1, 0.01, 1e-3, 1e-4} {
		want := 2 * math.Asin(math.Sqrt(3)*v/800) * 180 / math.Pi
		wantNear(t, fmt.Sprint(v, " V"), fromPole(400, 400, v), want, 1e-12*want)
	}
}

// Where neither an angle nor a pole was read, nothing stands in step that the vector
// groups put apart.
func TestSync_doubtsNoAngleThatWasNotRead(t *testing.T) {
	for _, read := range []bool{true, false} {
		set := map[string]any{"plant.transformers.1.group": "Yy0"}
		for _, pole := range poleKeys {
			if !read {
				set["answers."+pole] = nil
			}
		}
		in, _ := judgedCase(t, "sync", set)
		if doubts := in.Doubts(); len(doubts) > 0 != read {
			t.Errorf("poles read: %v, doubts %v", read, doubts)
		}
	}
}

func TestAngleFromPole_edges(t *testing.T) {
	for _, v := range []float64{10, 41.16, 119.5, 231, 400, 460} {
		wantNear(t, fmt.Sprint(v, " V by the cosine rule"), fromPole(410, 400, v), math.Acos((410*410+400*400-3*v*v)/(2*410*400))*180/math.Pi, 1e-9)
	}
	wantNear(t, "in step", fromPole(400, 400, 0), 0, 0)
	wantNear(t, "less than the difference of the sides", fromPole(410, 400, 5), 0, 0)
	wantNear(t, "opposed", fromPole(410, 400, 810/math.Sqrt(3)), 180, 1e-2)
	wantNear(t, "more than both sides", fromPole(410, 400, 1000), 180, 1e-9)
	for _, v := range [][3]float64{{nan, 400, 10}, {400, nan, 10}, {400, 400, nan}} {
		if got := fromPole(v[0], v[1], v[2]); !math.IsNaN(got) {
			t.Errorf("angle of %v is %v", v, got)
		}
	}
}
