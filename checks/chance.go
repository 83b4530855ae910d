package checks

import "math"

// leastChance is under what a chance counts as none: nobody knows an error that well.
const leastChance = 1e-6

// chanceOut is the chance that the true value lies beyond the limit (JCGM 106:2012,
// 7). The error is taken as spread by the symmetric beta distribution between −Most
// and +Most with standard deviation u (our choice), of shape
//
//	p = ((Most/u)² − 1)/2
//
// which is the rectangle for a single reading (p = 1) and comes near the normal
// distribution for a sum of many; beyond the sum of the half-widths it is exactly 0.
// What is below 1e-6 is 0. With no uncertainty it is 0 or 1; with one that is not
// known NaN.
func chanceOut(x float64, s Spread, l Limit) float64 {
	if math.IsNaN(x) || math.IsNaN(s.U) || math.IsNaN(l.Low) && math.IsNaN(l.High) {
		return math.NaN()
	}
	if s.U == 0 {
		if decide(x, 0, l, false) == Pass {
			return 0
		}
		return 1
	}
	out := 0.0
	if !math.IsNaN(l.High) {
		out += s.chanceAbove(l.High - x)
	}
	if !math.IsNaN(l.Low) {
		out += s.chanceAbove(x - l.Low)
	}
	if out < leastChance {
		return 0
	}
	return math.Min(out, 1)
}

// chanceAbove is the chance that an error is greater than d.
func (s Spread) chanceAbove(d float64) float64 {
	switch {
	case d >= s.Most:
		return 0
	case d <= -s.Most:
		return 1
	}
	return betaBelow((1-d/s.Most)/2, (square(s.Most/s.Standard)-1)/2)
}

// betaBelow is the chance that a value of the beta distribution with both shapes p
// lies below x, 0 < x < 1: the regularized incomplete beta function I_x(p, p), by
// its continued fraction (NIST DLMF 8.17.22, from memory of the number), worked out by
// the method of Lentz.
func betaBelow(x, p float64) float64 {
	if x > 0.5 {
		return 1 - betaBelow(1-x, p)
	}
	both, _ := math.Lgamma(2 * p)
	each, _ := math.Lgamma(p)
	front := math.Exp(both-2*each+p*math.Log(x)+p*math.Log1p(-x)) / p
	const tiny, rounds = 1e-300, 500
	c, d := 1.0, 1-2*p*x/(p+1)
	if d == 0 {
		d = tiny
	}
	d = 1 / d
	f := d
	for m := 1.0; m < rounds; m++ {
		even := m * (p - m) * x / ((p + 2*m - 1) * (p + 2*m))
		odd := -(p + m) * (2*p + m) * x / ((p + 2*m) * (p + 2*m + 1))
		before := f
		for _, term := range []float64{even, odd} {
			d, c = 1+term*d, 1+term/c
			if d == 0 {
				d = tiny
			}
			if c == 0 {
				c = tiny
			}
			d = 1 / d
			f *= c * d
		}
		if math.Abs(f-before) <= 1e-16*math.Abs(f) {
			break
		}
	}
	return front * f
}
