// Package years lays out how a value went over the years: as a picture in plain signs for a
// terminal, and as a table in CSV.
package years

import (
	"bytes"
	"fmt"
	"math"
	"strings"
	"time"
	"unicode/utf8"

	"handback/checks"
	"handback/checks/quantity"
	"handback/checks/trend"
	"handback/report/scale"
)

// The picture in signs.
const (
	plotWidth  = 60
	plotHeight = 12
)

// Signs are what the picture draws, by what they mean. Each is one of ASCII, so that the
// picture shows on every terminal.
const Signs = "o pass   ? inconclusive   x fail   # void   > < a bound   ~ not in the line   . line   - limit"

// sign is that of a value; one that the line does not go through says so unless it says more.
func sign(v trend.Value) byte {
	switch {
	case v.Bound != "":
		return v.Bound[0]
	case v.Verdict == checks.Void:
		return '#'
	case v.Lapsed:
		return '~'
	case v.Verdict == checks.Fail:
		return 'x'
	case v.Verdict == checks.Inconclusive:
		return '?'
	}
	return 'o' // a value without a limit is no worse than one that passes
}

// Plot draws the values over the years with the line and the limits, a line of signs a
// row; "" when nothing can be drawn.
func Plot(t *trend.Trend) string {
	g, ok := scale.YearsOf(t)
	if !ok {
		return ""
	}
	cells := make([][]byte, plotHeight)
	for i := range cells {
		cells[i] = bytes.Repeat([]byte{' '}, plotWidth)
	}
	put := func(x, y float64, sign byte) {
		column, row := int(math.Round(x*(plotWidth-1))), int(math.Round((1-y)*(plotHeight-1)))
		if column >= 0 && column < plotWidth && row >= 0 && row < plotHeight {
			cells[row][column] = sign
		}
	}
	for _, limit := range g.Limits {
		for i := range plotWidth {
			put(float64(i)/(plotWidth-1), g.Share(limit), '-')
		}
	}
	for i := range plotWidth {
		if y, _, ok := t.Line(g.From.Add(g.To.Sub(g.From) / (plotWidth - 1) * time.Duration(i))); ok {
			put(float64(i)/(plotWidth-1), g.Share(y), '.')
		}
	}
	for _, v := range t.Values {
		if quantity.Finite(v.X) {
			put(g.At(v.At), g.Share(v.X), sign(v))
		}
	}
	return framed(g, cells)
}

// framed puts the numbers of the axes about a picture.
func framed(g scale.YearsGrid, cells [][]byte) string {
	marks := map[int]string{}
	wide := 0
	for k := range int(math.Round((g.High-g.Low)/g.Tick)) + 1 {
		x := g.Low + float64(k)*g.Tick
		text := g.Mark(x)
		marks[int(math.Round((1-g.Share(x))*(plotHeight-1)))] = text
		wide = max(wide, utf8.RuneCountInString(text))
	}
	var b strings.Builder
	for i, row := range cells {
		fmt.Fprintf(&b, "%*s | %s\n", wide, marks[i], strings.TrimRight(string(row), " "))
	}
	years := bytes.Repeat([]byte{' '}, plotWidth+4)
	every := g.Years(8)
	for year := g.From.Year(); year <= g.To.Year(); year += every {
		at := g.From.AddDate(year-g.From.Year(), 0, 0)
		copy(years[int(math.Round(g.At(at)*(plotWidth-1))):], fmt.Sprint(year))
	}
	fmt.Fprintf(&b, "%*s +-%s\n", wide, "", strings.Repeat("-", plotWidth))
	fmt.Fprintf(&b, "%*s   %s\n", wide, "", strings.TrimRight(string(years), " "))
	return b.String()
}
