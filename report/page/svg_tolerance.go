package page

import (
	"html/template"
	"math"

	"handback/checks"
	"handback/checks/quantity"
	"handback/report/scale"
)

const (
	barWide, barHigh = 132.0, 18.0
	barEdge          = 16.0 // room for the arrow beyond an end
	barEnd           = 1.5  // the picture runs from −150 % to +150 % of the tolerance
)

// barX is where a share stands; what lies beyond the picture stands at its edge.
func barX(at float64) float64 {
	return fit(math.Max(-barEnd, math.Min(barEnd, at)), -barEnd, barEnd, barEdge, barWide-barEdge)
}

// toleranceBar draws a value with a limit as a share of its tolerance, its uncertainty as a
// whisker. The share stands in words beside it, so a screen reader passes it over. It is
// empty where the limit gives no scale.
func toleranceBar(d checks.Derived) template.HTML {
	on := scale.ShareOf(d)
	if !on.OK {
		return ""
	}
	s := &svg{}
	s.open("svg", "xmlns", "http://www.w3.org/2000/svg", "class", "bar", "aria-hidden", "true", "width", s.px(barWide), "height", s.px(barHigh), "viewBox", "0 0 "+s.px(barWide)+" "+s.px(barHigh))
	const y = barHigh / 2
	left, right := barX(0), barX(0)
	if on.Low {
		left = barX(-1)
	}
	if on.High {
		right = barX(1)
	}
	s.line("rail", left, y, right, y)
	s.line("faint", barX(0), y-6, barX(0), y+6)
	if on.Low {
		s.line("limit", left, y-7, left, y+7)
	}
	if on.High {
		s.line("limit", right, y-7, right, y+7)
	}
	if quantity.Finite(on.From) && quantity.Finite(on.To) && math.Abs(barX(on.To)-barX(on.From)) > 1 {
		for _, end := range []float64{on.From, on.To} {
			if math.Abs(end) <= barEnd {
				s.line("whisker", barX(end), y-4, barX(end), y+4)
			}
		}
		s.line("whisker", barX(on.From), y, barX(on.To), y)
	}
	s.valueMark(d.Verdict, barX(on.At), y)
	if math.Abs(on.At) > barEnd {
		out := math.Copysign(1, on.At)
		s.path("mark-full", barX(on.At)+14*out, y, barX(on.At)+8*out, y-5, barX(on.At)+8*out, y+5)
	}
	return s.done()
}

// valueMark tells verdicts apart by shape: pass a full dot, inconclusive a hollow
// diamond, anything else a cross.
func (s *svg) valueMark(v checks.Verdict, x, y float64) {
	switch v {
	case checks.Pass:
		s.circle("mark-full", x, y, 4.5)
	case checks.Inconclusive:
		s.path("mark-open", x, y-6.5, x+6.5, y, x, y+6.5, x-6.5, y, x, y-6.5)
	default:
		s.path("mark-cross", x-5, y-5, x+5, y+5)
		s.path("mark-cross", x-5, y+5, x+5, y-5)
	}
}
