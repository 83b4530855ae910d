package fieldsheet

import (
	"fmt"
	"slices"
	"strings"

	"handback/checks"
	"handback/checks/plan"
	"handback/checks/quantity"
	"handback/report"
	"handback/report/grid"
)

// Columns of a form.
const (
	formLabel  = 1
	formUnit   = 2
	formInput  = 3
	formExpect = 4
	formHint   = 5
)

var (
	faceInput  = grid.Look{Size: 12, Middle: true, Format: "@"} // framed as what is filled in
	faceKept   = grid.Look{Size: 10, Border: "hair", Fill: "EDEDED", Middle: true}
	facePrompt = grid.Look{Size: 10, Border: "hair", Middle: true}
	faceAside  = grid.Look{Size: 8, Border: "hair", Middle: true}
)

// writingRoom is how high a row to write in is, in points: 9 mm on paper.
const writingRoom = 31

// form lays out the form of one open check, number n of the plan's checks.
func (b *fieldBook) form(st *report.State, n int) *grid.Sheet {
	c := st.Check
	s := b.Sheet(c.ID)
	s.Repeat = 1
	s.Widths = []float64{32, 9, 21, 24, 29}
	s.Add(grid.Across(1, 4, fmt.Sprintf("%d   %s", n, c.Title), grid.FaceTitle), grid.At(5, "job "+b.doc.Job, grid.Look{Size: 10, Bold: true, Align: "right"}))
	f := &formOf{fieldBook: b, s: s, check: c, attempt: 1, in: b.job.Input(c, b.now)}
	if a := st.Last(); a != nil {
		f.attempt = a.Number
		f.again = a.Judged
		if a.Judged {
			f.attempt++
		}
	}
	f.head()
	s.Gap(5)
	s.Columns(grid.At(formLabel, "reading", grid.Look{}), grid.At(formUnit, "unit", grid.Look{}), grid.At(formInput, "fill in", grid.Look{}), grid.At(formExpect, "expected", grid.Look{}), grid.At(formHint, "how", grid.Look{}))
	for _, field := range f.in.Form() {
		f.row(field)
	}
	f.foot()
	return s
}

// formOf is a form in the making.
type formOf struct {
	*fieldBook
	s       *grid.Sheet
	check   *plan.Check
	attempt int
	again   bool // repeats a judged attempt
	in      checks.Input
}

// head is all that must be known before the first reading.
func (f *formOf) head() {
	c := f.check
	f.s.Said("check", fmt.Sprintf("%s (%s), attempt %d", c.ID, c.Kind.Name, f.attempt))
	f.s.Said("where", c.At)
	f.s.Said("state", f.stateOf(c))
	if a := f.job.State(c.ID).Last(); f.again {
		f.s.Said("why", a.Told.Why())
	}
	for _, text := range c.Kind.Cautions {
		f.s.Add(grid.At(1, "CAUTION", grid.FaceLabel), grid.Across(2, formHint, text, grid.Look{Size: 9, Bold: true}))
	}
	f.holds()
	f.predictions()
	f.s.Said("procedure", c.Follows.Words)
	f.s.Said("note", c.Note)
	if m := f.job.Plan.Meter(c.Meter); m != nil {
		state := "in date to " + m.Due.Format("2006-01-02")
		if !m.InDate(f.now) {
			state = "OUT OF DATE since " + m.Due.Format("2006-01-02") + ": its readings will not count"
		}
		f.s.Said("instrument", fmt.Sprintf("%s: %s, serial %s, %s", m.ID, m.Name, m.Serial, state))
	}
}

// holds names every hold point above the check whose step was not taken.
func (f *formOf) holds() {
	l := grid.Look{Size: 9, Bold: true, Border: "medium", Middle: true}
	f.s.Gap(4)
	for _, it := range f.job.Plan.Items() {
		if it.Check == f.check {
			break
		}
		if h := it.Hold; h != nil {
			if _, taken := f.job.Steps[h.ID]; !taken {
				f.s.Add(grid.At(1, "HOLD "+h.ID, l), grid.Across(2, formHint, "This check lies behind a hold point. Not before "+strings.Join(h.Needs, ", ")+" pass: "+h.Action, l))
			}
		}
	}
	f.s.Gap(4)
}

// predictions are what the plan alone lets one expect, where no field says more.
func (f *formOf) predictions() {
	if f.check.Kind.Predict == nil || slices.ContainsFunc(f.in.Form(), func(field checks.Field) bool { return field.Expect != nil }) {
		return
	}
	var words []string
	for _, p := range f.check.Kind.Predict(f.job.Plan, f.check) {
		text := p.Name + ": " + p.Text
		if !strings.Contains(text, p.Source) { // a limit's words name it already
			text += ", " + p.Source
		}
		words = append(words, text)
	}
	f.s.Said("expect", strings.Join(words, "\n"))
}

// row lays out one field: a cell to fill in, or what was recorded already.
func (f *formOf) row(field checks.Field) {
	label := field.Label
	if !field.Need {
		label += " (may be left out)"
	}
	expect := grid.At(formExpect, f.expectWords(field), faceAside)
	if a, ok := f.in.Answers[field.Key]; ok {
		f.s.Add(grid.At(formLabel, label, facePrompt), grid.At(formUnit, report.UnitWords(field.Unit), facePrompt), grid.At(formInput, a.Typed, faceKept), expect, grid.At(formHint, "recorded before", faceAside))
		return
	}
	f.fill(field.Key, grid.At(formLabel, label, facePrompt), grid.At(formUnit, report.UnitWords(field.Unit), facePrompt),
		grid.At(formInput, nil, faceInput).Input(f.accepts(field)), expect, grid.At(formHint, field.Hint, faceAside))
}

// fill adds a row with a cell to fill in. Where a label takes several rows, the cell
// stands in the last.
func (f *formOf) fill(key string, boxes ...grid.Box) {
	n := f.s.Add(boxes...)
	last := len(f.s.Rows)
	for _, b := range boxes {
		if b.Look.Open {
			for row := n; row <= last; row++ {
				f.s.Change(row, func(x *grid.Box) { x.Look.Open = x.Col == b.Col && row == last })
			}
			f.inputs = append(f.inputs, input{grid.Cell{Sheet: f.s.Name, Row: last, Col: b.Col}, f.check.ID, f.attempt, key})
		}
	}
	f.s.Rows[last-1].Height = max(f.s.Rows[last-1].Height, writingRoom)
}

// longestOptions is how many characters of options are printed beside a cell.
const longestOptions = 160

// expectWords are value, band and source of what a field should read, or the words
// it chooses from.
func (f *formOf) expectWords(field checks.Field) string {
	if field.Wanted != "" {
		return field.Wanted
	}
	if e := field.Expect; e != nil && field.Sort == checks.Measured {
		show := func(x float64) string { return quantity.Short(quantity.FromBase(x, field.Unit)) }
		return fmt.Sprintf("%s (%s to %s) %s: %s", show(e.Value), show(e.Low), show(e.High), report.UnitWords(field.Unit), e.Source)
	}
	if e := field.Expect; e != nil {
		return fmt.Sprintf("%s (%s to %s): %s", quantity.Short(e.Value), quantity.Short(e.Low), quantity.Short(e.High), e.Source)
	}
	words := strings.Join(f.optionsOf(field), " / ")
	switch {
	case field.Sort == checks.MeterUsed && field.Default != "":
		return "planned: " + field.Default
	case len(words) > longestOptions:
		return "one of the list of the cell, as the plan names them"
	case words != "":
		return words
	case field.Sort == checks.Instant:
		return "a time such as 14:05"
	}
	return ""
}

// foot are the cells about the attempt as a whole, and lines for a signature on paper.
func (f *formOf) foot() {
	f.s.Gap(6)
	wide := func(label, key, hint string) {
		l := faceInput
		l.Size = 10
		f.fill(key, grid.At(formLabel, label, facePrompt), grid.Across(formUnit, formExpect, nil, l).Input(grid.Accepts{Title: label, Hint: hint}), grid.At(formHint, hint, faceAside))
	}
	if f.again {
		wide("why it is taken again", inputRepeat, "wanted: this check was judged before")
	}
	for _, field := range f.in.Form() {
		if field.Sort == checks.Instant {
			wide("date of the readings", inputDate, "only where times of day could be of more than one day; such as 2026-03-31")
			break
		}
	}
	wide("note", inputNote, "words about this check, stored with it")
	f.s.Gap(6)
	n := f.s.Add(grid.At(1, "on paper: read by", grid.FaceSigning), grid.Across(2, 3, "date, time", grid.FaceSigning), grid.Across(4, 5, "signature", grid.FaceSigning))
	f.s.Rows[n-1].Height = writingRoom
}

// accepts is what a field's cell takes, and warns of what it cannot be. It never
// stops: handback reads more than a spreadsheet can check, such as 0.249 kV.
func (f *formOf) accepts(field checks.Field) grid.Accepts {
	words := field.Accepts()
	if field.Sort == checks.Instant {
		words = "a time such as 14:05, or 2026-03-31 14:05"
	}
	if field.Sort == checks.Measured {
		words += "; decimal point or comma; another unit may be typed"
	}
	a := grid.Accepts{Title: field.Label, Hint: words, Words: f.optionsOf(field), Warns: true}
	switch {
	case len(a.Words) > 0:
		a.Refusal = "This is not in the list; " + words
	case field.Sort == checks.Measured, field.Sort == checks.Count, field.Sort == checks.Instant:
		a.Digit, a.Refusal = true, "This holds no digit; "+words
	}
	return a
}
