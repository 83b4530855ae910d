package power

import (
	"math"
	"math/cmplx"
)

// Triangle returns the conductors L1, L2, L3 as points of the plane from the three volts between them.
//
//	ll       volts L1-L2, L2-L3, L3-L1, V, able to close a triangle
//	points   L1, L2, L3 as phasors, V, from the centroid of the triangle
//
// The sequence is L1-L2-L3 by assumption (magnitudes cannot tell it) and the positive sequence component lies on the positive
// real axis, so the points of a balanced system are at 0°, -120° and 120°. A flat triangle is accepted here and gives points
// on one line. ErrVolts for NaN, infinite, negative or all-zero volts; ErrTriangle when no triangle has these sides.
func Triangle(ll [3]float64) ([3]complex128, error) {
	top, err := checkSides(ll)
	if err != nil {
		return [3]complex128{}, err
	}
	// The longest side is the base: nothing is divided by a short one.
	i := 0
	for n := range ll {
		if ll[n] > ll[i] {
			i = n
		}
	}
	j, k := (i+1)%3, (i+2)%3
	opposite, adjacent := ll[j]/top, ll[k]/top // from k to j, and from k to i, base = 1
	along := (1 + (adjacent-opposite)*(adjacent+opposite)) / 2
	height := math.Sqrt(math.Max((adjacent-along)*(adjacent+along), 0))

	var p [3]complex128
	p[i], p[j] = 0, 1
	p[k] = complex(along, -height) // clockwise: L2 lags L1
	zero, pos, _ := Sequence(p)
	turn := complex(top, 0) * cmplx.Conj(pos) / complex(cmplx.Abs(pos), 0)
	for n := range p {
		p[n] = (p[n] - zero) * turn
	}
	return p, nil
}
