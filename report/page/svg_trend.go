package page

import (
	"fmt"
	"html/template"
	"math"

	"handback/checks"
	"handback/checks/quantity"
	"handback/report"
)

const (
	trendWidth, trendHeight = 150.0, 44.0
	trendEdge               = 9.0
)

// trendPicture draws a value over the jobs, the limits of this job as dashed lines
// where they lie near enough to show both. It is empty when nothing can be drawn.
func trendPicture(id string, l report.TrendLine, jobs []report.TrendJob) template.HTML {
	low, high := math.Inf(1), math.Inf(-1)
	for _, v := range l.Values {
		if quantity.Finite(v) {
			low, high = math.Min(low, v), math.Max(high, v)
		}
	}
	if !(low <= high) {
		return ""
	}
	span := math.Max(high-low, 1e-3*math.Max(math.Abs(high), math.Abs(low)))
	shown := []float64{}
	for _, limit := range []float64{l.Limit.Low, l.Limit.High} {
		if quantity.Finite(limit) && limit > low-10*span && limit < high+10*span {
			shown = append(shown, limit)
		}
	}
	for _, limit := range shown {
		low, high = math.Min(low, limit), math.Max(high, limit)
	}
	if !(high > low) {
		low, high = low-1, high+1
	}
	s := newSVG(id, trendWidth, trendHeight, "Trend of "+l.Name, trendWords(l, jobs))
	y := func(v float64) float64 { return fit(v, low, high, trendHeight-trendEdge, trendEdge) }
	for _, limit := range shown {
		s.line("limit long", 2, y(limit), trendWidth-2, y(limit))
	}
	var points []float64
	for i, v := range l.Values {
		if quantity.Finite(v) {
			points = append(points, trendX(i, len(l.Values)), y(v))
		}
	}
	s.path("side-a thin", points...)
	for i, v := range l.Values {
		if quantity.Finite(v) {
			s.valueMark(l.Verdicts[i], trendX(i, len(l.Values)), y(v))
		}
	}
	return s.done()
}

func trendX(i, n int) float64 {
	return fit(float64(i), 0, math.Max(float64(n-1), 1), trendEdge, trendWidth-trendEdge)
}

// trendWords tells the picture in a sentence.
func trendWords(l report.TrendLine, jobs []report.TrendJob) string {
	text := ""
	for i, v := range l.Values {
		if quantity.Finite(v) {
			text += fmt.Sprintf("%s: %s, %s. ", jobs[i].Job, quantity.Show(v, l.Unit, quantity.Decimals(v)), l.Verdicts[i])
		}
	}
	return text + "Limit of this job: " + checks.Derived{Unit: l.Unit, Limit: &l.Limit}.LimitText() + "."
}
