package page

import (
	"html/template"
	"strings"

	"handback/checks/network"
	"handback/report/oneline"
	"handback/templates"
)

// Sizes of a one-line diagram in px: of a column, of a level, and of what stands around.
const (
	oneColumn = 176.0
	oneLevel  = 118.0
	oneTop    = 34.0
	oneWords  = 28   // signs in a line beside a line
	oneInset  = 14.0 // of a bar from the edge of its columns
)

// oneLine draws the state of the plant: a bar a node, thick where it is live, thin where
// it is not, dashed where that is not known; a device is a line with a box when it carries,
// a gap with a stroke when open, a gap with two brackets when withdrawn or in the test position. Every state
// stands beside it in words.
func oneLine(id, title string, p *oneline.Picture) template.HTML {
	if p == nil || len(p.Bars) == 0 {
		return ""
	}
	s := newSVG(id, float64(p.Columns)*oneColumn+60, oneHigh(p), title, oneLineWords(p))
	for i, b := range p.Bars {
		y := barY(b.Level)
		x := float64(b.Left)*oneColumn + oneInset
		s.line("bar-"+string(p.OfBars[i].Look), x, y, float64(b.Right+1)*oneColumn-oneInset, y)
		s.say("label", "start", mid(b.Left)+8, y-6, brief(p.OfBars[i].Name, 26))
		s.lines("start", mid(b.Left)+8, y+14, p.OfBars[i].State, 3)
	}
	for i, k := range p.Links {
		s.link(p, k, p.OfLinks[i])
	}
	return s.done()
}

// oneHigh is as high as what hangs below the lowest bars needs, or their words alone.
func oneHigh(p *oneline.Picture) float64 {
	lowest := p.Levels - 1
	for _, k := range p.Links {
		if p.Bars[k.Upper].Level == lowest && !k.Next {
			return barY(p.Levels)
		}
	}
	return barY(lowest) + 56
}

func barY(level int) float64  { return oneTop + float64(level)*oneLevel }
func mid(column int) float64  { return (float64(column) + 0.5) * oneColumn }
func edge(column int) float64 { return float64(column) * oneColumn }

// link draws a device between its bars, or from its bar to earth.
func (s *svg) link(p *oneline.Picture, k oneline.Link, said oneline.Said) {
	upper := p.Bars[k.Upper]
	x, top := mid(k.Column), barY(upper.Level)
	middle, bottom := top+oneLevel*0.52, top+oneLevel*0.86
	switch {
	case k.Next: // along the level, in a column of its own
		s.path("wire", edge(upper.Right+1)-oneInset, top, x-12, top)
		s.path("wire", x+12, top, edge(p.Bars[k.Lower].Left)+oneInset, top)
		s.symbol(k.Kind, said.Look, x, top, true)
		s.say("label", "middle", x, top-16, brief(said.Name, 26))
		s.lines("middle", x, top+28, said.State, 2)
		return
	case k.Beside: // below the bars between
		far := edge(p.Bars[k.Lower].Left) + 2*oneInset
		s.path("wire", x+40, top, x+40, middle-24, far, middle-24, far, top)
		s.symbol(k.Kind, said.Look, x+40, middle-24, true)
		x, middle = x+40, middle-12
	case k.Lower >= 0:
		bottom = barY(p.Bars[k.Lower].Level)
		from := min(max(x, edge(upper.Left)+oneInset), edge(upper.Right+1)-oneInset)
		s.path("wire", from, top, from, top+22, x, top+22, x, middle-12)
		s.path("wire", x, middle+12, x, bottom)
		s.symbol(k.Kind, said.Look, x, middle, false)
	default:
		s.path("wire", x, top, x, middle-12)
		s.path("wire", x, middle+12, x, bottom-8)
		for i, half := range []float64{12, 8, 4} { // earth
			s.line("wire", x-half, bottom-8+4*float64(i), x+half, bottom-8+4*float64(i))
		}
		s.symbol(k.Kind, said.Look, x, middle, false)
	}
	s.say("label", "start", x+18, middle-2, brief(said.Name, 24))
	s.lines("start", x+18, middle+13, said.State, 2)
}

// lines says a text in at most so many short lines; the list beside the picture has it in full.
func (s *svg) lines(anchor string, x, y float64, text string, most int) {
	lines := strings.Split(templates.Wrap(oneWords, text), "\n")
	if len(lines) > most {
		lines = append(lines[:most-1], brief(strings.Join(lines[most-1:], " "), oneWords))
	}
	for i, l := range lines {
		s.say("small", anchor, x, y+13*float64(i), l)
	}
}

// symbol draws a device about a place, in a gap of 24 px of its wire: two rings of a
// transformer, a box of what carries, a stroke aside of what is open, brackets of what is drawn out,
// a dashed box of what is not known.
func (s *svg) symbol(kind network.Kind, look oneline.Look, x, y float64, across bool) {
	place := func(along, aside float64) (float64, float64) {
		if across {
			return x + along, y + aside
		}
		return x + aside, y + along
	}
	stroke := func(a, b, c, d float64) {
		x1, y1 := place(a, b)
		x2, y2 := place(c, d)
		s.line("wire", x1, y1, x2, y2)
	}
	switch {
	case kind == network.Transformer:
		for _, at := range []float64{-5, 5} {
			cx, cy := place(at, 0)
			s.circle("wire hollow", cx, cy, 8)
		}
	case look == oneline.Whole:
		s.box("wire", x, y)
		stroke(-12, 0, 12, 0)
	case look == oneline.Dashed:
		s.box("wire-dashed", x, y)
	case look == oneline.Gap:
		stroke(12, 0, -10, 11)
	default:
		for _, at := range []float64{-12, 12} {
			stroke(at, 0, at*0.4, 7)
			stroke(at, 0, at*0.4, -7)
		}
	}
}

func (s *svg) box(class string, x, y float64) {
	s.path(class, x-8, y-8, x+8, y-8, x+8, y+8, x-8, y+8, x-8, y-8)
}

// oneLineWords tells the picture in sentences.
func oneLineWords(p *oneline.Picture) string {
	var out []string
	for _, said := range append(append([]oneline.Said{}, p.OfBars...), p.OfLinks...) {
		out = append(out, said.Name+": "+said.State+".")
	}
	return strings.Join(out, " ")
}
