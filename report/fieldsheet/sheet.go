package fieldsheet

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"handback/checks"
	"handback/checks/plan"
	"handback/report"
	"handback/report/grid"
)

// Make makes a workbook to fill in away from the laptop, on a tablet or by
// hand on paper: one form for every open check, in plan order, that is every check
// without a pass or a concession. now is when it is made. Equal jobs and times give
// equal bytes.
//
// Each field is a row with a cell to fill in; all other cells and the structure are
// protected, without a password. Cells to fill in are formatted as text, so that
// the spreadsheet keeps what was typed, its last zero too. What was recorded before
// is shown and not asked. A hidden sheet tells Read what the workbook was
// made from. The error says what does not fit, or that nothing is open.
func Make(job *report.Job, now time.Time) ([]byte, error) {
	b, err := layOutField(job, now)
	if err != nil {
		return nil, err
	}
	defer b.Close()
	return b.Bytes()
}

// fieldBook is a field sheet in the making.
type fieldBook struct {
	*grid.Book
	doc    *report.Document
	job    *report.Job
	now    time.Time
	inputs []input
}

// input is one cell to fill in.
type input struct {
	grid.Cell
	check   string
	attempt int
	key     string
}

// Keys of inputs that are no field of a form. No field key holds a +.
const (
	inputRepeat = "+repeat" // why a judged check is taken again
	inputDate   = "+date"   // the day that bare times of day belong to
	inputNote   = "+note"   // words about the check
)

// Sheets of a field sheet that hold no form.
const (
	guideSheet  = "Read first"
	markerSheet = "handback"
)

func layOutField(job *report.Job, now time.Time) (*fieldBook, error) {
	d, err := report.NewDocument(job, now)
	if err != nil {
		return nil, err
	}
	last, err := time.Parse(report.StampLayout, d.Last)
	if err != nil {
		return nil, fmt.Errorf("field sheet of job %s: time of the last entry: %w", d.Job, err)
	}
	b := &fieldBook{Book: grid.NewBook(d.Title, report.PageMark(d), last, "history"), // a name one spreadsheet program keeps for itself
		doc: d, job: job, now: now}
	b.Header = `&L&"` + grid.Typeface + `,Regular"&8 field sheet of job ` + strings.ReplaceAll(report.Plain(d.Job), "&", "&&") +
		`, made ` + now.Format(report.StampLayout) + `&R&"` + grid.Typeface + `,Regular"&8 plan SHA-256 ` + report.ShortHash(d.Force)
	b.Fixed = true
	guide := b.Sheet(guideSheet)
	marker := b.Sheet(markerSheet)
	marker.Hidden = true
	var forms []*grid.Sheet
	for i, s := range job.States {
		if s.IsConceded() || s.Verdict() == checks.Pass && s.Last() == s.LastJudged() && !s.LastJudged().Unjudged() {
			continue
		}
		forms = append(forms, b.form(s, i+1))
	}
	if len(forms) == 0 {
		return nil, fmt.Errorf("job %s: every check passed or was accepted: there is nothing to fill in", job.ID)
	}
	b.guide(guide, forms)
	b.Sheets = append(append([]*grid.Sheet{guide}, forms...), marker)
	b.mark(marker, append([]*grid.Sheet{guide}, forms...))
	return b, nil
}

// guide tells how to fill in, on one page.
func (b *fieldBook) guide(s *grid.Sheet, forms []*grid.Sheet) {
	d := b.doc
	s.OnePage = true
	s.Widths = []float64{17, 20, 20, 20, 24}
	s.Add(grid.Across(1, 3, "Field sheet", grid.FaceTitle), grid.Across(4, 5, "job "+d.Job, grid.Look{Size: 11, Bold: true, Align: "right"}))
	s.Add(grid.Across(1, 5, d.Title, grid.Look{Size: 12, Bold: true}))
	s.Gap(4)
	s.Said("site", d.Site)
	s.Said("work done", d.Work)
	s.Said("permit", report.OrNone(d.Permit))
	s.Said("made", b.now.Format(report.StampLayout)+", after entry "+strconv.Itoa(d.Entries))
	s.Add(grid.At(1, "record", grid.FaceLabel), grid.Across(2, 5, d.Head, grid.Look{Size: 8, Mono: true}))
	s.Add(grid.At(1, "plan SHA-256", grid.FaceLabel), grid.Across(2, 5, d.Force, grid.Look{Size: 8, Mono: true}))
	s.Gap(6)
	s.Heading("How to fill it in")
	for i, text := range guideWords(d.Job) {
		s.Add(grid.At(1, guideHeads[i], grid.FaceLabel), grid.Across(2, 5, text, grid.FaceText))
	}
	s.Gap(6)
	s.Heading("Forms and hold points, in the order of the plan")
	b.contents(s, forms)
	s.Gap(6)
	s.Add(grid.Across(1, 5, report.Deferral, grid.Look{Size: 9, Bold: true, Border: "thin"}))
}

// guideHeads are what each of guideWords is about.
var guideHeads = []string{"tablet", "paper", "numbers", "times", "formulas", "taking back"}

func guideWords(job string) []string {
	return []string{
		"Fill in the framed cells; all others are locked. What is not read stays empty: what is there is taken, the rest can follow.",
		"Print it, write into the framed cells, and type the forms at the laptop with handback walk, which asks in the same order.",
		"A decimal point or comma; the unit stands beside the cell, another one may be typed: 0.249 kV, 26.5 lbf.ft, 40 Nm. A bound where the meter shows no more: >2 GΩ. What could be read two ways, such as 1,234, is not taken: type 1234 or 1.234.",
		"As 14:05. They belong to the day they can have been read on; where that is more than one, give the date of the readings at the foot of the form, or type 2026-03-31 14:05.",
		"None: a reading is what the instrument showed.",
		"Save it as a workbook (.xlsx) and take it back with: handback read " + job + " FILE. It says what it understood, and asks before anything is stored.",
	}
}

// contents lists forms and hold points in plan order.
func (b *fieldBook) contents(s *grid.Sheet, forms []*grid.Sheet) {
	s.Columns(grid.At(1, "form", grid.Look{}), grid.Across(2, 4, "what", grid.Look{}), grid.At(5, "state", grid.Look{}))
	byCheck := map[string]*grid.Sheet{}
	for _, in := range b.inputs {
		for _, f := range forms {
			if f.Name == in.Sheet {
				byCheck[in.check] = f
			}
		}
	}
	for _, it := range b.job.Plan.Items() {
		switch {
		case it.Hold != nil:
			state := "NOT DONE"
			if _, taken := b.job.Steps[it.Hold.ID]; taken {
				state = "done"
			}
			l := grid.Look{Size: 9, Bold: true, Border: "medium"}
			s.Add(grid.At(1, "HOLD", l), grid.Across(2, 4, it.Hold.ID+": "+it.Hold.Action, l), grid.At(5, state, l))
		case it.Step != nil:
			state := "NOT DONE"
			if _, done := b.job.Steps[it.Step.ID]; done {
				state = "done"
			} else if b.job.LeftNow(it.Step.ID) != nil {
				state = "LEFT"
			}
			s.Add(grid.At(1, "step", grid.FaceCell), grid.Across(2, 4, it.Step.ID+": "+it.Step.Action, grid.FaceCell), grid.At(5, state, grid.FaceCell))
		case byCheck[it.Check.ID] != nil:
			s.Add(grid.At(1, byCheck[it.Check.ID].Name, grid.FaceCell), grid.Across(2, 4, placed(it.Check), grid.FaceCell), grid.At(5, b.stateOf(it.Check), grid.FaceCell))
		}
	}
}

func placed(c *plan.Check) string {
	if c.At == "" {
		return c.Title
	}
	return c.Title + ", " + c.At
}

// stateOf tells how an open check stands.
func (b *fieldBook) stateOf(c *plan.Check) string {
	s := b.job.State(c.ID)
	a := s.Last()
	switch {
	case a == nil:
		return "not taken yet"
	case !a.Judged:
		return fmt.Sprintf("attempt %d is begun", a.Number)
	}
	return fmt.Sprintf("attempt %d: %s", a.Number, strings.ToUpper(a.Finding.Verdict.String()))
}

// optionsOf are the words a field chooses from, none for other fields.
func (b *fieldBook) optionsOf(f checks.Field) []string {
	var out []string
	switch f.Sort {
	case checks.Choice:
		out = slices.Clone(f.Options)
	case checks.MeterUsed:
		for _, m := range b.job.Plan.Meters {
			out = append(out, m.ID)
		}
	case checks.Initials:
		for _, p := range b.job.Plan.People {
			out = append(out, p.ID)
		}
	}
	return out
}
