package report

import (
	"math"

	"handback/checks"
)

// What a page draws and a workbook charts is measured here, once for both.

// share is a judged value as a share of its tolerance: 0 is the middle of a two-sided
// limit or as far from a one-sided one as can be, 1 the high limit, −1 the low one.
type share struct {
	At, From, To float64 // the value, and where its uncertainty reaches; From and To are NaN when that is not known
	Low, High    bool    // the limits there are
	OK           bool    // false: this limit gives no scale, or the value is no number or a bound
	Bound        bool
}

// shareOf puts a value on the scale of its limit:
//
//	low and high   (x − m)/h, m the middle and h half of the span
//	high alone     x/high, high > 0
//	low alone      −low/x, low > 0 and x > 0
//
// A low limit alone has no far end, so its share is turned about: −0.5 is twice the
// limit. Other limits give no scale.
func shareOf(d checks.Derived) share {
	if d.Limit == nil || !finite(d.Value) || d.Bound != "" {
		return share{Bound: d.Bound != ""}
	}
	low, high := d.Limit.Low, d.Limit.High
	s := share{Low: finite(low), High: finite(high)}
	var on func(x float64) float64
	switch {
	case s.Low && s.High && high > low:
		on = func(x float64) float64 { return (x - (low+high)/2) / ((high - low) / 2) }
	case s.High && !s.Low && high > 0:
		on = func(x float64) float64 { return x / high }
	case s.Low && !s.High && low > 0 && d.Value > 0:
		on = func(x float64) float64 { return -low / math.Max(x, math.SmallestNonzeroFloat64) }
	default:
		return share{}
	}
	s.At, s.From, s.To, s.OK = on(d.Value), math.NaN(), math.NaN(), true
	if d.U >= 0 && finite(d.U) {
		s.From, s.To = on(d.Value-d.U), on(d.Value+d.U)
	}
	return s
}

// words is the share in per cent, such as −44 %.
func (s share) words() string {
	if s.Bound {
		return "a bound"
	}
	if !s.OK {
		return "no scale"
	}
	if math.Abs(s.At) >= 10 {
		return "beyond ±1000 %"
	}
	return checks.Show(100*s.At, "%", 0)
}

// courseGrid is the frame of a course: the ranges of its axes with the steps between
// their marks.
type courseGrid struct{ low, high, step, end, every float64 }

// gridOf spans readings, curve and limits; ok is false when nothing can be drawn.
func gridOf(c *checks.Course) (g courseGrid, ok bool) {
	n := len(c.Values)
	if n == 0 || len(c.Minutes) != n {
		return g, false
	}
	g.low, g.high = math.Inf(1), math.Inf(-1)
	see := func(y float64) { g.low, g.high = math.Min(g.low, y), math.Max(g.high, y) }
	for i, y := range c.Values {
		if !finite(y) || !finite(c.Minutes[i]) || i > 0 && !(c.Minutes[i] > c.Minutes[i-1]) {
			return g, false
		}
		see(y)
	}
	for _, l := range c.Lines {
		if finite(l.Value) {
			see(l.Value)
		}
	}
	g.end = math.Max(c.Minutes[n-1], 1)
	g.every = axisStep(g.end, 8)
	g.end = math.Ceil(g.end/g.every-1e-9) * g.every
	g.step = axisStep(math.Max(g.high-g.low, 1), 6)
	g.low, g.high = math.Floor(g.low/g.step-0.2)*g.step, math.Ceil(g.high/g.step+0.2)*g.step
	return g, true
}

// axisStep is 1, 2 or 5 times a power of ten, so that span holds at most n of them.
func axisStep(span float64, n int) float64 {
	p := math.Pow(10, math.Floor(math.Log10(span/float64(n))))
	for _, m := range []float64{1, 2, 5} {
		if m*p*float64(n) >= span*(1-1e-9) {
			return m * p
		}
	}
	return 10 * p
}
