package page

import (
	"fmt"
	"html/template"
	"math"

	"handback/checks"
	"handback/checks/quantity"
	"handback/report"
	"handback/report/scale"
)

const (
	courseWidth, courseHeight = 520.0, 250.0
	courseLeft, courseRight   = 52.0, 506.0
	courseTop, courseBottom   = 16.0, 204.0
	courseSteps               = 60 // pieces the curve is drawn in
)

// coursePlot is a course's frame on the page.
type coursePlot struct{ scale.CourseGrid }

func (g coursePlot) x(minutes float64) float64 {
	return fit(minutes, 0, g.End, courseLeft, courseRight)
}
func (g coursePlot) y(value float64) float64 {
	return fit(value, g.Low, g.High, courseBottom, courseTop)
}

// coursePicture draws readings over time as dots, the curve dashed and each limit as
// a line of long dashes with its words. It is empty when nothing can be drawn.
func coursePicture(id, title string, c *checks.Course) template.HTML {
	frame, ok := scale.GridOf(c)
	if !ok {
		return ""
	}
	g := coursePlot{frame}
	s := newSVG(id, courseWidth, courseHeight, title, courseWords(c))
	for k := range int(math.Round(g.End/g.Every)) + 1 {
		x := g.x(float64(k) * g.Every)
		s.line("faint", x, courseTop, x, courseBottom)
		s.say("small", "middle", x, courseBottom+16, quantity.Short(float64(k)*g.Every))
	}
	for k := range int(math.Round((g.High-g.Low)/g.Tick)) + 1 {
		v := g.Low + float64(k)*g.Tick
		s.line("faint", courseLeft, g.y(v), courseRight, g.y(v))
		s.say("small", "end", courseLeft-8, g.y(v)+4, quantity.Short(v))
	}
	s.path("axis", courseLeft, courseTop, courseLeft, courseBottom, courseRight, courseBottom)
	s.say("small", "middle", (courseLeft+courseRight)/2, courseBottom+36, "minutes after the first reading")
	s.say("small", "start", 4, courseTop-4, c.Unit)
	for _, l := range c.Lines {
		if quantity.Finite(l.Value) {
			s.line("limit long", courseLeft, g.y(l.Value), courseRight, g.y(l.Value))
			s.say("label", "end", courseRight-6, g.y(l.Value)-6, brief(l.Text, 72))
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
	text := fmt.Sprintf("%s over time: %s, from %s at the start to %s after %s.", c.Name, report.Count(n, "reading", "readings"),
		quantity.Show(c.Values[0], c.Unit, 1), quantity.Show(c.Values[n-1], c.Unit, 1), quantity.Show(c.Minutes[n-1], "min", 0))
	for _, l := range c.Lines {
		text += " Line: " + l.Text + "."
	}
	return text + " " + report.CourseHow(c) + "."
}

// courseRows are the numbers of a course.
func courseRows(c *checks.Course) (head []string, rows [][]string) {
	head = []string{"minutes", "read"}
	if c.Curve != nil {
		head = append(head, "curve", "read − curve")
	}
	for i, v := range c.Values {
		row := []string{quantity.Short(c.Minutes[i]), quantity.Show(v, c.Unit, 1)}
		if c.Curve != nil {
			on := c.Curve(c.Minutes[i])
			row = append(row, quantity.Show(on, c.Unit, 1), quantity.Show(v-on, "K", 2))
		}
		rows = append(rows, row)
	}
	return head, rows
}
