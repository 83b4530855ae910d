package report

import (
	"fmt"
	"html/template"
	"math"

	"handback/checks"
)

const (
	courseWidth, courseHeight = 720.0, 320.0
	courseLeft, courseRight   = 64.0, 700.0
	courseTop, courseBottom   = 16.0, 270.0
	courseSteps               = 60 // pieces the curve is drawn in
)

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

func (g courseGrid) x(minutes float64) float64 {
	return fit(minutes, 0, g.end, courseLeft, courseRight)
}
func (g courseGrid) y(value float64) float64 {
	return fit(value, g.low, g.high, courseBottom, courseTop)
}

// coursePicture draws readings over time as dots, the curve dashed and each limit as
// a line of long dashes with its words. It is empty when nothing can be drawn.
func coursePicture(id, title string, c *checks.Course) template.HTML {
	g, ok := gridOf(c)
	if !ok {
		return ""
	}
	s := newSVG(id, courseWidth, courseHeight, title, courseWords(c))
	for k := range int(math.Round(g.end/g.every)) + 1 {
		x := g.x(float64(k) * g.every)
		s.line("faint", x, courseTop, x, courseBottom)
		s.say("small", "middle", x, courseBottom+16, checks.Short(float64(k)*g.every))
	}
	for k := range int(math.Round((g.high-g.low)/g.step)) + 1 {
		v := g.low + float64(k)*g.step
		s.line("faint", courseLeft, g.y(v), courseRight, g.y(v))
		s.say("small", "end", courseLeft-8, g.y(v)+4, checks.Short(v))
	}
	s.path("axis", courseLeft, courseTop, courseLeft, courseBottom, courseRight, courseBottom)
	s.say("small", "middle", (courseLeft+courseRight)/2, courseBottom+36, "minutes after the first reading")
	s.say("small", "start", 4, courseTop-4, c.Unit)
	for _, l := range c.Lines {
		if finite(l.Value) {
			s.line("limit long", courseLeft, g.y(l.Value), courseRight, g.y(l.Value))
			s.say("label", "end", courseRight-6, g.y(l.Value)-6, brief(l.Text, 90))
		}
	}
	if c.Curve != nil {
		var points []float64
		last := c.Minutes[len(c.Minutes)-1]
		for k := range courseSteps + 1 {
			t := last * float64(k) / courseSteps
			points = append(points, g.x(t), g.y(c.Curve(t)))
		}
		s.path("side-b", points...)
	}
	for i, v := range c.Values {
		s.dot("side-a", false, g.x(c.Minutes[i]), g.y(v))
	}
	return s.done()
}

// courseWords tells the picture in sentences.
func courseWords(c *checks.Course) string {
	n := len(c.Values)
	text := fmt.Sprintf("%s over time: %s, from %s at the start to %s after %s.", c.Name, Count(n, "reading", "readings"),
		checks.Show(c.Values[0], c.Unit, 1), checks.Show(c.Values[n-1], c.Unit, 1), checks.Show(c.Minutes[n-1], "min", 0))
	for _, l := range c.Lines {
		text += " Line: " + l.Text + "."
	}
	return text + " " + c.How + "."
}

// courseRows are the numbers of a course.
func courseRows(c *checks.Course) (head []string, rows [][]string) {
	head = []string{"minutes", "read"}
	if c.Curve != nil {
		head = append(head, "curve", "read less curve")
	}
	for i, v := range c.Values {
		row := []string{checks.Short(c.Minutes[i]), checks.Show(v, c.Unit, 1)}
		if c.Curve != nil {
			on := c.Curve(c.Minutes[i])
			row = append(row, checks.Show(on, c.Unit, 1), checks.Show(v-on, "K", 2))
		}
		rows = append(rows, row)
	}
	return head, rows
}
