package power_test

import (
	"fmt"
	"math"
	"math/cmplx"
	"testing"

	"pgregory.net/rapid"

	"handback/checks/power"
)

// badVolts are three-volt readings outside every domain.
func badVolts() [][3]float64 {
	nan, inf := math.NaN(), math.Inf(1)
	return [][3]float64{{nan, 400, 400}, {400, nan, 400}, {400, 400, nan}, {inf, inf, inf}, {400, inf, 400}, {-400, 400, 400}, {}, {math.Inf(-1), 1, 1}}
}

func TestUnbalance_domain(t *testing.T) {
	for _, ll := range badVolts() {
		_, err := power.Unbalance(ll)
		refused(t, fmt.Sprint("Unbalance ", ll), err, power.ErrVolts)
		_, err = power.Triangle(ll)
		refused(t, fmt.Sprint("Triangle ", ll), err, power.ErrVolts)
		_, err = power.GreatestDeviation(ll)
		refused(t, fmt.Sprint("GreatestDeviation ", ll), err, power.ErrVolts)
	}
	// A slipped decimal, and a hair beyond flat.
	for _, ll := range [][3]float64{{400, 0.4, 401}, {400, 400, 4000}, {100, 200, 300.001}, {0, 400, 399}} {
		_, err := power.Unbalance(ll)
		refused(t, fmt.Sprint("Unbalance ", ll), err, power.ErrTriangle)
		_, err = power.Triangle(ll)
		refused(t, fmt.Sprint("Triangle ", ll), err, power.ErrTriangle)
	}
}

func TestUnbalance_special(t *testing.T) {
	for _, c := range []struct {
		ll   [3]float64
		want float64
	}{
		{[3]float64{400, 400, 400}, 0},
		{[3]float64{0, 400, 400}, 1},
		{[3]float64{100, 200, 300}, 1},
		{[3]float64{0.1, 0.2, 0.1 + 0.2}, 1},         // 0.1+0.2 is above 0.3 in binary: flat, not open
		{[3]float64{100, 200, 300 * (1 + 5e-10)}, 1}, // longer than the others together, within the slack
		{[3]float64{1e200, 1e200, 1e200}, 0},
		{[3]float64{1e-200, 1e-200, 1e-200}, 0},
		{[3]float64{math.MaxFloat64, math.MaxFloat64, math.MaxFloat64}, 0},
	} {
		within(t, fmt.Sprint(c.ll), must[float64](t)(power.Unbalance(c.ll)), c.want, 2e-4*c.want)
	}
}

// The form in use must be the formula of the standard, taken literally.
func TestUnbalance_isTheStandardFormula(t *testing.T) {
	side := rapid.Float64Range(300, 500)
	rapid.Check(t, func(r *rapid.T) {
		ll := [3]float64{side.Draw(r, "12"), side.Draw(r, "23"), side.Draw(r, "31")}
		var p2, p4 float64
		for _, u := range ll {
			p2 += u * u
			p4 += u * u * u * u
		}
		root := math.Sqrt(3 - 6*p4/(p2*p2))
		want := math.Sqrt(math.Max(0, 1-root) / (1 + root))
		within(r, "u2", must[float64](r)(power.Unbalance(ll)), want, 1e-7)
	})
}

// drawTriangle draws three conductors and returns them with the volts between them.
func drawTriangle(r *rapid.T) (points [3]complex128, ll [3]float64) {
	part := rapid.Float64Range(-300, 300)
	for i := range points {
		points[i] = complex(part.Draw(r, "re"), part.Draw(r, "im"))
	}
	for i := range points {
		ll[i] = cmplx.Abs(points[i] - points[(i+1)%3])
	}
	return points, ll
}

// area returns twice the area of the triangle over the square of its longest side.
func area(points [3]complex128, ll [3]float64) float64 {
	u, v := points[1]-points[0], points[2]-points[0]
	top := math.Max(ll[0], math.Max(ll[1], ll[2]))
	return math.Abs(real(u)*imag(v)-imag(u)*real(v)) / (top * top)
}

func TestUnbalance_agreesWithSequenceComponents(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		points, ll := drawTriangle(r)
		if area(points, ll) < 1e-3 {
			r.Skip("flat")
		}
		_, pos, neg := power.Sequence(points)
		p, n := cmplx.Abs(pos), cmplx.Abs(neg)
		want := math.Min(p, n) / math.Max(p, n)
		within(r, "u2", must[float64](r)(power.Unbalance(ll)), want, 1e-9)
	})
}

func TestTriangle_hasItsSides(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		original, ll := drawTriangle(r)
		top := math.Max(ll[0], math.Max(ll[1], ll[2]))
		if area(original, ll) < 1e-4 {
			r.Skip("flat")
		}
		points, err := power.Triangle(ll)
		if err != nil {
			r.Fatal(err)
		}
		for i := range points {
			within(r, "side", cmplx.Abs(points[i]-points[(i+1)%3]), ll[i], 1e-9*top)
		}
		zero, pos, neg := power.Sequence(points)
		withinZ(r, "centroid", zero, 0, 1e-9*top)
		within(r, "angle of the positive sequence", power.Degrees(pos), 0, 1e-9)
		if !(cmplx.Abs(pos) >= cmplx.Abs(neg)) {
			r.Errorf("sequence is not L1-L2-L3: positive %v, negative %v", pos, neg)
		}
	})
}

func TestTriangle_special(t *testing.T) {
	points, err := power.Triangle([3]float64{400, 400, 400})
	if err != nil {
		t.Fatal(err)
	}
	for i, deg := range []float64{0, -120, 120} {
		withinZ(t, "balanced", points[i], power.Polar(400/math.Sqrt(3), deg), 1e-10)
	}
	// L1 and L2 on one conductor.
	points, err = power.Triangle([3]float64{0, 400, 400})
	if err != nil {
		t.Fatal(err)
	}
	within(t, "L1-L2", cmplx.Abs(points[0]-points[1]), 0, 1e-12)
	within(t, "L2-L3", cmplx.Abs(points[1]-points[2]), 400, 1e-9)
}

func TestGreatestDeviation_range(t *testing.T) {
	within(t, "equal", must[float64](t)(power.GreatestDeviation([3]float64{230, 230, 230})), 0, 1e-15)
	near(t, "one alive", must[float64](t)(power.GreatestDeviation([3]float64{230, 0, 0})), 2, 1e-12)
	near(t, "one dead", must[float64](t)(power.GreatestDeviation([3]float64{230, 230, 0})), 1, 1e-12)
	near(t, "huge", must[float64](t)(power.GreatestDeviation([3]float64{math.MaxFloat64, 0, 0})), 2, 1e-12)
}
