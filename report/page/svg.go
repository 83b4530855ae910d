package page

import (
	"html/template"
	"strconv"
	"strings"

	"handback/checks/quantity"
	"handback/report"
)

// svg is a picture in the making (SVG 2), drawn in the page's own colours and dash
// patterns by class. Coordinates are px, y downwards. A coordinate that is no number
// spoils the picture: then none is given, and the table beside it stands alone.
type svg struct {
	b       strings.Builder
	spoiled bool
}

// newSVG begins a picture that a screen reader calls by title and tells by desc; id
// is the page's own, unique in it.
func newSVG(id string, width, height float64, title, desc string) *svg {
	s := &svg{}
	s.open("svg", "xmlns", "http://www.w3.org/2000/svg", "role", "img", "aria-labelledby", id+"-t "+id+"-d", "width", s.px(width), "height", s.px(height),
		"viewBox", "0 0 "+s.px(width)+" "+s.px(height))
	s.words("title", title, "id", id+"-t")
	s.words("desc", desc, "id", id+"-d")
	return s
}

// done closes the picture; it is empty when it was spoiled.
func (s *svg) done() template.HTML {
	if s.spoiled {
		return ""
	}
	return template.HTML(s.b.String() + "</svg>")
}

// px is a coordinate with one decimal at most.
func (s *svg) px(x float64) string {
	if !quantity.Finite(x) {
		s.spoiled = true
		return "0"
	}
	text := strings.TrimSuffix(strconv.FormatFloat(x, 'f', 1, 64), ".0")
	if text == "-0" {
		return "0"
	}
	return text
}

// attributes writes names and values in turn.
func (s *svg) attributes(name string, pairs []string) {
	s.b.WriteString("<" + name)
	for i := 0; i+1 < len(pairs); i += 2 {
		s.b.WriteString(" " + pairs[i] + `="` + template.HTMLEscapeString(pairs[i+1]) + `"`)
	}
}

func (s *svg) open(name string, pairs ...string) {
	s.attributes(name, pairs)
	s.b.WriteString(">")
}

func (s *svg) empty(name string, pairs ...string) {
	s.attributes(name, pairs)
	s.b.WriteString("/>")
}

func (s *svg) words(name, text string, pairs ...string) {
	s.open(name, pairs...)
	s.b.WriteString(template.HTMLEscapeString(report.Plain(text)) + "</" + name + ">")
}

func (s *svg) line(class string, x1, y1, x2, y2 float64) {
	s.empty("line", "class", class, "x1", s.px(x1), "y1", s.px(y1), "x2", s.px(x2), "y2", s.px(y2))
}

// path draws through points, x and y in turn.
func (s *svg) path(class string, points ...float64) {
	var d strings.Builder
	for i := 0; i+1 < len(points); i += 2 {
		d.WriteString(map[bool]string{true: "M", false: "L"}[i == 0] + s.px(points[i]) + " " + s.px(points[i+1]))
	}
	s.empty("path", "class", class, "d", d.String())
}

func (s *svg) circle(class string, x, y, r float64) {
	s.empty("circle", "class", class, "cx", s.px(x), "cy", s.px(y), "r", s.px(r))
}

// say writes text whose anchor is start, middle or end.
func (s *svg) say(class, anchor string, x, y float64, text string) {
	s.words("text", text, "class", class, "text-anchor", anchor, "x", s.px(x), "y", s.px(y))
}

// brief keeps a label within a number of signs; the table has it in full.
func brief(text string, signs int) string {
	if r := []rune(report.OneLine(report.Plain(text))); len(r) > signs {
		return strings.TrimRight(string(r[:signs-1]), " ") + "…"
	}
	return report.OneLine(report.Plain(text))
}

// fit maps [low, high] on [from, to].
func fit(x, low, high, from, to float64) float64 {
	return from + (x-low)/(high-low)*(to-from)
}
