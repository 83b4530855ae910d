package page

import (
	"fmt"
	"html/template"
	"math"
	"unicode/utf8"

	"handback/checks"
	"handback/checks/quantity"
	"handback/report"
	"handback/report/scale"
)

const (
	barRow   = 24.0
	barHead  = 30.0
	barSpan  = 300.0 // from −150 % to +150 % of the tolerance
	barEnd   = 1.5
	barRows  = 20 // in one picture, so that it fits a printed page
	barSigns = 46 // of a name
	signWide = 6.4
)

// bars is a picture of shares; from is where −150 % stands.
type bars struct {
	*svg
	from float64
}

// x is where a share stands; what lies beyond the picture stands at its edge.
func (b bars) x(at float64) float64 {
	return fit(math.Max(-barEnd, math.Min(barEnd, at)), -barEnd, barEnd, b.from, b.from+barSpan)
}

// toleranceBars draws every value with a limit as a share of its tolerance, each
// with its uncertainty as a whisker. values are at most barRows.
func toleranceBars(id, title string, values []checks.Derived) template.HTML {
	longest := 0
	for _, d := range values {
		longest = max(longest, utf8.RuneCountInString(brief(d.Name, barSigns)))
	}
	from := math.Ceil(signWide*float64(longest)) + 12
	bottom := barHead + barRow*float64(len(values))
	b := bars{newSVG(id, from+barSpan+110, bottom+8, title, toleranceWords(values)), from}
	for _, tick := range []struct {
		at   float64
		text string
	}{{-1, "low limit"}, {0, "0"}, {1, "high limit"}} {
		b.say("small", "middle", b.x(tick.at), 14, tick.text)
	}
	b.line("faint", b.x(0), barHead-10, b.x(0), bottom)
	for i, d := range values {
		b.row(d, barHead+barRow*(float64(i)+0.5))
	}
	return b.done()
}

func (b bars) row(d checks.Derived, y float64) {
	b.say("label", "end", b.from-12, y+4, brief(d.Name, barSigns))
	on := scale.ShareOf(d)
	b.say("label", "start", b.from+barSpan+20, y+4, on.Words())
	if !on.OK {
		return
	}
	left, right := b.x(0), b.x(0)
	if on.Low {
		left = b.x(-1)
	}
	if on.High {
		right = b.x(1)
	}
	b.line("rail", left, y, right, y)
	if on.Low {
		b.line("limit", left, y-8, left, y+8)
	}
	if on.High {
		b.line("limit", right, y-8, right, y+8)
	}
	if quantity.Finite(on.From) && quantity.Finite(on.To) && math.Abs(b.x(on.To)-b.x(on.From)) > 1 {
		for _, end := range []float64{on.From, on.To} {
			if math.Abs(end) <= barEnd {
				b.line("whisker", b.x(end), y-4, b.x(end), y+4)
			}
		}
		b.line("whisker", b.x(on.From), y, b.x(on.To), y)
	}
	b.valueMark(d.Verdict, b.x(on.At), y)
	if math.Abs(on.At) > barEnd {
		out := math.Copysign(1, on.At)
		b.path("mark-full", b.x(on.At)+14*out, y, b.x(on.At)+8*out, y-5, b.x(on.At)+8*out, y+5)
	}
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

// toleranceWords tells the picture in a sentence.
func toleranceWords(values []checks.Derived) string {
	pass, worst, name := 0, 0.0, ""
	for _, d := range values {
		if d.Verdict == checks.Pass {
			pass++
		}
		if s := scale.ShareOf(d); s.OK && (name == "" || math.Abs(s.At) > math.Abs(worst)) {
			worst, name = s.At, d.Name
		}
	}
	text := fmt.Sprintf("%s, %d within the limits.", report.Count(len(values), "judged value", "judged values"), pass)
	if name != "" {
		text += fmt.Sprintf(" Nearest to its limit or furthest beyond: %s, at %s of its tolerance.", name, scale.Share{At: worst, OK: true}.Words())
	}
	return text
}
