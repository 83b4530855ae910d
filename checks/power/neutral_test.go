package power_test

import (
	"fmt"
	"math"
	"math/cmplx"
	"testing"

	"pgregory.net/rapid"

	"handback/checks/power"
)

// misfit is the r.m.s. residual of a point, written out from its definition.
func misfit(points [3]complex128, ln [3]float64, n complex128) float64 {
	sum := 0.0
	for i, p := range points {
		r := cmplx.Abs(n-p) - ln[i]
		sum += r * r
	}
	return math.Sqrt(sum / 3)
}

func TestNeutral_recoversAnyPoint(t *testing.T) {
	part := rapid.Float64Range(-600, 600)
	rapid.Check(t, func(r *rapid.T) {
		points, ll := drawTriangle(r)
		if area(points, ll) < 0.05 || math.Max(ll[0], ll[1]) < 50 {
			r.Skip("flat, or too small to see the point from")
		}
		want := complex(part.Draw(r, "n re"), part.Draw(r, "n im"))
		var ln [3]float64
		for i, p := range points {
			ln[i] = cmplx.Abs(want - p)
		}
		got, residual, err := power.Neutral(points, ln)
		if err != nil {
			r.Fatal(err)
		}
		withinZ(r, "neutral", got, want, 1e-7)
		within(r, "residual", residual, 0, 1e-8)
	})
}

// With readings that contradict one another the point must still be the best there is: no point near or far fits better.
func TestNeutral_isTheLeastSquaresPoint(t *testing.T) {
	side := rapid.Float64Range(380, 420)
	phase := rapid.Float64Range(0, 900)
	rapid.Check(t, func(r *rapid.T) {
		points, err := power.Triangle([3]float64{side.Draw(r, "12"), side.Draw(r, "23"), side.Draw(r, "31")})
		if err != nil {
			r.Fatal(err)
		}
		ln := [3]float64{phase.Draw(r, "1"), phase.Draw(r, "2"), phase.Draw(r, "3")}
		n, residual, err := power.Neutral(points, ln)
		if err != nil {
			r.Fatal(err)
		}
		within(r, "residual", residual, misfit(points, ln, n), 1e-9)
		for _, reach := range []float64{1e-3, 1, 30, 300} {
			for deg := 0.0; deg < 360; deg += 15 {
				other := n + power.Polar(reach, deg)
				if m := misfit(points, ln, other); m < residual-1e-9 {
					r.Fatalf("misfit %.9g at %v, less than %.9g at the point found %v", m, other, residual, n)
				}
			}
		}
	})
}

func TestNeutral_special(t *testing.T) {
	points, err := power.Triangle([3]float64{400, 400, 400})
	if err != nil {
		t.Fatal(err)
	}
	star := 400 / math.Sqrt(3)
	n, residual, err := power.Neutral(points, [3]float64{star, star, star})
	if err != nil {
		t.Fatal(err)
	}
	withinZ(t, "centred", n, 0, 1e-9)
	within(t, "residual", residual, 0, 1e-9)

	// L2 earthed: the neutral point is that conductor, and U0 is the full phase voltage.
	n, residual, err = power.Neutral(points, [3]float64{400, 0, 400})
	if err != nil {
		t.Fatal(err)
	}
	withinZ(t, "on L2", n, points[1], 1e-9)
	within(t, "residual on L2", residual, 0, 1e-9)
	volts, ratio, err := power.ZeroSequence(points, n)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "U0", volts, star, 1e-12)
	near(t, "U0/U1", ratio, 1, 1e-12)

	// Three equal readings far too long: the centroid is the worst point of all, and a level one. By symmetry the best is on
	// the axis of one conductor; it is found here by a plain search along that axis.
	long := [3]float64{600, 600, 600}
	n, residual, err = power.Neutral(points, long)
	if err != nil {
		t.Fatal(err)
	}
	best := math.Inf(1)
	for x := -900.0; x <= 900; x += 0.01 {
		best = math.Min(best, misfit(points, long, complex(x, 0)))
	}
	within(t, "residual of long readings", residual, best, 1e-4)
	within(t, "misfit at the point", misfit(points, long, n), residual, 1e-9)

	// A slipped digit shows in the residual: 231 read as 213.
	_, residual, err = power.Neutral(points, [3]float64{star, 213, star})
	if err != nil {
		t.Fatal(err)
	}
	if !(residual > 3) {
		t.Errorf("residual %v V hides a slip of 18 V", residual)
	}
}

func TestNeutral_domain(t *testing.T) {
	good, err := power.Triangle([3]float64{400, 401, 402})
	if err != nil {
		t.Fatal(err)
	}
	flat, err := power.Triangle([3]float64{200, 200, 400})
	if err != nil {
		t.Fatal(err)
	}
	for _, ln := range [][3]float64{{math.NaN(), 230, 230}, {230, math.Inf(1), 230}, {230, 230, -1}} {
		_, _, err := power.Neutral(good, ln)
		refused(t, fmt.Sprint("readings ", ln), err, power.ErrVolts)
	}
	ln := [3]float64{230, 230, 230}
	_, _, err = power.Neutral(flat, ln)
	refused(t, "flat", err, power.ErrFlat)
	thin, err := power.Triangle([3]float64{200, 200, 399.9999999999})
	if err != nil {
		t.Fatal(err)
	}
	_, _, err = power.Neutral(thin, ln)
	refused(t, "all but flat", err, power.ErrFlat)
	_, _, err = power.Neutral([3]complex128{1, 1, 1}, ln)
	refused(t, "one point", err, power.ErrFlat)
	_, _, err = power.Neutral([3]complex128{cmplx.NaN(), 1, 1i}, ln)
	refused(t, "NaN conductor", err, power.ErrVolts)
	_, _, err = power.ZeroSequence([3]complex128{cmplx.Inf(), 1, 1i}, 0)
	refused(t, "infinite conductor", err, power.ErrVolts)
	_, _, err = power.ZeroSequence([3]complex128{1, 1, 1}, 0)
	refused(t, "no positive sequence", err, power.ErrVolts)
	_, _, err = power.ZeroSequence(good, cmplx.NaN())
	refused(t, "NaN neutral", err, power.ErrVolts)
}

// Whatever is read, the answer is a number or a named error.
func TestNeutral_neverNaN(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		var points [3]complex128
		var ln [3]float64
		for i := range points {
			points[i] = complex(rapid.Float64().Draw(r, "re"), rapid.Float64().Draw(r, "im"))
			ln[i] = rapid.Float64().Draw(r, "ln")
		}
		n, residual, err := power.Neutral(points, ln)
		if err == nil && (cmplx.IsNaN(n) || math.IsNaN(residual) || math.IsInf(residual, 0)) {
			r.Fatalf("%v, residual %v without an error", n, residual)
		}
	})
}
