package workbook

import (
	"fmt"
	"math"
	"strings"

	"github.com/xuri/excelize/v2"

	"handback/checks"
	"handback/report"
	"handback/report/grid"
	"handback/report/scale"
)

// chartRows is how many values one chart shows beside its rows, so that both fit a
// printed page.
const chartRows = 32

// Columns of the table of shares.
const (
	colShareName = 2
	colShareIn   = 4
	colShareOut  = 5
	colChart     = 6
	colChartEnd  = 10
)

// shares lays out where every judged value stands between its limits, with a chart beside.
// Shares are those of shareOf, as formulas.
func (b *book) shares(s *grid.Sheet) {
	b.annex(s, "Where each judged value stands between its limits", 5, 16, 28, 18, 17, 42, 9, 7, 12, 24)
	type value struct {
		name string
		at   grid.Cell
		d    checks.Derived
		work bool
	}
	var all []value
	for _, p := range b.pages {
		a := p.Newest()
		if a == nil {
			continue
		}
		for _, d := range a.Derived {
			if scale.ShareOf(d).OK {
				all = append(all, value{p.ID + ": " + d.Name, b.layout.Derived[spot{p.ID, a.Number, d.Key}], d, a.Finding != nil})
			}
		}
	}
	for first := 0; first < len(all); first += chartRows {
		s.Block()
		s.Gap(8)
		s.Heading("Where each judged value stands between its limits")
		if first == 0 {
			s.Add(grid.Across(1, colChartEnd, b.Label("±100 % is a limit, 0 the middle between two, or as far from a single one as can be. A low limit alone is turned about: "+
				"−50 % is twice the limit. Uncertainties are not drawn."), grid.FaceSmall))
		}
		part := all[first:min(first+chartRows, len(all))]
		s.Columns(grid.At(1, "no", grid.Look{}), grid.Across(colShareName, colShareIn-1, "check: value", grid.Look{}), grid.At(colShareIn, "passes", grid.Look{}), grid.At(colShareOut, "does not pass", grid.Look{}))
		top := grid.Cell{Sheet: s.Name, Row: len(s.Rows) + 1, Col: colShareName}
		for i, v := range part {
			in, out := shareBox(colShareIn, v.d, v.d.Verdict == checks.Pass), shareBox(colShareOut, v.d, v.d.Verdict != checks.Pass)
			if v.work {
				in.Formula, out.Formula = shareFormula(v.d, v.at, "="), shareFormula(v.d, v.at, "<>")
			}
			name := grid.Across(colShareName, colShareIn-1, report.CutRunes(report.OneLine(v.name), 56), grid.FaceCell)
			name.Look.Flat = true
			s.Add(grid.Whole(1, first+i+1), name, in, out)
		}
		bottom := grid.Cell{Sheet: s.Name, Row: len(s.Rows), Col: colShareName}
		s.Charts = append(s.Charts, grid.PlacedChart{At: top.In(colChart).Up(1), Chart: shareChart(top, bottom, b.Label("Where each judged value stands between its limits"))})
	}
}

// shareBox is a share where it belongs to the column, an empty text elsewhere.
func shareBox(col int, d checks.Derived, belongs bool) grid.Box {
	b := grid.Number(col, scale.ShareOf(d).At, 0, "")
	if !belongs {
		return grid.At(col, "", b.Look)
	}
	b.Look.Format = "0%"
	return b
}

// shareFormula is the share of a derived value whose verdict is, or is not, a pass.
func shareFormula(d checks.Derived, c grid.Cell, sign string) string {
	s, x, low, high := scale.ShareOf(d), c.Ref(), c.In(colLow).Ref(), c.In(colHigh).Ref()
	f := x + "/" + high
	switch {
	case s.Low && s.High:
		f = "(" + x + "-(" + low + "+" + high + ")/2)/((" + high + "-" + low + ")/2)"
	case s.Low:
		f = "-" + low + "/" + x
	}
	return "IF(" + c.In(colVerdict).Ref() + sign + grid.VerdictText(checks.Pass) + ",IFERROR(" + f + ",\"\"),\"\")"
}

// area is a range of cells for a chart.
func area(from, to grid.Cell) string {
	return fmt.Sprintf("'%s'!$%s:$%s", from.Sheet, grid.AbsoluteName(from), grid.AbsoluteName(to))
}

func solid(grey string) excelize.Fill {
	return excelize.Fill{Type: "pattern", Pattern: 1, Color: []string{grey}}
}

func chartText(size float64) *excelize.Font {
	return &excelize.Font{Family: grid.Typeface, Size: size, Color: "000000"}
}

// shareChart draws shares as bars: grey where a value passes, black where it does
// not, with lines at the limits.
func shareChart(top, bottom grid.Cell, words string) *excelize.Chart {
	black := excelize.LineOptions{Type: excelize.LineSolid, Fill: solid("000000"), Width: 0.75}
	series := func(col int, grey string) excelize.ChartSeries {
		return excelize.ChartSeries{Name: area(top.In(col).Up(1), top.In(col).Up(1)), Categories: area(top, bottom), Values: area(top.In(col), bottom.In(col)), Fill: solid(grey), Line: black}
	}
	return &excelize.Chart{Type: excelize.Bar, Series: []excelize.ChartSeries{series(colShareIn, "A6A6A6"), series(colShareOut, "000000")},
		Format:    excelize.GraphicOptions{AltText: words},
		Dimension: excelize.ChartDimension{Width: 610, Height: grid.RowsHigh(bottom.Row - top.Row + 1)},
		Legend:    excelize.ChartLegend{Position: "top", Font: chartText(8)}, GapWidth: new(uint(40)), Overlap: new(100),
		XAxis: excelize.ChartAxis{ReverseOrder: true, TickLabelPosition: excelize.ChartTickLabelLow, Font: *chartText(7)},
		YAxis: excelize.ChartAxis{Minimum: new(-2.0), Maximum: new(2.0), MajorUnit: 1, MajorGridLines: true, NumFmt: excelize.ChartNumFmt{CustomNumFmt: "0%"}, Font: *chartText(8)},
	}
}

// Columns of the table of a course.
const (
	colMinutes = 2
	colRead    = 3
	colCurve   = 4
	colLines   = 5 // and on to the right
	colCourse  = 7 // chart
)

// lineNames are the limits across a course; how each comes about is said below.
var lineNames = []string{"limit", "second limit"}

// courseHigh is how many rows a chart of a course takes.
const courseHigh = 15

// courses makes the sheet of what was read over time, each with its curve and limits; nil
// when nothing was. It is printed only where one of them did not pass.
func (b *book) courses() *grid.Sheet {
	s := b.Sheet("Courses")
	s.Landscape, s.Unprinted = true, true
	s.Widths = []float64{31, 13, 12, 9, 11, 11, 21, 14, 7}
	s.Add(grid.Across(1, 6, b.Label("Readings over time"), grid.Look{Size: 14, Bold: true}), grid.Across(7, 9, b.Label("job %s", b.doc.Job), grid.Look{Size: 10, Bold: true, Align: "right"}))
	for _, p := range b.pages {
		for _, a := range p.Attempts {
			if a.Course == nil {
				continue
			}
			if _, ok := scale.GridOf(a.Course); !ok {
				continue
			}
			s.Block()
			s.Gap(6)
			s.Add(grid.Across(1, 8, b.Label("%s (%s), attempt %d", p.Title, p.ID, a.Number), grid.FaceHead), grid.At(9, nil, grid.FaceHead))
			course(s, a.Course)
			s.Unprinted = s.Unprinted && a.Verdict == checks.Pass
		}
	}
	if len(s.Charts) == 0 {
		return nil
	}
	return s
}

// course lays out a reading over time with the curve through it and its limits, and
// a chart beside.
func course(s *grid.Sheet, c *checks.Course) {
	lines := c.Lines[:min(len(c.Lines), len(lineNames))]
	heads := []grid.Box{grid.At(1, s.Label("%s, drawn from the readings by handback", c.Name), grid.Look{}), grid.At(colMinutes, "minutes", grid.Look{}), grid.At(colRead, s.Label("read, %s", c.Unit), grid.Look{}), grid.At(colCurve, "curve", grid.Look{})}
	for i := range lines {
		heads = append(heads, grid.At(colLines+i, lineNames[i], grid.Look{}))
	}
	s.Columns(heads...)
	top := grid.Cell{Sheet: s.Name, Row: len(s.Rows) + 1, Col: colMinutes}
	decimals := 0
	for _, x := range c.Values {
		decimals = max(decimals, grid.EnoughDecimals(x))
	}
	for i, minutes := range c.Minutes {
		row := []grid.Box{grid.Number(colMinutes, minutes, grid.EnoughDecimals(minutes), ""), grid.Number(colRead, c.Values[i], decimals, "")}
		if c.Curve != nil {
			row = append(row, grid.Number(colCurve, c.Curve(minutes), decimals, ""))
		}
		for n, l := range lines {
			row = append(row, grid.Number(colLines+n, l.Value, grid.EnoughDecimals(l.Value), ""))
		}
		s.Add(row...)
	}
	for len(s.Rows) < top.Row+courseHigh { // room for the chart
		s.Gap(15)
	}
	s.Said("curve", strings.TrimPrefix(report.CourseHow(c), "curve: "))
	for i, l := range lines {
		s.Said(lineNames[i], strings.TrimPrefix(l.Text, "limit "))
	}
	bottom := grid.Cell{Sheet: s.Name, Row: top.Row + len(c.Minutes) - 1, Col: colMinutes}
	s.Charts = append(s.Charts, grid.PlacedChart{At: top.In(colCourse), Chart: courseChart(c, top, bottom, len(lines))})
}

func courseChart(c *checks.Course, top, bottom grid.Cell, lines int) *excelize.Chart {
	stroke := func(dash excelize.LineDashType) excelize.LineOptions {
		return excelize.LineOptions{Type: excelize.LineSolid, Dash: dash, Width: 1.5}
	}
	series := func(col int, line excelize.LineOptions, symbol string) excelize.ChartSeries {
		return excelize.ChartSeries{Name: area(top.In(col).Up(1), top.In(col).Up(1)), Categories: area(top, bottom), Values: area(top.In(col), bottom.In(col)),
			Fill: solid("000000"), Line: line, Marker: excelize.ChartMarker{Symbol: symbol, Size: 6, Fill: solid("000000"), Border: stroke(excelize.LineDashSolid)}}
	}
	all := []excelize.ChartSeries{series(colRead, excelize.LineOptions{Type: excelize.LineNone}, "circle")}
	if c.Curve != nil {
		all = append(all, series(colCurve, stroke(excelize.LineDashSolid), "none"))
	}
	for i := range lines {
		all = append(all, series(colLines+i, stroke([]excelize.LineDashType{excelize.LineDashDash, excelize.LineDashSysDot}[i]), "none"))
	}
	g, _ := scale.GridOf(c)
	return &excelize.Chart{Type: excelize.Scatter, Series: all,
		Format:    excelize.GraphicOptions{AltText: c.Name + " over time with its limits; the numbers stand in the table beside it."},
		Dimension: excelize.ChartDimension{Width: 500, Height: grid.RowsHigh(courseHigh)},
		Legend:    excelize.ChartLegend{Position: "bottom", Font: chartText(8)},
		XAxis: excelize.ChartAxis{Minimum: new(0.0), Maximum: new(g.End), MajorUnit: g.Every, Font: *chartText(8),
			Title: excelize.ChartTitle{Paragraph: []excelize.RichTextRun{{Text: "minutes", Font: chartText(8)}}}},
		YAxis: excelize.ChartAxis{Minimum: new(math.Min(g.Low, g.High)), Maximum: new(g.High), MajorUnit: g.Tick, MajorGridLines: true, Font: *chartText(8),
			Title: excelize.ChartTitle{Paragraph: []excelize.RichTextRun{{Text: c.Unit, Font: chartText(8)}}}},
	}
}
