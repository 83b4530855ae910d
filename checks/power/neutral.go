package power

import (
	"fmt"
	"math"
	"math/cmplx"
)

const (
	flatArea  = 1e-6  // twice the area over the longest side squared: below it a point and its mirror image are not told apart
	fitStep   = 1e-14 // a step this small, of the longest side, ends the fit
	fitSlope  = 1e-7  // the greatest slope of the summed squares accepted as a minimum
	fitRounds = 500
)

// Neutral returns the point whose distances to three conductors best match three readings, by least squares:
//
//	n = argmin Σ(|n − Pi| − di)²     residual = √(Σ(|n − Pi| − di)²/3)
//
//	points     the conductors, V, from Triangle or any other common origin; not on one line
//	ln         volts from each conductor to the point sought, V, ≥ 0
//	n          the point, V, same origin
//	residual   r.m.s. misfit of the three readings, V; large when a digit slipped or two leads were swapped
//
// The point may be the neutral or any other conductor: with the conductors of side A as points and the volts A1-Bj, A2-Bj,
// A3-Bj it finds Bj. The start is the exact solution of the linear equations left when the squared circles are subtracted
// from one another; damped Newton steps refine it, and four other starts guard against a lesser minimum. ErrVolts for volts out of domain, ErrFlat when the conductors lie on one
// line (the point and its mirror image fit alike), ErrConverge when the fit finds no minimum.
func Neutral(points [3]complex128, ln [3]float64) (n complex128, residual float64, err error) {
	if !isFiniteZ(points[:]...) {
		return 0, 0, fmt.Errorf("%w: the place of a conductor is not known, want finite volts", ErrVolts)
	}
	for i, d := range ln {
		if !(d >= 0) || math.IsInf(d, 1) {
			return 0, 0, fmt.Errorf("%w: reading %d to the point is %g, want a finite number of volts, zero or above", ErrVolts, i+1, d)
		}
	}
	centre := points[0]/3 + points[1]/3 + points[2]/3
	size := 0.0
	for i := range points {
		size = math.Max(size, cmplx.Abs(points[i]-points[(i+1)%3]))
	}
	if !isPositive(size) {
		return 0, 0, fmt.Errorf("%w: all three conductors are one point, want a triangle", ErrFlat)
	}
	f := locator{}
	for i := range points {
		f.points[i] = (points[i] - centre) / complex(size, 0)
		f.dist[i] = ln[i] / size
	}
	start, ok := f.linear()
	if !ok {
		return 0, 0, fmt.Errorf("%w: conductors with %s between them lie on one line, so a point and its mirror image fit alike; want a triangle with area", ErrFlat, between(points))
	}
	// Readings that contradict one another can leave a second, worse minimum, or a start on a ridge between two.
	best, cost, found := complex(0, 0), math.Inf(1), false
	for _, s := range []complex128{start, 0, -2 * f.points[0], -2 * f.points[1], -2 * f.points[2]} {
		if z, c, ok := f.refine(s); ok && c < cost {
			best, cost, found = z, c, true
		}
	}
	if !found {
		return 0, 0, fmt.Errorf("%w: no point found for %.5g, %.5g and %.5g V to conductors with %s between them; read the three again", ErrConverge, ln[0], ln[1], ln[2], between(points))
	}
	return best*complex(size, 0) + centre, math.Sqrt(cost/3) * size, nil
}

// ZeroSequence returns the zero sequence voltage of three conductors about a neutral: the displacement of the neutral from their centroid.
//
//	U0 = |(P1 + P2 + P3)/3 − n|     ratio = U0/U1
//
//	points   conductors, V
//	n        neutral, V, same origin
//	volts    U0, V per phase
//	ratio    to the positive sequence voltage U1 of the points
//
// ErrVolts for phasors that are not finite or have no positive sequence component.
func ZeroSequence(points [3]complex128, n complex128) (volts, ratio float64, err error) {
	if !isFiniteZ(points[:]...) || !isFiniteZ(n) {
		return 0, 0, fmt.Errorf("%w: the place of a conductor or of the neutral is not known, want finite volts", ErrVolts)
	}
	zero, pos, _ := Sequence(points)
	volts = cmplx.Abs(zero - n)
	ratio = volts / cmplx.Abs(pos)
	if !isFinite(volts, ratio) {
		return 0, 0, fmt.Errorf("%w: conductors with %s between them have no positive sequence component", ErrVolts, between(points))
	}
	return volts, ratio, nil
}

// between says the volts between three conductors.
func between(p [3]complex128) string {
	return fmt.Sprintf("%.5g, %.5g and %.5g V", cmplx.Abs(p[0]-p[1]), cmplx.Abs(p[1]-p[2]), cmplx.Abs(p[2]-p[0]))
}

// locator is the least squares problem of Neutral, in units of the longest side and from the centroid.
type locator struct {
	points [3]complex128
	dist   [3]float64
}

// linear returns the point where the three circles have equal power, and false when the conductors lie on one line.
func (f *locator) linear() (complex128, bool) {
	u, v := f.points[1]-f.points[0], f.points[2]-f.points[0]
	det := float64(real(u)*imag(v)) - float64(imag(u)*real(v))
	if !(math.Abs(det) > flatArea) {
		return 0, false
	}
	// From point 0: 2·n·u = d0² − d1² + |u|², and the same with v.
	b := (f.dist[0]-f.dist[1])*(f.dist[0]+f.dist[1]) + real(u*cmplx.Conj(u))
	c := (f.dist[0]-f.dist[2])*(f.dist[0]+f.dist[2]) + real(v*cmplx.Conj(v))
	x := (float64(b*imag(v)) - float64(c*imag(u))) / (2 * det)
	y := (float64(c*real(u)) - float64(b*real(v))) / (2 * det)
	return f.points[0] + complex(x, y), true
}

// slope is what one Newton step needs at a point: the summed squares, half their gradient and half their second derivative.
type slope struct {
	cost       float64
	gx, gy     float64
	xx, xy, yy float64
}

// cost is the summed squares at n, as at gives them.
func (f *locator) cost(n complex128) (cost float64) {
	for i, p := range f.points {
		r := cmplx.Abs(n-p) - f.dist[i]
		cost += r * r
	}
	return cost
}

// at returns the slope at n.
func (f *locator) at(n complex128) slope {
	var s slope
	for i, p := range f.points {
		away := n - p
		length := cmplx.Abs(away)
		r := length - f.dist[i]
		s.cost += r * r
		bend := 1.0 // across the line to the conductor: r/length
		x, y := 1.0, 0.0
		if length > 0 {
			x, y = real(away)/length, imag(away)/length
			bend = r / length
		} else if f.dist[i] > 0 {
			continue // a peak of its own, with no slope
		}
		s.gx += r * x
		s.gy += r * y
		s.xx += x*x + bend*y*y
		s.xy += (1 - bend) * x * y
		s.yy += y*y + bend*x*x
	}
	return s
}

// step returns the damped Newton step at s, and false unless it leads downhill.
func (s slope) step(damp float64) (complex128, bool) {
	a, d := s.xx+damp, s.yy+damp
	det := a*d - s.xy*s.xy
	if !(det > 0) || !(a > 0) {
		return 0, false
	}
	z := complex((s.xy*s.gy-d*s.gx)/det, (s.xy*s.gx-a*s.gy)/det)
	return z, isFiniteZ(z)
}

// refine walks from n to a minimum by Newton steps, damped whenever a step would not lower the summed squares.
func (f *locator) refine(n complex128) (complex128, float64, bool) {
	now := f.at(n)
	damp := 0.0
	for range fitRounds {
		if step, ok := now.step(damp); ok {
			if cmplx.Abs(step) <= fitStep*(1+cmplx.Abs(n)) {
				break
			}
			if f.cost(n+step) < now.cost {
				n += step
				now = f.at(n)
				damp /= 10
				if damp < 1e-9 {
					damp = 0
				}
				continue
			}
		}
		damp = math.Max(damp*10, 1e-6)
		if damp > 1e20 {
			break
		}
	}
	_, bowl := now.step(0)
	ok := bowl && isFiniteZ(n) && isFinite(now.cost) && math.Hypot(now.gx, now.gy) <= fitSlope*(1+math.Sqrt(now.cost))
	return n, now.cost, ok
}
