package calc

import "math"

// LeastChance is under what a chance counts as none: nobody knows an error that well.
const LeastChance = 1e-6

// ChanceAbove is the chance that an error is greater than d.
func (s Spread) ChanceAbove(d float64) float64 {
	switch {
	case d >= s.Most:
		return 0
	case d <= -s.Most:
		return 1
	}
	return betaBelow((1-d/s.Most)/2, (Square(s.Most/s.Standard)-1)/2)
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
