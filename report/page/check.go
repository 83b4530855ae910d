package page

import (
	"fmt"
	"html/template"
	"math"
	"slices"
	"strconv"
	"strings"

	"handback/checks"
	"handback/checks/quantity"
	"handback/report"
	"handback/report/scale"
)

// pageCheck is one check as the page shows it.
type pageCheck struct {
	report.CheckPage
	Number       int
	Anchor       string
	More         string // what its state says beyond its verdict
	Shows, How   string
	Sources      string
	None         string // why there is no attempt
	AttemptPages []pageAttempt
	Course       *pageTrend
}

type pageAttempt struct {
	report.AttemptPage
	Anchor, Of string
	Cautions   []string // beyond those of its check
	Readings   []pageReading
	Values     []pageValue
	Working    []string
	Figures    []figure

	// Columns that would stay empty are left out.
	Expects, Metered, Remarked, AnyJudged bool
}

type pageReading struct{ Label, Typed, Value, Expected, Meter, Entry, Remark string }

type pageValue struct {
	Name, Value, Limit, Share, Chance string
	Judged                            bool
	Verdict                           checks.Verdict
}

// figure is a picture with the numbers it shows: in a table of its own, or where
// Beside says.
type figure struct {
	Anchor, Caption, Beside string
	SVG                     template.HTML
	Head                    []string
	Rows                    [][]string
}

type pageTrend struct {
	Jobs []report.TrendJob
	Rows []pageTrendRow
}

type pageTrendRow struct {
	Name, Limit, Change string
	Values              []pageTrendValue
	SVG                 template.HTML
}

type pageTrendValue struct {
	Text    string
	Verdict checks.Verdict
	Known   bool
}

func newPageCheck(p report.CheckPage, number int) pageCheck {
	c := pageCheck{CheckPage: p, Number: number, Anchor: fmt.Sprintf("check-%d", number), More: report.OnlyIfMore(p.State, p.Verdict.String()),
		Shows: report.OneLine(p.Shows), How: report.OneLine(p.How), Sources: strings.Join(p.Sources, "; ")}
	if len(p.Attempts) == 0 {
		c.None = report.JoinWords("no reading was taken", p.Why)
	}
	for _, a := range p.Attempts {
		c.AttemptPages = append(c.AttemptPages, newPageAttempt(p, a, c.Anchor))
	}
	if p.Trend != nil {
		c.Course = newPageTrend(p.Trend, c.Anchor)
	}
	return c
}

// result is the check's line among the results.
func (c pageCheck) result() pageResult {
	r := pageResult{Number: c.Number, Anchor: c.Anchor, ID: c.ID, Title: c.Title, At: c.At, Verdict: c.Shown(), Why: report.WhyItStands(c.CheckPage), Attempts: len(c.Attempts)}
	for _, a := range c.Attempts {
		if a.Entry > 0 {
			r.Entry = a.Entry
		}
	}
	return r
}

func newPageAttempt(p report.CheckPage, a report.AttemptPage, check string) pageAttempt {
	out := pageAttempt{AttemptPage: a, Anchor: fmt.Sprintf("%s-attempt-%d", check, a.Number), Of: fmt.Sprintf("%d of %d", a.Number, len(p.Attempts))}
	for _, c := range a.Cautions {
		if !slices.Contains(p.Cautions, c) {
			out.Cautions = append(out.Cautions, c)
		}
	}
	for _, r := range a.Readings {
		line := newPageReading(r)
		out.Readings = append(out.Readings, line)
		out.Expects, out.Metered, out.Remarked = out.Expects || line.Expected != "", out.Metered || line.Meter != "", out.Remarked || line.Remark != ""
	}
	for _, d := range a.Derived {
		out.Values = append(out.Values, newPageValue(d))
		out.AnyJudged = out.AnyJudged || d.Limit != nil
		for _, w := range d.Working {
			if !slices.Contains(out.Working, w) { // a step that several values share stands once
				out.Working = append(out.Working, w)
			}
		}
	}
	out.Figures = figuresOf(p, a, out.Anchor)
	return out
}

func newPageReading(r report.AnswerLine) pageReading {
	out := pageReading{Label: r.Label, Typed: r.Typed, Value: r.Word, Meter: r.Meter, Remark: r.Remark}
	if r.Entry > 0 {
		out.Entry = strconv.Itoa(r.Entry)
	}
	if !r.Number {
		if r.Word == r.Typed { // shown once
			out.Value = ""
		}
		return out
	}
	decimals := 0
	if r.Unit != "" { // a count has no decimals
		decimals = max(quantity.Decimals(r.Value), report.TypedDecimals(r.Typed))
	}
	out.Value = strings.TrimSpace(r.Bound + " " + quantity.Show(r.Value, r.Unit, decimals))
	if r.Expect != nil {
		out.Expected = expectedWords(r)
	}
	return out
}

// expectedWords is what a reading should be, in its own unit, with the source.
func expectedWords(r report.AnswerLine) string {
	show := func(x float64, unit string) string {
		if r.Unit != "" {
			x = quantity.FromBase(x, r.Unit)
		}
		return quantity.Show(x, unit, quantity.Decimals(x))
	}
	low, high := r.Expect.Low, r.Expect.High
	text := ""
	switch {
	case quantity.Finite(low) && quantity.Finite(high):
		text = show(low, "") + " to " + show(high, r.Unit)
	case quantity.Finite(low):
		text = "from " + show(low, r.Unit)
	case quantity.Finite(high):
		text = "up to " + show(high, r.Unit)
	}
	if r.Expect.Source != "" {
		text = strings.TrimSpace(text + " (" + r.Expect.Source + ")")
	}
	return text
}

func newPageValue(d checks.Derived) pageValue {
	v := pageValue{Name: d.Name, Value: strings.TrimSpace(d.Bound + " " + d.Text()), Limit: d.LimitText(), Judged: d.Limit != nil, Verdict: d.Verdict}
	if !quantity.Finite(d.Value) {
		v.Value = "cannot be worked out"
	} else if math.IsNaN(d.U) {
		v.Value += " (U not known)"
	}
	if d.Rule == checks.RulePart || d.Rule == checks.RuleSimple && math.IsNaN(d.U) {
		v.Value += ", rule: " + d.Rule
	}
	if v.Judged {
		v.Share, v.Chance = scale.ShareOf(d).Words(), "not known"
		if quantity.Finite(d.ChanceOut) {
			v.Chance = chanceWords(d.ChanceOut)
		}
	}
	return v
}

// chanceWords says a chance no finer than it is known.
func chanceWords(p float64) string {
	if p < 0.001 {
		return "below 0.1 %"
	}
	return quantity.Show(100*p, "%", 1)
}

// figuresOf draws what can be drawn of an attempt.
func figuresOf(p report.CheckPage, a report.AttemptPage, anchor string) []figure {
	var out []figure
	add := func(f figure) {
		if f.SVG != "" {
			out = append(out, f)
		}
	}
	of := fmt.Sprintf(", check %s, attempt %d", p.ID, a.Number)
	if a.Diagram != nil {
		if sides := sidesOf(a.Diagram); len(sides) > 0 {
			f := figure{Anchor: anchor + "-phasors", Caption: "Phasors: " + a.Diagram.How + "."}
			f.Head, f.Rows = diagramRows(sides)
			f.SVG = phasorDiagram(f.Anchor, "Phasors"+of, a.Diagram)
			add(f)
		}
	}
	if a.Course != nil {
		f := figure{Anchor: anchor + "-course", Caption: strings.ToUpper(a.Course.Name[:1]) + a.Course.Name[1:] + " over time; " + report.CourseHow(a.Course) + "."}
		f.SVG = coursePicture(f.Anchor, "Course"+of, a.Course)
		f.Head, f.Rows = courseRows(a.Course)
		add(f)
	}
	var judged []checks.Derived
	for _, d := range a.Derived {
		if d.Limit != nil {
			judged = append(judged, d)
		}
	}
	for n := 0; n*barRows < len(judged); n++ {
		part := judged[n*barRows : min((n+1)*barRows, len(judged))]
		f := figure{Anchor: fmt.Sprintf("%s-share-%d", anchor, n+1), Beside: "The numbers stand in the table above.",
			Caption: "Share of the tolerance used: full dot pass, hollow diamond inconclusive, cross fail; whisker U (k = 2); a value beyond the picture stands at its edge with an arrow."}
		f.SVG = toleranceBars(f.Anchor, "Share of tolerance"+of, part)
		add(f)
	}
	return out
}

func newPageTrend(t *report.Trend, check string) *pageTrend {
	out := &pageTrend{Jobs: t.Jobs}
	for i, l := range t.Lines {
		row := pageTrendRow{Name: l.Name, Limit: checks.Derived{Unit: l.Unit, Limit: &l.Limit}.LimitText(), SVG: trendPicture(fmt.Sprintf("%s-trend-%d", check, i+1), l, t.Jobs)}
		before := math.NaN()
		for k, v := range l.Values {
			cell := pageTrendValue{Text: "none", Verdict: l.Verdicts[k], Known: quantity.Finite(v)}
			if cell.Known {
				cell.Text = quantity.Show(v, l.Unit, quantity.Decimals(v, l.Limit.Low, l.Limit.High))
				if k < len(l.Values)-1 {
					before = v
				}
			}
			row.Values = append(row.Values, cell)
		}
		if now := l.Values[len(l.Values)-1]; quantity.Finite(now) && quantity.Finite(before) {
			row.Change = quantity.Show(now-before, l.Unit, quantity.Decimals(now))
			if now > before {
				row.Change = "+" + row.Change
			}
		}
		out.Rows = append(out.Rows, row)
	}
	return out
}
