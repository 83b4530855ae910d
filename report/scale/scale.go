// Package scale measures once what a page draws and a workbook charts: how far of its
// tolerance a value has used, and the frame of a course.
package scale

import (
	"math"

	"handback/checks"
	"handback/checks/quantity"
)

// Share is a judged value as a share of its tolerance: 0 is the middle of a two-sided
// limit or as far from a one-sided one as can be, 1 the high limit, −1 the low one.
type Share struct {
	At, From, To float64 // the value, and where its uncertainty reaches; From and To are NaN when that is not known
	Low, High    bool    // the limits there are
	OK           bool    // false: this limit gives no scale, or the value is no number or a bound
	Bound        bool
}

// ShareOf puts a value on the scale of its limit:
//
//	low and high   (x − m)/h, m the middle and h half of the span
//	high alone     x/high, high > 0
//	low alone      −low/x, low > 0 and x > 0
//
// A low limit alone has no far end, so its share is turned about: −0.5 is twice the
// limit. Other limits give no scale.
func ShareOf(d checks.Derived) Share {
	if d.Limit == nil || !quantity.Finite(d.Value) || d.Bound != "" {
		return Share{Bound: d.Bound != ""}
	}
	low, high := d.Limit.Low, d.Limit.High
	s := Share{Low: quantity.Finite(low), High: quantity.Finite(high)}
	var on func(x float64) float64
	switch {
	case s.Low && s.High && high > low:
		on = func(x float64) float64 { return (x - (low+high)/2) / ((high - low) / 2) }
	case s.High && !s.Low && high > 0:
		on = func(x float64) float64 { return x / high }
	case s.Low && !s.High && low > 0 && d.Value > 0:
		on = func(x float64) float64 { return -low / math.Max(x, math.SmallestNonzeroFloat64) }
	default:
		return Share{}
	}
	s.At, s.From, s.To, s.OK = on(d.Value), math.NaN(), math.NaN(), true
	if d.U >= 0 && quantity.Finite(d.U) {
		s.From, s.To = on(d.Value-d.U), on(d.Value+d.U)
	}
	return s
}

// Words is the share in per cent, such as −44 %.
func (s Share) Words() string {
	if s.Bound {
		return "a bound"
	}
	if !s.OK {
		return "no scale"
	}
	if math.Abs(s.At) >= 10 {
		return "beyond ±1000 %"
	}
	return quantity.Show(100*s.At, "%", 0)
}

// CourseGrid is the frame of a course: the ranges of its axes with the steps between
// their marks.
type CourseGrid struct{ Low, High, Tick, End, Every float64 }

// GridOf spans readings, curve and limits; ok is false when nothing can be drawn.
func GridOf(c *checks.Course) (g CourseGrid, ok bool) {
	n := len(c.Values)
	if n == 0 || len(c.Minutes) != n {
		return g, false
	}
	g.Low, g.High = math.Inf(1), math.Inf(-1)
	see := func(y float64) { g.Low, g.High = math.Min(g.Low, y), math.Max(g.High, y) }
	for i, y := range c.Values {
		if !quantity.Finite(y) || !quantity.Finite(c.Minutes[i]) || i > 0 && !(c.Minutes[i] > c.Minutes[i-1]) {
			return g, false
		}
		see(y)
	}
	for _, l := range c.Lines {
		if quantity.Finite(l.Value) {
			see(l.Value)
		}
	}
	g.End = math.Max(c.Minutes[n-1], 1)
	g.Every = axisStep(g.End, 8)
	g.End = math.Ceil(g.End/g.Every-1e-9) * g.Every
	g.Tick = axisStep(math.Max(g.High-g.Low, 1), 6)
	g.Low, g.High = math.Floor(g.Low/g.Tick-0.2)*g.Tick, math.Ceil(g.High/g.Tick+0.2)*g.Tick
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
