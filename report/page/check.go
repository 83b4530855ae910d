package page

import (
	"fmt"
	"html/template"
	"math"
	"slices"
	"strings"

	"handback/checks"
	"handback/checks/quantity"
	"handback/report"
)

// pageCheck is one check as its test sheet shows it.
type pageCheck struct {
	report.CheckPage
	Number         int
	Anchor, Method string
	More           string // what its state says beyond its verdict
	None           string // why there is no attempt
	Sheets         []pageAttempt
	Several        bool   // attempts
	Points         *table // of all attempts, a repeat beside what it repeats
	Course         *table // over earlier jobs
}

// pageAttempt is what an attempt has beside the rows of its check's table.
type pageAttempt struct {
	report.AttemptPage
	Anchor, Of string
	About      []fact
	Cautions   []string // beyond those of its kind
	Against    []line   // what did not pass
	Read       []fact   // read, with nothing to hold it against
	Shown      []fact   // worked out, not judged
	Figures    []figure
}

// fact is a label with what it labels, and a verdict, "" for none.
type fact struct{ Label, Text, Mark string }

// figure is a picture with the numbers it shows.
type figure struct {
	Anchor, Caption string
	SVG             template.HTML
	Numbers         *table
}

func newPageCheck(p report.CheckPage, number int) pageCheck {
	c := pageCheck{CheckPage: p, Number: number, Anchor: checkAnchor(number), Method: methodAnchor(p.Kind), More: report.OnlyIfMore(p.State, p.Verdict.String())}
	if len(p.Attempts) == 0 {
		c.None = report.JoinWords("no reading was taken", p.Why)
	}
	var all []points
	for _, a := range p.Attempts {
		sheet := newPageAttempt(p, a, c.Anchor)
		pts := pointsOf(a)
		sheet.take(pts)
		c.Sheets, all = append(c.Sheets, sheet), append(all, pts)
	}
	c.Several, c.Points = len(all) > 1, pointTable(all)
	if p.Trend != nil {
		c.Course = newPageTrend(p.Trend, c.Anchor)
	}
	return c
}

func newPageAttempt(p report.CheckPage, a report.AttemptPage, check string) pageAttempt {
	out := pageAttempt{AttemptPage: a, Anchor: fmt.Sprintf("%s-attempt-%d", check, a.Number), Of: fmt.Sprintf("%d of %d", a.Number, len(p.Attempts))}
	for _, c := range a.Cautions {
		if !slices.Contains(p.Cautions, c) {
			out.Cautions = append(out.Cautions, c)
		}
	}
	if a.Judged {
		out.about("rule", a.Rule)
	} else {
		out.about("state", "begun, not complete: it was not judged")
	}
	out.about("valid until", a.Until)
	for _, r := range a.Reasons {
		if r.Verdict != checks.Pass {
			out.Against = append(out.Against, line{r.Verdict.String(), r.Words})
		}
	}
	for _, d := range a.Derived {
		if d.Limit == nil {
			out.Shown = append(out.Shown, fact{Label: d.Name, Text: valueText(d)})
		}
	}
	out.Figures = figuresOf(p, a, out.Anchor)
	return out
}

func (a *pageAttempt) about(label, words string) {
	if words != "" {
		a.About = append(a.About, fact{Label: label, Text: words})
	}
}

// take takes over what the table of points leaves to the attempt: readings without
// anything to hold them against, and what all of its points have in common.
func (a *pageAttempt) take(p points) {
	a.Read = p.read
	if p.doubted && a.Rule != checks.RuleSimple {
		a.about("where U is not known", "rule: "+checks.RuleSimple)
	}
	a.about("of the readings judged", p.allDoubted)
	a.about("of all readings", p.ofReadings)
}

// readText is a reading as it was typed where that is a number of its unit, else its
// value with what was typed.
func readText(r report.AnswerLine, day string) string {
	if !r.Number {
		return clock(r.Word, day)
	}
	bare := strings.TrimSpace(strings.TrimPrefix(strings.TrimSuffix(r.Typed, r.Unit), r.Bound))
	if n := report.TypedDecimals(bare); quantity.Show(r.Value, "", n) == bare { // its last digit is information
		return strings.TrimSpace(r.Bound + " " + quantity.Show(r.Value, r.Unit, n))
	}
	decimals := 0
	if r.Unit != "" { // a count has no decimals
		decimals = quantity.Decimals(r.Value)
	}
	return strings.TrimSpace(r.Bound+" "+quantity.Show(r.Value, r.Unit, decimals)) + " (typed " + r.Typed + ")"
}

// clock leaves the day out of a moment of the day and offset named already.
func clock(stamp, day string) string {
	const date, offset = len("2006-01-02 "), len("2006-01-02 15:04:05 ")
	if len(stamp) == len(report.StampLayout) && len(day) == len(stamp) && stamp[:date] == day[:date] && stamp[offset:] == day[offset:] {
		return stamp[date : offset-1]
	}
	return stamp
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
	return "expected " + text
}

func valueText(d checks.Derived) string {
	if !quantity.Finite(d.Value) {
		return "cannot be worked out"
	}
	return strings.TrimSpace(d.Bound + " " + d.Text())
}

// doubtOf is how a value's uncertainty was left out of its judgement, "" where it was not.
func doubtOf(d checks.Derived) string {
	switch {
	case d.Rule == checks.RulePart:
		return d.Rule
	case quantity.Finite(d.Value) && math.IsNaN(d.U):
		return "U not known"
	}
	return ""
}

// chanceWords says the chance that a value is out no finer than it is known, and nothing
// where there is next to none.
func chanceWords(d checks.Derived) string {
	if !(d.ChanceOut >= 0.001) {
		return ""
	}
	return "chance that it is out " + quantity.Show(100*d.ChanceOut, "%", 1)
}

// figuresOf draws what can be drawn of an attempt beside its points.
func figuresOf(p report.CheckPage, a report.AttemptPage, anchor string) []figure {
	var out []figure
	add := func(f figure, head []string, rows [][]string) {
		if f.SVG == "" {
			return
		}
		for i := range head[1:] {
			head[i+1] += "|num"
		}
		f.Numbers = newTable("Numbers of the picture", head...)
		for _, r := range rows {
			cells := make([]cell, len(r))
			for i := range r {
				cells[i] = text(r[i])
			}
			f.Numbers.add(cells...)
		}
		out = append(out, f)
	}
	of := fmt.Sprintf(", check %s, attempt %d", p.ID, a.Number)
	if a.Diagram != nil {
		if sides := sidesOf(a.Diagram); len(sides) > 0 {
			f := figure{Anchor: anchor + "-phasors", Caption: "Phasors: " + a.Diagram.How + "."}
			f.SVG = phasorDiagram(f.Anchor, "Phasors"+of, a.Diagram)
			head, rows := diagramRows(sides)
			add(f, head, rows)
		}
	}
	if a.Course != nil {
		f := figure{Anchor: anchor + "-course", Caption: strings.ToUpper(a.Course.Name[:1]) + a.Course.Name[1:] + " over time; " + report.CourseHow(a.Course) + "."}
		f.SVG = coursePicture(f.Anchor, "Course"+of, a.Course)
		head, rows := courseRows(a.Course)
		add(f, head, rows)
	}
	return out
}

func newPageTrend(t *report.Trend, check string) *table {
	labels := []string{"value"}
	for _, j := range t.Jobs {
		labels = append(labels, j.Job+" "+j.Day+"|num")
	}
	out := newTable("The judged values of this check in earlier jobs, oldest first. Verdicts are those of their time; dashed lines in the pictures are the limits of this job, where they lie near enough to be drawn.",
		append(labels, "change|num", "limit of this job", "trend")...)
	out.Quiet = false
	for i, l := range t.Lines {
		cells := []cell{text(l.Name)}
		before := math.NaN()
		for k, v := range l.Values {
			c := text("none")
			if quantity.Finite(v) {
				c = below(quantity.Show(v, l.Unit, quantity.Decimals(v, l.Limit.Low, l.Limit.High)), l.Verdicts[k].String())
				if k < len(l.Values)-1 {
					before = v
				}
			}
			cells = append(cells, c)
		}
		change := ""
		if now := l.Values[len(l.Values)-1]; quantity.Finite(now) && quantity.Finite(before) {
			change = quantity.Show(now-before, l.Unit, quantity.Decimals(now))
			if now > before {
				change = "+" + change
			}
		}
		out.add(append(cells, text(change), text(checks.Derived{Unit: l.Unit, Limit: &l.Limit}.LimitText()),
			cell{Picture: trendPicture(fmt.Sprintf("%s-trend-%d", check, i+1), l, t.Jobs)})...)
	}
	return out
}
