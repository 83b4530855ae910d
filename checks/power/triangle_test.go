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

func TestTriangle_domain(t *testing.T) {
	for _, ll := range badVolts() {
		_, err := power.Triangle(ll)
		refused(t, fmt.Sprint(ll), err, power.ErrVolts)
	}
	// A slipped decimal, and a hair beyond flat.
	for _, ll := range [][3]float64{{400, 0.4, 401}, {400, 400, 4000}, {100, 200, 300.001}, {0, 400, 399}} {
		_, err := power.Triangle(ll)
		refused(t, fmt.Sprint(ll), err, power.ErrTriangle)
	}
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
