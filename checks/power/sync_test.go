package power_test

import (
	"fmt"
	"math"
	"math/cmplx"
	"testing"

	"pgregory.net/rapid"

	"handback/checks/power"
)

func TestPoleVolts_isThePhasorDifference(t *testing.T) {
	volts, ratio := rapid.Float64Range(50, 15e3), rapid.Float64Range(0.5, 2)
	rapid.Check(t, func(r *rapid.T) {
		u1, deg := volts.Draw(r, "u1"), rapid.Float64Range(-720, 720).Draw(r, "deg")
		u2 := u1 * ratio.Draw(r, "u2/u1")
		got := must[float64](r)(power.PoleVolts(u1, u2, deg))
		want := cmplx.Abs(power.Polar(u1, 0)-power.Polar(u2, deg)) / math.Sqrt(3)
		within(r, "pole", got, want, 1e-9*(u1+u2))
		back := must[float64](r)(power.AngleFromPole(u1, u2, got))
		// Near 0° and 180° the angle hangs on the square root of a rounding.
		within(r, "angle", back, math.Abs(math.Remainder(deg, 360)), 1e-5)
	})
}

func TestAngleFromPole_isTheCosineRule(t *testing.T) {
	for _, v := range []float64{10, 41.16, 119.5, 231, 400, 460} {
		want := math.Acos((410*410+400*400-3*v*v)/(2*410*400)) * 180 / math.Pi
		near(t, fmt.Sprint(v, " V"), must[float64](t)(power.AngleFromPole(410, 400, v)), want, 1e-9)
	}
}

func TestAngleFromPole_edges(t *testing.T) {
	within(t, "in step", must[float64](t)(power.AngleFromPole(400, 400, 0)), 0, 0)
	within(t, "in phase, unlike volts", must[float64](t)(power.AngleFromPole(410, 400, 10/math.Sqrt(3))), 0, 1e-3)
	within(t, "opposed", must[float64](t)(power.AngleFromPole(410, 400, 810/math.Sqrt(3))), 180, 1e-2)
	for _, v := range []float64{0, 5, 468, 1000} {
		_, err := power.AngleFromPole(410, 400, v)
		refused(t, fmt.Sprint(v, " V cannot close"), err, power.ErrPole)
	}
}

func TestSync_domain(t *testing.T) {
	for _, x := range []float64{0, -400, math.NaN(), math.Inf(1)} {
		_, err := power.PoleVolts(x, 400, 0)
		refused(t, fmt.Sprint("u1 ", x), err, power.ErrVolts)
		_, err = power.PoleVolts(400, x, 0)
		refused(t, fmt.Sprint("u2 ", x), err, power.ErrVolts)
		_, err = power.AngleFromPole(x, 400, 10)
		refused(t, fmt.Sprint("u1 from pole ", x), err, power.ErrVolts)
		_, err = power.AngleFromPole(400, x, 10)
		refused(t, fmt.Sprint("u2 from pole ", x), err, power.ErrVolts)
	}
	for _, x := range []float64{-1, math.NaN(), math.Inf(1)} {
		_, err := power.AngleFromPole(400, 400, x)
		refused(t, fmt.Sprint("pole ", x), err, power.ErrVolts)
		_, err = power.AngleAtTouch(0, 0.1, x)
		refused(t, fmt.Sprint("closing time ", x), err, power.ErrSync)
	}
	for _, x := range []float64{math.NaN(), math.Inf(1), math.Inf(-1)} {
		_, err := power.PoleVolts(400, 400, x)
		refused(t, fmt.Sprint("angle ", x), err, power.ErrVolts)
		_, err = power.AngleAtTouch(x, 0, 0)
		refused(t, fmt.Sprint("angle at the order ", x), err, power.ErrSync)
		_, err = power.AngleAtTouch(0, x, 0.1)
		refused(t, fmt.Sprint("slip ", x), err, power.ErrSync)
	}
}

func TestAngleAtTouch_wraps(t *testing.T) {
	for _, c := range [][4]float64{{170, 1, 0.1, -154}, {0, 0.5, 1, 180}, {0, -0.5, 1, 180}, {-179, -0.1, 0.1, 177.4}, {10, 1, 1, 10}} {
		within(t, fmt.Sprint(c), must[float64](t)(power.AngleAtTouch(c[0], c[1], c[2])), c[3], 1e-9)
	}
}
