package page

import (
	"fmt"
	"html/template"
	"math"
	"math/cmplx"
	"strings"

	"handback/checks"
	"handback/checks/quantity"
)

// side is one side of a diagram.
type side struct {
	name    string
	phasors []checks.Phasor
}

// sidesOf parts a diagram into its sides, in order; nil where a phasor is no number.
func sidesOf(d *checks.Diagram) []side {
	var out []side
	for _, p := range d.Phasors {
		if !quantity.Finite(p.Re) || !quantity.Finite(p.Im) {
			return nil
		}
		if len(out) == 0 || out[len(out)-1].name != p.Side {
			out = append(out, side{name: p.Side})
		}
		last := &out[len(out)-1]
		last.phasors = append(last.phasors, p)
	}
	return out
}

func tipOf(p checks.Phasor) complex128 { return complex(p.Re, p.Im) }

// degrees is the angle of a phasor, anticlockwise, positive when it leads.
func degrees(z complex128) float64 { return cmplx.Phase(z) * 180 / math.Pi }

const (
	starWide   = 340.0 // room for the names on both sides
	ringWide   = 250.0 // of the differences
	starHeight = 300.0
	starRadius = 90.0
	starCentre = 142.0 // below the top
)

// phasorDiagram draws the sides on one another, the first with full lines and full
// dots, the second dashed with hollow ones; with two sides the differences stand
// beside it, enlarged. Angles count anticlockwise from the upright. It is empty when
// there is nothing to draw.
func phasorDiagram(id, title string, d *checks.Diagram) template.HTML {
	sides := sidesOf(d)
	longest := 0.0
	for _, s := range sides {
		for _, p := range s.phasors {
			longest = math.Max(longest, cmplx.Abs(tipOf(p)))
		}
	}
	if len(sides) == 0 || len(sides) > 2 || !(longest > 0) || !quantity.Finite(longest) {
		return ""
	}
	width := starWide
	if len(sides) == 2 {
		width += ringWide
	}
	s := newSVG(id, width, starHeight, title, diagramWords(sides))
	star := panel{s, starWide / 2, starCentre, starRadius / longest}
	s.circle("faint", star.x, star.y, starRadius)
	s.line("faint", star.x-starRadius-8, star.y, star.x+starRadius+8, star.y)
	s.line("faint", star.x, star.y-starRadius-8, star.x, star.y+starRadius+8)
	for i, side := range sides {
		star.loop(sideClasses[i]+" thin", side.phasors)
		for _, p := range side.phasors {
			star.ray(sideClasses[i], i == 1, tipOf(p), brief(p.Side, 10)+" "+brief(p.Name, 6), float64(2*i-1)*7)
		}
		y := starHeight - 28 + 18*float64(i)
		s.line(sideClasses[i], 20, y-4, 64, y-4)
		s.dot(sideClasses[i], i == 1, 64, y-4)
		s.say("label", "start", 76, y, fmt.Sprintf("%s, %s", brief(side.name, 34), [...]string{"full line, full dot", "dashed line, hollow dot"}[i]))
	}
	if len(sides) == 2 {
		s.differences(sides, starRadius/longest)
	}
	return s.done()
}

var sideClasses = [...]string{"side-a", "side-b"}

// panel is a plane on the picture: where its origin stands and how many px a volt is.
type panel struct {
	*svg
	x, y, scale float64
}

// place is where a phasor's tip stands: the real axis points up, a lead turns it left.
func (p panel) place(z complex128) (x, y float64) {
	return p.x - imag(z)*p.scale, p.y - real(z)*p.scale
}

func (s *svg) dot(class string, hollow bool, x, y float64) {
	if hollow {
		s.circle(class+" hollow", x, y, 5)
		return
	}
	s.circle(class+" full", x, y, 3.5)
}

// loop joins the tips: the triangle of line-to-line volts.
func (p panel) loop(class string, phasors []checks.Phasor) {
	var points []float64
	for _, q := range append(phasors[:len(phasors):len(phasors)], phasors[0]) {
		x, y := p.place(tipOf(q))
		points = append(points, x, y)
	}
	p.path(class, points...)
}

// ray draws a phasor with its name outside the tip, moved down by shift so that two
// names at one place do not stand on one another.
func (p panel) ray(class string, hollow bool, z complex128, name string, shift float64) {
	x, y := p.place(z)
	p.line(class, p.x, p.y, x, y)
	p.dot(class, hollow, x, y)
	right, down := x-p.x, y-p.y
	if r := math.Hypot(right, down); r > 1 {
		right, down = right/r, down/r
	} else {
		right, down = 0, 1
	}
	anchor := "middle"
	switch {
	case right > 0.3:
		anchor = "start"
	case right < -0.3:
		anchor = "end"
	}
	p.say("label", anchor, x+12*right, y+18*down+4+shift, name)
}

// differences draws the second side less the first, conductor by conductor, enlarged
// by a round factor.
func (s *svg) differences(sides []side, scale float64) {
	n := min(len(sides[0].phasors), len(sides[1].phasors))
	largest := 0.0
	for k := range n {
		largest = math.Max(largest, cmplx.Abs(tipOf(sides[1].phasors[k])-tipOf(sides[0].phasors[k])))
	}
	c := starWide + ringWide/2
	s.say("label", "middle", c, 16, fmt.Sprintf("difference, %s − %s", brief(sides[1].name, 16), brief(sides[0].name, 16)))
	if !(largest*scale > 1e-9) {
		s.say("label", "middle", c, starCentre, "none")
		return
	}
	times := roundDown(0.85 * starRadius / (largest * scale))
	ring := starRadius / (scale * times)
	size := "ring: " + quantity.Show(ring, "V", quantity.Decimals(ring))
	if times != 1 {
		size = "drawn " + quantity.Short(times) + " times as large, " + size
	}
	s.say("small", "middle", c, 33, size)
	p := panel{s, c, starCentre, scale * times}
	s.circle("faint", c, starCentre, starRadius)
	s.line("faint", c-starRadius-8, starCentre, c+starRadius+8, starCentre)
	s.line("faint", c, starCentre-starRadius-8, c, starCentre+starRadius+8)
	for k := range n {
		p.ray("side-a", false, tipOf(sides[1].phasors[k])-tipOf(sides[0].phasors[k]), brief(sides[0].phasors[k].Name, 6), float64(k-1)*3)
	}
}

// roundDown is the largest of 1, 2 and 5 times a power of ten that is at most x > 0.
func roundDown(x float64) float64 {
	p := math.Pow(10, math.Floor(math.Log10(x)))
	for _, m := range []float64{5, 2} {
		if m*p <= x {
			return m * p
		}
	}
	return p
}

// diagramWords tells the diagram in sentences.
func diagramWords(sides []side) string {
	text := ""
	for _, s := range sides {
		text += s.name + ":"
		for _, p := range s.phasors {
			text += fmt.Sprintf(" %s %s at %s,", p.Name, quantity.Show(cmplx.Abs(tipOf(p)), "V", 1), quantity.Show(degrees(tipOf(p)), "°", 1))
		}
		text = strings.TrimSuffix(text, ",") + ". "
	}
	return text + "Angles count anticlockwise."
}

// diagramRows are the numbers of a diagram: conductor, then volts and angle of each
// side and, with two, the difference.
func diagramRows(sides []side) (head []string, rows [][]string) {
	head = []string{"conductor"}
	for _, s := range sides {
		head = append(head, s.name+", volts", s.name+", angle")
	}
	if len(sides) == 2 {
		head = append(head, "difference")
	}
	for k := range sides[0].phasors {
		row := []string{sides[0].phasors[k].Name}
		for _, s := range sides {
			if k >= len(s.phasors) {
				row = append(row, "", "")
				continue
			}
			row = append(row, quantity.Show(cmplx.Abs(tipOf(s.phasors[k])), "V", 1), quantity.Show(degrees(tipOf(s.phasors[k])), "°", 2))
		}
		if len(sides) == 2 && k < len(sides[1].phasors) {
			row = append(row, quantity.Show(cmplx.Abs(tipOf(sides[1].phasors[k])-tipOf(sides[0].phasors[k])), "V", 2))
		}
		rows = append(rows, row)
	}
	return head, rows
}
