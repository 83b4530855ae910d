package report

import (
	"fmt"
	"math"
	"strings"

	"github.com/xuri/excelize/v2"

	"handback/checks"
)

// chartRows is how many values one chart shows beside its rows, so that both fit a
// printed page.
const chartRows = 32

// Columns of the table of shares on the sheet of results.
const (
	colShareName = 2
	colShareIn   = 4
	colShareOut  = 5
	colChart     = 6
)

// shares lays out, on the sheet of results, where every judged value stands between
// its limits, with a chart beside. Shares are those of shareOf, as formulas.
func (b *book) shares(s *sheet) {
	type value struct {
		name string
		at   Cell
		d    checks.Derived
		work bool
	}
	var all []value
	for _, p := range b.doc.Pages() {
		a := p.judged()
		if a == nil {
			continue
		}
		for _, d := range a.Derived {
			if shareOf(d).OK {
				all = append(all, value{p.ID + ": " + d.Name, b.layout.Derived[Spot{p.ID, a.Number, d.Key}], d, a.Finding != nil})
			}
		}
	}
	for first := 0; first < len(all); first += chartRows {
		s.block()
		s.gap(8)
		s.heading("Where each judged value stands between its limits")
		if first == 0 {
			s.add(across(1, colRecorded, "±100 % is a limit, 0 the middle between two, or as far from a single one as can be. A low limit alone is turned about: "+
				"−50 % is twice the limit. Uncertainties are not drawn.", faceSmall))
		}
		part := all[first:min(first+chartRows, len(all))]
		s.columns(at(1, "no", look{}), across(colShareName, colShareIn-1, "check: value", look{}), at(colShareIn, "passes", look{}), at(colShareOut, "does not pass", look{}))
		top := Cell{s.name, len(s.rows) + 1, colShareName}
		for i, v := range part {
			in, out := shareBox(colShareIn, v.d, v.d.Verdict == checks.Pass), shareBox(colShareOut, v.d, v.d.Verdict != checks.Pass)
			if v.work {
				in.formula, out.formula = shareFormula(v.d, v.at, "="), shareFormula(v.d, v.at, "<>")
			}
			name := across(colShareName, colShareIn-1, cutRunes(unwrapped(v.name), 56), faceCell)
			name.look.flat = true
			s.add(whole(1, first+i+1), name, in, out)
		}
		bottom := Cell{s.name, len(s.rows), colShareName}
		s.charts = append(s.charts, placedChart{top.In(colChart).up(1), shareChart(top, bottom)})
	}
}

// shareBox is a share where it belongs to the column, an empty text elsewhere.
func shareBox(col int, d checks.Derived, belongs bool) box {
	b := number(col, shareOf(d).At, 0, "")
	if !belongs {
		return at(col, "", b.look)
	}
	b.look.format = "0%"
	return b
}

// shareFormula is the share of a derived value whose verdict is, or is not, a pass.
func shareFormula(d checks.Derived, c Cell, sign string) string {
	s, x, low, high := shareOf(d), c.Ref(), c.In(colLow).Ref(), c.In(colHigh).Ref()
	f := x + "/" + high
	switch {
	case s.Low && s.High:
		f = "(" + x + "-(" + low + "+" + high + ")/2)/((" + high + "-" + low + ")/2)"
	case s.Low:
		f = "-" + low + "/" + x
	}
	return "IF(" + c.In(colVerdict).Ref() + sign + verdictText(checks.Pass) + ",IFERROR(" + f + ",\"\"),\"\")"
}

// placedChart is a chart over the rows from its cell on.
type placedChart struct {
	at    Cell
	chart *excelize.Chart
}

// The library takes every row to be 20 pixels high when it places a chart, as ours
// nearly are. LibreOffice draws charts a little higher than that, so less is asked for.
const plainRow = 18.5 // pixels

func rowsHigh(n int) uint { return uint(plainRow * float64(n)) }

// area is a range of cells for a chart.
func area(from, to Cell) string {
	return fmt.Sprintf("'%s'!$%s:$%s", from.Sheet, absoluteName(from), absoluteName(to))
}

func absoluteName(c Cell) string {
	name, err := excelize.ColumnNumberToName(c.Col)
	if err != nil {
		panic(fmt.Sprintf("report: column %d: %v", c.Col, err))
	}
	return name + "$" + itoa(c.Row)
}

func solid(grey string) excelize.Fill {
	return excelize.Fill{Type: "pattern", Pattern: 1, Color: []string{grey}}
}

func chartText(size float64) *excelize.Font {
	return &excelize.Font{Family: typeface, Size: size, Color: "000000"}
}

// shareChart draws shares as bars: grey where a value passes, black where it does
// not, with lines at the limits.
func shareChart(top, bottom Cell) *excelize.Chart {
	black := excelize.LineOptions{Type: excelize.LineSolid, Fill: solid("000000"), Width: 0.75}
	series := func(col int, grey string) excelize.ChartSeries {
		return excelize.ChartSeries{Name: area(top.In(col).up(1), top.In(col).up(1)), Categories: area(top, bottom), Values: area(top.In(col), bottom.In(col)), Fill: solid(grey), Line: black}
	}
	return &excelize.Chart{Type: excelize.Bar, Series: []excelize.ChartSeries{series(colShareIn, "A6A6A6"), series(colShareOut, "000000")},
		Format:    excelize.GraphicOptions{AltText: "Where each judged value stands between its limits; the numbers stand in the table beside it."},
		Dimension: excelize.ChartDimension{Width: 610, Height: rowsHigh(bottom.Row - top.Row + 1)},
		Legend:    excelize.ChartLegend{Position: "top", Font: chartText(8)}, GapWidth: ptr(uint(40)), Overlap: ptr(100),
		XAxis: excelize.ChartAxis{ReverseOrder: true, TickLabelPosition: excelize.ChartTickLabelLow, Font: *chartText(7)},
		YAxis: excelize.ChartAxis{Minimum: ptr(-2.0), Maximum: ptr(2.0), MajorUnit: 1, MajorGridLines: true, NumFmt: excelize.ChartNumFmt{CustomNumFmt: "0%"}, Font: *chartText(8)},
	}
}

// Columns of the table of a course.
const (
	colMinutes = 2
	colRead    = 3
	colCurve   = 4
	colLines   = 5 // and on to the right
)

// lineNames are the limits across a course; how each comes about is said below.
var lineNames = []string{"limit", "second limit"}

// courseHigh is how many rows a chart of a course takes.
const courseHigh = 15

// course lays out a reading over time with the curve through it and its limits, and
// a chart beside.
func (b *book) course(s *sheet, c *checks.Course) {
	if _, ok := gridOf(c); !ok {
		return
	}
	s.block()
	s.gap(3)
	lines := c.Lines[:min(len(c.Lines), len(lineNames))]
	heads := []box{at(1, c.Name+", drawn from the readings by handback", look{}), at(colMinutes, "minutes", look{}), at(colRead, "read, "+c.Unit, look{}), at(colCurve, "curve", look{})}
	for i := range lines {
		heads = append(heads, at(colLines+i, lineNames[i], look{}))
	}
	s.columns(heads...)
	top := Cell{s.name, len(s.rows) + 1, colMinutes}
	decimals := 0
	for _, x := range c.Values {
		decimals = max(decimals, enoughDecimals(x))
	}
	for i, minutes := range c.Minutes {
		row := []box{number(colMinutes, minutes, enoughDecimals(minutes), ""), number(colRead, c.Values[i], decimals, "")}
		if c.Curve != nil {
			row = append(row, number(colCurve, c.Curve(minutes), decimals, ""))
		}
		for n, l := range lines {
			row = append(row, number(colLines+n, l.Value, enoughDecimals(l.Value), ""))
		}
		s.add(row...)
	}
	for len(s.rows) < top.Row+courseHigh { // room for the chart
		s.gap(15)
	}
	s.said("curve", strings.TrimPrefix(courseHow(c), "curve: "))
	for i, l := range lines {
		s.said(lineNames[i], strings.TrimPrefix(l.Text, "limit "))
	}
	bottom := Cell{s.name, top.Row + len(c.Minutes) - 1, colMinutes}
	s.charts = append(s.charts, placedChart{top.In(colSource), courseChart(c, top, bottom, len(lines))})
}

func courseChart(c *checks.Course, top, bottom Cell, lines int) *excelize.Chart {
	stroke := func(dash excelize.LineDashType) excelize.LineOptions {
		return excelize.LineOptions{Type: excelize.LineSolid, Dash: dash, Width: 1.5}
	}
	series := func(col int, line excelize.LineOptions, symbol string) excelize.ChartSeries {
		return excelize.ChartSeries{Name: area(top.In(col).up(1), top.In(col).up(1)), Categories: area(top, bottom), Values: area(top.In(col), bottom.In(col)),
			Fill: solid("000000"), Line: line, Marker: excelize.ChartMarker{Symbol: symbol, Size: 6, Fill: solid("000000"), Border: stroke(excelize.LineDashSolid)}}
	}
	all := []excelize.ChartSeries{series(colRead, excelize.LineOptions{Type: excelize.LineNone}, "circle")}
	if c.Curve != nil {
		all = append(all, series(colCurve, stroke(excelize.LineDashSolid), "none"))
	}
	for i := range lines {
		all = append(all, series(colLines+i, stroke([]excelize.LineDashType{excelize.LineDashDash, excelize.LineDashSysDot}[i]), "none"))
	}
	g, _ := gridOf(c)
	return &excelize.Chart{Type: excelize.Scatter, Series: all,
		Format:    excelize.GraphicOptions{AltText: c.Name + " over time with its limits; the numbers stand in the table beside it."},
		Dimension: excelize.ChartDimension{Width: 500, Height: rowsHigh(courseHigh)},
		Legend:    excelize.ChartLegend{Position: "bottom", Font: chartText(8)},
		XAxis: excelize.ChartAxis{Minimum: ptr(0.0), Maximum: ptr(g.end), MajorUnit: g.every, Font: *chartText(8),
			Title: excelize.ChartTitle{Paragraph: []excelize.RichTextRun{{Text: "minutes", Font: chartText(8)}}}},
		YAxis: excelize.ChartAxis{Minimum: ptr(math.Min(g.low, g.high)), Maximum: ptr(g.high), MajorUnit: g.step, MajorGridLines: true, Font: *chartText(8),
			Title: excelize.ChartTitle{Paragraph: []excelize.RichTextRun{{Text: c.Unit, Font: chartText(8)}}}},
	}
}
