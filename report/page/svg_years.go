package page

import (
	"fmt"
	"html/template"
	"strconv"
	"strings"
	"time"

	"handback/checks"
	"handback/checks/quantity"
	"handback/checks/trend"
	"handback/report"
	"handback/report/scale"
)

const (
	yearsWidth, yearsHeight = 720.0, 330.0
	yearsLeft, yearsRight   = 72.0, 700.0
	yearsTop, yearsBottom   = 24.0, 286.0
)

// yearsStyle is what a picture wears that stands alone: that of the page, on white.
const yearsStyle = `svg { font: 12px "Liberation Sans", Arial, Helvetica, sans-serif; background: #ffffff; }
text { fill: #15191d; }
.small { font-size: 11px; fill: #4b535b; }
line, path, circle { fill: none; stroke: #15191d; stroke-width: 1.5; }
.faint { stroke: #d3d8dc; stroke-width: 1; }
.axis { stroke: #7d8790; stroke-width: 1; }
.limit { stroke-width: 2; }
.span { stroke-width: 5; }
.long { stroke-width: 1.25; stroke-dasharray: 12 4; }
.whisker { stroke-width: 1.25; }
.mark-full { fill: #15191d; stroke: none; }
.mark-open { fill: #ffffff; stroke-width: 2; }
.mark-cross { stroke: #9a1515; stroke-width: 3; }
.side-b { stroke: #1c4f91; stroke-width: 2; stroke-dasharray: 6 4; }
.thin { stroke: #1c4f91; stroke-width: 1; stroke-dasharray: 2 3; }`

// YearsFile is the picture of a trend as a file of its own (SVG 2); "" when nothing can be
// drawn.
func YearsFile(t *trend.Trend, title string) string {
	picture := string(Years("trend", t, title))
	if picture == "" {
		return ""
	}
	at := strings.Index(picture, "</desc>") + len("</desc>")
	return picture[:at] + "<style>" + yearsStyle + "</style>" + picture[at:] + "\n"
}

// Years draws values over the years by their verdicts, with whiskers of U, the limits of
// the newest as long dashes, the line dashed with its uncertainty as dots above and below,
// and on the axis when it comes to the limit. It is empty when nothing can be drawn.
func Years(id string, t *trend.Trend, title string) template.HTML {
	g, ok := scale.YearsOf(t)
	if !ok {
		return ""
	}
	x := func(at time.Time) float64 { return fit(g.At(at), 0, 1, yearsLeft, yearsRight) }
	y := func(v float64) float64 { return fit(g.Share(min(max(v, g.Low), g.High)), 0, 1, yearsBottom, yearsTop) }
	s := newSVG(id, yearsWidth, yearsHeight, title, yearsWords(t))
	for year := g.From.Year(); year <= g.To.Year(); year += g.Years(10) {
		at := x(g.From.AddDate(year-g.From.Year(), 0, 0))
		s.line("faint", at, yearsTop, at, yearsBottom)
		s.say("small", "middle", at, yearsBottom+16, strconv.Itoa(year))
	}
	for k := range int((g.High-g.Low)/g.Tick+0.5) + 1 {
		v := g.Low + float64(k)*g.Tick
		s.line("faint", yearsLeft, y(v), yearsRight, y(v))
		s.say("small", "end", yearsLeft-8, y(v)+4, g.Mark(v))
	}
	s.path("axis", yearsLeft, yearsTop, yearsLeft, yearsBottom, yearsRight, yearsBottom)
	s.say("small", "start", 4, yearsTop-10, t.Unit)
	for _, limit := range g.Limits {
		s.line("limit long", yearsLeft, y(limit), yearsRight, y(limit))
		s.say("label", "start", yearsLeft+6, y(limit)-6, "limit "+quantity.Spell(limit, t.Unit))
	}
	s.yearsLine(t, g, x, y)
	for i, v := range t.Values {
		if !quantity.Finite(v.X) {
			continue
		}
		if u := v.U; quantity.Finite(u) && u > 0 {
			s.line("whisker", x(v.At), y(v.X-u), x(v.At), y(v.X+u))
		}
		s.valueMark(yearsMark(t, i), x(v.At), y(v.X))
	}
	s.yearsReach(t, g, x, y)
	return s.done()
}

// yearsMark is what a value is drawn as: one without a limit as one that passes, one that
// the line does not go through as open.
func yearsMark(t *trend.Trend, i int) checks.Verdict {
	v := t.Values[i]
	switch {
	case v.Verdict == checks.Void || v.Verdict == checks.Fail:
		return checks.Fail
	case v.Bound != "" || v.Lapsed:
		return checks.Inconclusive
	case v.Verdict == checks.Missing:
		return checks.Pass
	}
	return v.Verdict
}

// yearsReach marks on the axis when the limit is reached, with the interval as a bar.
func (s *svg) yearsReach(t *trend.Trend, g scale.YearsGrid, x func(time.Time) float64, y func(float64) float64) {
	r := t.Reach
	if !r.OK {
		return
	}
	to := r.To
	if to.IsZero() || to.After(g.To) {
		to = g.To
	}
	from := r.From
	if from.Before(g.From) {
		from = g.From
	}
	s.line("limit reach", x(r.When), y(r.Limit), x(r.When), yearsBottom)
	s.line("limit span", x(from), yearsBottom, x(to), yearsBottom)
	s.say("label", "end", max(x(r.When), yearsLeft+120), yearsBottom+34, "limit about "+r.When.Format("2006-01"))
}

// yearsLine draws the line from the first value to the end of the frame, no farther than
// the frame is high, and how far it may be off.
func (s *svg) yearsLine(t *trend.Trend, g scale.YearsGrid, x func(time.Time) float64, y func(float64) float64) {
	if len(t.Used) == 0 {
		return
	}
	const pieces = 60
	var line, above, below []float64
	first := t.Values[t.Used[0]].At
	for k := range pieces + 1 {
		at := first.Add(g.To.Sub(first) / pieces * time.Duration(k))
		v, u, ok := t.Line(at)
		if !ok {
			return
		}
		if v >= g.Low && v <= g.High {
			line = append(line, x(at), y(v))
		}
		if quantity.Finite(u) {
			above, below = append(above, x(at), y(v+u)), append(below, x(at), y(v-u))
		}
	}
	s.path("side-b", line...)
	if len(above) > 0 {
		s.path("thin", above...)
		s.path("thin", below...)
	}
}

// yearsWords tells the picture in sentences.
func yearsWords(t *trend.Trend) string {
	var b strings.Builder
	for _, v := range t.Values {
		if quantity.Finite(v.X) {
			fmt.Fprintf(&b, "%s: %s%s, %s. ", v.At.Format(time.DateOnly), v.Bound, quantity.Show(v.X, t.Unit, quantity.Decimals(v.X, v.Low, v.High)), v.Verdict)
		}
	}
	for _, s := range t.Says {
		b.WriteString(report.GroupWords("trend", s) + ". ")
	}
	return strings.TrimSpace(b.String())
}
