package report

import (
	"fmt"
	"html/template"
	"math"
	"unicode/utf8"

	"handback/checks"
)

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
	on := shareOf(d)
	b.say("label", "start", b.from+barSpan+20, y+4, on.words())
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
	if finite(on.From) && finite(on.To) && math.Abs(b.x(on.To)-b.x(on.From)) > 1 {
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
		if s := shareOf(d); s.OK && (name == "" || math.Abs(s.At) > math.Abs(worst)) {
			worst, name = s.At, d.Name
		}
	}
	text := fmt.Sprintf("%s, %d within the limits.", Count(len(values), "judged value", "judged values"), pass)
	if name != "" {
		text += fmt.Sprintf(" Nearest to its limit or furthest beyond: %s, at %s of its tolerance.", name, share{At: worst, OK: true}.words())
	}
	return text
}
