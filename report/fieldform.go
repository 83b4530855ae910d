package report

import (
	"fmt"
	"slices"
	"strings"

	"github.com/xuri/excelize/v2"

	"handback/checks"
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
	faceInput  = look{size: 12, border: "medium", middle: true, format: "@", open: true}
	faceKept   = look{size: 10, border: "hair", fill: "EDEDED", middle: true}
	facePrompt = look{size: 10, border: "hair", middle: true}
	faceAside  = look{size: 8, border: "hair", middle: true}
)

// writingRoom is how high a row to write in is, in points: 9 mm on paper.
const writingRoom = 31

// form lays out the form of one open check, number n of the plan's checks.
func (b *fieldBook) form(st *State, n int) *sheet {
	c := st.Check
	s := b.sheet(c.ID)
	s.repeat = 1
	s.widths = []float64{32, 9, 21, 24, 29}
	s.add(across(1, 4, fmt.Sprintf("%d   %s", n, c.Title), faceTitle), at(5, "job "+b.doc.Job, look{size: 10, bold: true, align: "right"}))
	f := &formOf{fieldBook: b, s: s, check: c, attempt: 1, in: b.job.Input(c, b.now)}
	if a := st.Last(); a != nil {
		f.attempt = a.Number
		f.again = a.Judged
		if a.Judged {
			f.attempt++
		}
	}
	f.head()
	s.gap(5)
	s.columns(at(formLabel, "reading", look{}), at(formUnit, "unit", look{}), at(formInput, "fill in", look{}), at(formExpect, "expected", look{}), at(formHint, "how", look{}))
	for _, field := range f.in.Form() {
		f.row(field)
	}
	f.foot()
	b.protect(s, f.rules...)
	return s
}

// formOf is a form in the making.
type formOf struct {
	*fieldBook
	s       *sheet
	check   *checks.Check
	attempt int
	again   bool // repeats a judged attempt
	in      checks.Input
	rules   []*excelize.DataValidation
}

// head is all that must be known before the first reading.
func (f *formOf) head() {
	c := f.check
	f.s.said("check", fmt.Sprintf("%s (%s), attempt %d", c.ID, c.Kind.Name, f.attempt))
	f.s.said("where", c.At)
	f.s.said("state", f.stateOf(c))
	if a := f.job.State(c.ID).Last(); f.again {
		f.s.said("why", a.Told.Why())
	}
	for _, text := range c.Kind.Cautions {
		f.s.add(at(1, "CAUTION", faceLabel), across(2, formHint, text, look{size: 9, bold: true}))
	}
	f.holds()
	f.predictions()
	f.s.said("note", c.Note)
	if m := f.job.Plan.Meter(c.Meter); m != nil {
		state := "in date to " + m.Due.Format("2006-01-02")
		if !m.InDate(f.now) {
			state = "OUT OF DATE since " + m.Due.Format("2006-01-02") + ": its readings will not count"
		}
		f.s.said("instrument", fmt.Sprintf("%s: %s, serial %s, %s", m.ID, m.Name, m.Serial, state))
	}
}

// holds names every hold point above the check whose step was not taken.
func (f *formOf) holds() {
	l := look{size: 9, bold: true, border: "medium", middle: true}
	f.s.gap(4)
	for _, it := range f.job.Plan.Items() {
		if it.Check == f.check {
			break
		}
		if h := it.Hold; h != nil {
			if _, taken := f.job.Steps[h.ID]; !taken {
				f.s.add(at(1, "HOLD "+h.ID, l), across(2, formHint, "This check lies behind a hold point. Not before "+strings.Join(h.Needs, ", ")+" pass: "+h.Action, l))
			}
		}
	}
	f.s.gap(4)
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
	f.s.said("expect", strings.Join(words, "\n"))
}

// row lays out one field: a cell to fill in, or what was recorded already.
func (f *formOf) row(field checks.Field) {
	label := field.Label
	if !field.Need {
		label += " (may be left out)"
	}
	expect := at(formExpect, f.expectWords(field), faceAside)
	if a, ok := f.in.Answers[field.Key]; ok {
		f.s.add(at(formLabel, label, facePrompt), at(formUnit, unitWords(field.Unit), facePrompt), at(formInput, a.Typed, faceKept), expect, at(formHint, "recorded before", faceAside))
		return
	}
	n := f.fill(field.Key, at(formLabel, label, facePrompt), at(formUnit, unitWords(field.Unit), facePrompt), box{}, expect, at(formHint, field.Hint, faceAside))
	f.rules = append(f.rules, f.rule(field, Cell{f.s.name, n, formInput}.Name()))
}

// fill adds a row with a cell to fill in and gives its number.
func (f *formOf) fill(key string, boxes ...box) int {
	for i, bx := range boxes {
		if bx == (box{}) {
			boxes[i] = at(formInput, nil, faceInput)
		}
	}
	n := f.s.add(boxes...)
	for ; n < len(f.s.rows); n++ { // a label in several rows: the cell stands in the last
		for i := range f.s.rows[n-1].boxes {
			f.s.rows[n-1].boxes[i].look.open = false
		}
	}
	f.s.rows[n-1].height = max(f.s.rows[n-1].height, writingRoom)
	f.inputs = append(f.inputs, input{Cell{f.s.name, n, formInput}, f.check.ID, f.attempt, key})
	return n
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
		show := func(x float64) string { return checks.Short(checks.FromBase(x, field.Unit)) }
		return fmt.Sprintf("%s (%s to %s) %s: %s", show(e.Value), show(e.Low), show(e.High), unitWords(field.Unit), e.Source)
	}
	if e := field.Expect; e != nil {
		return fmt.Sprintf("%s (%s to %s): %s", checks.Short(e.Value), checks.Short(e.Low), checks.Short(e.High), e.Source)
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
	f.s.gap(6)
	wide := func(label, key, hint string) {
		l := faceInput
		l.size = 10
		n := f.fill(key, at(formLabel, label, facePrompt), across(formUnit, formExpect, nil, l), at(formHint, hint, faceAside))
		f.inputs[len(f.inputs)-1].Col = formUnit
		f.rules = append(f.rules, cellRule(Cell{f.s.name, n, formUnit}.Name(), label, hint))
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
	wide("note", inputNote, "words about this check, kept with it")
	f.s.gap(6)
	n := f.s.add(at(1, "on paper: read by", faceSigning), across(2, 3, "date, time", faceSigning), across(4, 5, "signature", faceSigning))
	f.s.rows[n-1].height = writingRoom
}

// Lengths a spreadsheet allows for the words of a validation rule.
const (
	ruleTitle = 32
	ruleText  = 255
)

// cellRule is a rule that says what a cell takes and refuses nothing.
func cellRule(cell, title, words string) *excelize.DataValidation {
	dv := excelize.NewDataValidation(true)
	dv.SetSqref(cell)
	dv.SetInput(cutRunes(plain(title), ruleTitle), cutRunes(plain(words), ruleText))
	return dv
}

// rule says what a field's cell takes and warns of what it cannot be. It never
// stops: handback reads more than a spreadsheet can check, such as 0.249 kV.
func (f *formOf) rule(field checks.Field, cell string) *excelize.DataValidation {
	words := field.Accepts()
	if field.Sort == checks.Instant {
		words = "a time such as 14:05, or 2026-03-31 14:05"
	}
	if field.Sort == checks.Measured {
		words += "; decimal point or comma; another unit may be typed"
	}
	dv := cellRule(cell, field.Label, words)
	refuse := func(what string) {
		dv.SetError(excelize.DataValidationErrorStyleWarning, "Look again", cutRunes(plain(what+"; "+words), ruleText))
	}
	switch options := f.optionsOf(field); {
	case len(options) > 0:
		dv.SetSqrefDropList(f.listRange(options))
		refuse("This is not in the list")
	case field.Sort == checks.Measured, field.Sort == checks.Count, field.Sort == checks.Instant:
		dv.Type = "custom"
		dv.Formula1 = fmt.Sprintf(`SUMPRODUCT(--ISNUMBER(VALUE(MID(%s,ROW($1:$40),1))))&gt;0`, cell)
		refuse("This holds no digit")
	}
	return dv
}
