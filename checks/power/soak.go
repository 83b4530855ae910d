package power

import (
	"fmt"
	"math"
)

// Heating is the curve of a body that warms under a steady load, θ(t) = θ∞ − (θ∞ − θ0)·e^(−t/τ), with the standard
// errors that the scatter of the readings leaves. A curve that falls has Final below Start.
type Heating struct {
	Start, Final           float64 // θ0 at the first reading and θ∞, °C
	Tau                    float64 // time constant τ, in the unit of the times, > 0
	Scatter                float64 // standard deviation of the readings about the curve, K
	StartError, FinalError float64 // standard errors, K
	TauError               float64 // standard error, in the unit of the times
}

const (
	// leastReadings is one more than the curve's three unknowns, so that something is left to tell its scatter by.
	leastReadings = 4

	// tauFrom and tauTo bound the time constant that is looked for, as a share of the time from the first reading
	// to the last: below, the readings are a step; above, they are a straight line to one part in 400 of the rise.
	tauFrom, tauTo = 0.02, 50
	tauSteps       = 60

	fitSteps = 200
	fitDone  = 1e-12 // relative size of the last step
)

// FitHeating fits the heating curve to readings by least squares:
//
//	min Σ (y_i − θ(t_i))²      θ(t) = θ∞ − (θ∞ − θ0)·e^(−(t − t_1)/τ)
//
//	t   times of the readings, any one unit, rising, at least four
//	y   temperatures, °C, above absolute zero, not all alike
//
// The start is the best of a row of time constants, for each of which θ∞ and θ0 follow by linear least squares; from
// there steps of Levenberg and Marquardt. Scatter is √(RSS/(n − 3)); the standard errors are the roots of the diagonal of
// Scatter²·(JᵀJ)⁻¹. They hold for a curve nearly straight in its unknowns: where TauError is not small beside Tau, the
// bend was hardly seen and θ∞ is a guess.
//
// ErrCurve when the readings are out of domain, all alike, a step, or so straight that the time constant is more than 50
// times their span; ErrConverge when the steps do not settle.
func FitHeating(t, y []float64) (Heating, error) { return NewHeatings(t).Fit(y) }

// Heatings fits curves to readings of the same times, one after the other.
type Heatings struct {
	t, x   []float64      // the times, and the same from 0 to 1
	decays []heatingDecay // of the time constants to begin with
}

// heatingDecay is a time constant with its decay e^(−x/τ) at every time.
type heatingDecay struct {
	tau   float64
	e     []float64
	mean  float64
	about float64 // Σ(e − mean)²
}

// NewHeatings takes times; what is wrong with them, Fit says.
func NewHeatings(t []float64) *Heatings { return &Heatings{t: t} }

// Fit is FitHeating.
func (f *Heatings) Fit(y []float64) (Heating, error) {
	t := f.t
	if err := heatingDomain(t, y); err != nil {
		return Heating{}, err
	}
	n := len(t)
	span := t[n-1] - t[0]
	f.prepare(span)
	x := f.x
	p, err := f.start(y)
	if err != nil {
		return Heating{}, err
	}
	if p, err = heatingSteps(x, y, p); err != nil {
		return Heating{}, err
	}
	if !(p[2] >= tauFrom/2 && p[2] <= 2*tauTo) {
		return Heating{}, fmt.Errorf("%w: the time constant comes to %g times the span of the readings", ErrCurve, p[2])
	}
	normal, _, rss := heatingNormal(x, y, p)
	h := Heating{Start: p[1], Final: p[0], Tau: p[2] * span, Scatter: math.Sqrt(rss / float64(n-3))}
	var spread [3]float64
	for k := range spread {
		var unit [3]float64
		unit[k] = 1
		column, ok := solve3(normal, unit)
		if !ok {
			return Heating{}, fmt.Errorf("%w: the readings leave the curve open", ErrCurve)
		}
		spread[k] = h.Scatter * math.Sqrt(column[k])
	}
	h.FinalError, h.StartError, h.TauError = spread[0], spread[1], spread[2]*span
	return h, nil
}

// At is the curve's temperature at a time after the first reading.
func (h Heating) At(t float64) float64 {
	return h.Final - float64((h.Final-h.Start)*math.Exp(-t/h.Tau))
}

func heatingDomain(t, y []float64) error {
	if len(t) != len(y) || len(t) < leastReadings {
		return fmt.Errorf("%w: %d times and %d temperatures, want as many of both and at least %d", ErrCurve, len(t), len(y), leastReadings)
	}
	alike := true
	for i := range t {
		if !isFinite(t[i], y[i]) || !(y[i] >= -273.15) {
			return fmt.Errorf("%w: reading %d is %g °C at %g, want finite numbers and no less than −273.15 °C", ErrCurve, i+1, y[i], t[i])
		}
		if i > 0 && !(t[i] > t[i-1]) {
			return fmt.Errorf("%w: reading %d at %g comes after %g, want rising times", ErrCurve, i+1, t[i], t[i-1])
		}
		alike = alike && y[i] == y[0]
	}
	if span := t[len(t)-1] - t[0]; alike || math.IsInf(span, 0) {
		return fmt.Errorf("%w: %d readings of %g °C over %g: nothing changes", ErrCurve, len(t), y[0], span)
	}
	return nil
}

// prepare works out what no temperature has a part in.
func (f *Heatings) prepare(span float64) {
	if f.x != nil {
		return
	}
	for i := range f.t {
		f.x = append(f.x, (f.t[i]-f.t[0])/span)
	}
	for k := range tauSteps + 1 {
		d := heatingDecay{tau: tauFrom * math.Pow(tauTo/tauFrom, float64(k)/tauSteps)}
		for _, x := range f.x {
			d.e = append(d.e, math.Exp(-x/d.tau))
			d.mean += d.e[len(d.e)-1] / float64(len(f.x))
		}
		for _, e := range d.e {
			d.about += float64((e - d.mean) * (e - d.mean))
		}
		f.decays = append(f.decays, d)
	}
}

// start gives the best (θ∞, θ0, τ) among fixed time constants, τ in spans.
func (f *Heatings) start(y []float64) ([3]float64, error) {
	var best [3]float64
	least, at := math.Inf(1), 0
	for k, d := range f.decays {
		p, rss := d.line(y)
		if rss < least {
			best, least, at = p, rss, k
		}
	}
	switch at {
	case 0:
		return best, fmt.Errorf("%w: the temperatures make one step and then stand", ErrCurve)
	case tauSteps:
		return best, fmt.Errorf("%w: the temperatures lie on a straight line, with no bend towards an end", ErrCurve)
	}
	return best, nil
}

// line is the straight line y = θ∞ + (θ0 − θ∞)·e through the decays, and what it leaves.
func (d heatingDecay) line(y []float64) (p [3]float64, rss float64) {
	var my, sey float64
	for i := range y {
		my += y[i] / float64(len(y))
	}
	for i, e := range d.e {
		sey += float64((e - d.mean) * (y[i] - my))
	}
	slope := sey / d.about
	p = [3]float64{my - float64(slope*d.mean), my + float64(slope*(1-d.mean)), d.tau}
	for i, e := range d.e {
		r := y[i] - (p[0] - float64((p[0]-p[1])*e))
		rss += float64(r * r)
	}
	return p, rss
}

// heatingNormal gives JᵀJ, Jᵀr and Σr² of the residuals r = y − θ at p = (θ∞, θ0, τ).
func heatingNormal(x, y []float64, p [3]float64) (normal [3][3]float64, gradient [3]float64, rss float64) {
	for i := range x {
		e := math.Exp(-x[i] / p[2])
		r := y[i] - (p[0] - float64((p[0]-p[1])*e))
		j := [3]float64{1 - e, e, -(p[0] - p[1]) * e * x[i] / (p[2] * p[2])}
		rss += float64(r * r)
		for a := range j {
			gradient[a] += float64(j[a] * r)
			for b := range j {
				normal[a][b] += float64(j[a] * j[b])
			}
		}
	}
	return normal, gradient, rss
}

// heatingSteps walks from p to the least squares, each step damped until it lessens what is left.
func heatingSteps(x, y []float64, p [3]float64) ([3]float64, error) {
	damping := 1e-3
	normal, gradient, rss := heatingNormal(x, y, p)
	for range fitSteps {
		damped := normal
		for k := range damped {
			damped[k][k] *= 1 + damping
		}
		step, ok := solve3(damped, gradient)
		if !ok {
			return p, fmt.Errorf("%w: the readings leave the curve open", ErrCurve)
		}
		q := [3]float64{p[0] + step[0], p[1] + step[1], p[2] + step[2]}
		size := math.Abs(step[2] / p[2])
		for k := range 2 {
			size = math.Max(size, math.Abs(step[k])/math.Max(math.Abs(p[k]), 1))
		}
		if size <= fitDone {
			return p, nil
		}
		if n, g, left := heatingNormal(x, y, q); q[2] > 0 && left <= rss {
			p, damping, normal, gradient, rss = q, damping/10, n, g, left
			continue
		}
		if damping *= 10; damping > 1e12 {
			// No step helps: the sum of squares is flat to the last digit here.
			return p, nil
		}
	}
	return p, fmt.Errorf("%w: heating curve after %d steps", ErrConverge, fitSteps)
}

// solve3 solves three linear equations with row exchanges; ok is false when they have no one answer.
func solve3(a [3][3]float64, b [3]float64) (x [3]float64, ok bool) {
	for c := range 3 {
		top := c
		for r := c + 1; r < 3; r++ {
			if math.Abs(a[r][c]) > math.Abs(a[top][c]) {
				top = r
			}
		}
		a[c], a[top], b[c], b[top] = a[top], a[c], b[top], b[c]
		if a[c][c] == 0 {
			return x, false
		}
		for r := c + 1; r < 3; r++ {
			f := a[r][c] / a[c][c]
			for k := c; k < 3; k++ {
				a[r][k] -= float64(f * a[c][k])
			}
			b[r] -= float64(f * b[c])
		}
	}
	for r := 2; r >= 0; r-- {
		s := b[r]
		for k := r + 1; k < 3; k++ {
			s -= float64(a[r][k] * x[k])
		}
		x[r] = s / a[r][r]
	}
	return x, isFinite(x[:]...)
}
