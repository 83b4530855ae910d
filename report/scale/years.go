package scale

import (
	"math"
	"time"

	"handback/checks/quantity"
	"handback/checks/trend"
)

// YearsGrid is the frame of a trend: the range of its values with the step between marks,
// and the first of the years from and to which it goes.
type YearsGrid struct {
	Low, High, Tick float64
	From, To        time.Time
	Limits          []float64 // of the newest value, those near enough to be drawn
}

// farLimits is how many times the span of the values away a limit is left out, so that
// the values are still told apart (our choice).
const farLimits = 10

// YearsOf spans the values of a trend and the limits near them, and on to where the line
// comes to its limit; ok is false when no value can be drawn.
func YearsOf(t *trend.Trend) (g YearsGrid, ok bool) {
	g.Low, g.High = math.Inf(1), math.Inf(-1)
	see := func(x float64) { g.Low, g.High = math.Min(g.Low, x), math.Max(g.High, x) }
	var last trend.Value
	first, end := time.Time{}, time.Time{}
	for _, v := range t.Values {
		if !quantity.Finite(v.X) {
			continue
		}
		see(v.X)
		if quantity.Finite(v.U) { // what the instruments explain must not look like much
			see(v.X - v.U)
			see(v.X + v.U)
		}
		if first.IsZero() || v.At.Before(first) {
			first = v.At
		}
		if !v.At.Before(end) {
			last, end = v, v.At
		}
	}
	if !(g.Low <= g.High) {
		return g, false
	}
	span := math.Max(g.High-g.Low, 1e-3*math.Max(math.Abs(g.High), math.Abs(g.Low)))
	low, high := g.Low-farLimits*span, g.High+farLimits*span
	for _, limit := range []float64{last.Low, last.High} {
		if quantity.Finite(limit) && limit > low && limit < high {
			g.Limits = append(g.Limits, limit)
			see(limit)
		}
	}
	if t.Reach.OK && t.Reach.When.After(end) {
		end = t.Reach.When
	}
	if !(g.High > g.Low) {
		wide := math.Max(math.Abs(g.High)/10, 1e-9)
		g.Low, g.High = g.Low-wide, g.High+wide
	}
	g.Tick = axisStep(g.High-g.Low, 6)
	g.Low, g.High = math.Floor(g.Low/g.Tick-0.2)*g.Tick, math.Ceil(g.High/g.Tick+0.2)*g.Tick
	g.From = time.Date(first.UTC().Year(), 1, 1, 0, 0, 0, 0, time.UTC)
	g.To = time.Date(end.UTC().Year()+1, 1, 1, 0, 0, 0, 0, time.UTC)
	return g, true
}

// Mark is the number at a mark, with the decimals that tell marks apart.
func (g YearsGrid) Mark(x float64) string {
	return quantity.Show(x, "", int(math.Max(0, -math.Floor(math.Log10(g.Tick)+1e-9))))
}

// Years is how many years lie between two marks, so that there are at most n of them.
func (g YearsGrid) Years(n int) int {
	return int(math.Max(1, axisStep(float64(g.To.Year()-g.From.Year()), n)))
}

// At is where a time lies between From and To, 0 to 1.
func (g YearsGrid) At(t time.Time) float64 { return float64(t.Sub(g.From)) / float64(g.To.Sub(g.From)) }

// Share is where a value lies between Low and High, 0 to 1.
func (g YearsGrid) Share(x float64) float64 { return (x - g.Low) / (g.High - g.Low) }
