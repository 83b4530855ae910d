package kinds

import (
	"math"
	"math/cmplx"

	"handback/checks"
	"handback/checks/calc"
	"handback/checks/power"
)

// balanceDrive is what stands between two sides at no load, V per phase.
type balanceDrive struct {
	apart   [3]*calc.Expr // vector differences at the three conductors, about the centroids
	phases  *calc.Expr    // what drives a current round through the conductors
	laid    *calc.Expr    // the most that may, however the triangles lie; nil where more was read
	neutral *calc.Expr    // what drives one with the neutrals joined; nil where it was not read
}

// phasorsApart are the differences between the sides by the phasors of the cross-volts
// check where the plan names one that passed, else at one angle (assumed).
func phasorsApart(w *checks.Work, g *parallelBalance) balanceDrive {
	sides := func(keys [3]string) (all, gaps []*calc.Expr) {
		for _, side := range []string{"a_", "b_"} {
			for _, k := range keys {
				all = append(all, w.Read(side+k))
			}
		}
		for i := range keys {
			gaps = append(gaps, calc.Abs(all[i].Sub(all[i+3])))
		}
		return all, gaps
	}
	lines, gaps := sides(lineKeys)
	least := calc.Max(gaps...).Div(calc.Sqrt(calc.K(3)))
	var d balanceDrive
	if g.Cross != "" {
		if l, ok := crossPast(w, g.Cross); ok {
			for i := range d.apart {
				d.apart[i] = l.apart(i)
			}
			d.phases = calc.Max(append(d.apart[:], least)...)
			return d
		}
	}
	drawnApart := calc.Once(func(u []float64) [3]float64 { return vectorsApart(u, 0) })
	for i := range d.apart {
		d.apart[i] = calc.Solve("both triangles drawn from their three line-to-line volts about their centroids, at the same angle (assumed)", func(u []float64) float64 {
			return drawnApart(u)[i]
		}, lines...)
	}
	d.phases = calc.Max(append(d.apart[:], least)...)
	if !bothNeutrals(w.Input, g) {
		d.laid = calc.Solve("maximum vector difference of both triangles laid over each other by any of their three sides", worstLaid, lines...)
		return d
	}
	stars, _ := sides(phaseKeys)
	d.neutral = calc.Solve("maximum vector difference, both triangles about the neutrals found from their line-to-neutral volts, at the same angle (assumed)", neutralsApart, append(lines, stars...)...)
	return d
}

// drawn are both sides as triangles of volts about their centroids, a side that is
// dead beside the other as one point. u are the volts of both.
func drawn(u []float64) (a, b [3]complex128, ok bool) {
	top := func(ll []float64) float64 { return greatest([3]float64(ll)) }
	ok = true
	triangle := func(ll, other []float64) [3]complex128 {
		if top(ll) < deadShare*top(other) {
			return [3]complex128{}
		}
		p, err := power.Triangle([3]float64(ll))
		ok = ok && err == nil
		return p
	}
	return triangle(u[:3], u[3:6]), triangle(u[3:6], u[:3]), ok
}

// vectorsApart are the vector differences of two triangles about their centroids, the
// second one turned by an angle in radians from like positive sequence. u are the
// volts of both sides.
func vectorsApart(u []float64, turn float64) [3]float64 {
	pa, pb, ok := drawn(u)
	if !ok {
		return [3]float64{math.NaN(), math.NaN(), math.NaN()}
	}
	var out [3]float64
	for i := range out {
		out[i] = cmplx.Abs(cmplx.Rect(1, turn)*pb[i] - pa[i])
	}
	return out
}

// worstLaid is the greatest vector difference over the ways in which two triangles can
// be laid over each other by a side: three line-to-line volts do not tell how a
// triangle lies. Like shapes lie alike in every way.
func worstLaid(u []float64) float64 {
	worst := 0.0
	pa, pb, ok := drawn(u)
	if !ok {
		return math.NaN()
	}
	for i := range lineKeys {
		a, b := pa[i]-pa[(i+1)%3], pb[i]-pb[(i+1)%3]
		worst = math.Max(worst, greatest(vectorsApart(u, cmplx.Phase(a)-cmplx.Phase(b))))
	}
	return worst
}

// neutralsApart is the greatest vector difference about the neutrals of both sides; u
// are the line-to-line volts of both, then those to neutral.
func neutralsApart(u []float64) float64 {
	a, b, ok := drawn(u[:6])
	if !ok {
		return math.NaN()
	}
	for side, p := range []*[3]complex128{&a, &b} {
		if *p == [3]complex128{} {
			continue
		}
		n, _, err := power.Neutral(*p, [3]float64(u[6+3*side:9+3*side]))
		if err != nil {
			return math.NaN()
		}
		for i := range p {
			p[i] -= n
		}
	}
	var out [3]float64
	for i := range out {
		out[i] = cmplx.Abs(b[i] - a[i])
	}
	return greatest(out)
}

func greatest(x [3]float64) float64 { return math.Max(math.Max(x[0], x[1]), x[2]) }
