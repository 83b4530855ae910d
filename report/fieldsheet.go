package report

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/xuri/excelize/v2"

	"handback/checks"
)

// FieldSheet makes a workbook to fill in away from the laptop, on a tablet or by
// hand on paper: one form for every open check, in plan order, that is every check
// without a pass or a concession. now is when it is made. Equal jobs and times give
// equal bytes.
//
// Each field is a row with a cell to fill in; all other cells and the structure are
// protected, without a password. Cells to fill in are formatted as text, so that
// the spreadsheet keeps what was typed, its last zero too. What was recorded before
// is shown and not asked. A hidden sheet tells ReadFieldSheet what the workbook was
// made from. The error says what does not fit, or that nothing is open.
func FieldSheet(job *Job, now time.Time) ([]byte, error) {
	b, err := layOutField(job, now)
	if err != nil {
		return nil, err
	}
	defer b.close()
	return b.bytes()
}

// fieldBook is a field sheet in the making.
type fieldBook struct {
	*binder
	doc    *Document
	job    *Job
	now    time.Time
	lists  *sheet
	ranges map[string]string // of options on the sheet of lists, by their words
	inputs []input
}

// input is one cell to fill in.
type input struct {
	Cell
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
	listsSheet  = "Lists"
	markerSheet = "handback"
)

func layOutField(job *Job, now time.Time) (*fieldBook, error) {
	d, err := NewDocument(job, now)
	if err != nil {
		return nil, err
	}
	last, err := time.Parse(stampLayout, d.Last)
	if err != nil {
		return nil, fmt.Errorf("field sheet of job %s: time of the last entry: %w", d.Job, err)
	}
	b := &fieldBook{binder: newBinder(d.Title, pageMark(d), last, "history"), // a name one spreadsheet program keeps for itself
		doc: d, job: job, now: now, ranges: map[string]string{}}
	b.header = `&L&"` + typeface + `,Regular"&8 field sheet of job ` + strings.ReplaceAll(plain(d.Job), "&", "&&") +
		`, made ` + now.Format(stampLayout) + `&R&"` + typeface + `,Regular"&8 plan SHA-256 ` + shortHash(d.PlanHash)
	guide := b.sheet(guideSheet)
	b.lists = b.sheet(listsSheet)
	marker := b.sheet(markerSheet)
	b.lists.hidden, marker.hidden = true, true
	var forms []*sheet
	for i, s := range job.States {
		if s.IsConceded() || s.Verdict() == checks.Pass && s.Last() == s.Judged() && !s.Judged().unjudged() {
			continue
		}
		forms = append(forms, b.form(s, i+1))
	}
	if len(forms) == 0 {
		return nil, fmt.Errorf("job %s: every check passed or was conceded: there is nothing to fill in", job.ID)
	}
	b.guide(guide, forms)
	b.sheets = append(append([]*sheet{guide}, forms...), b.lists, marker)
	b.mark(marker, append([]*sheet{guide}, forms...))
	for _, s := range []*sheet{b.lists, marker} {
		b.protect(s)
	}
	guide.prepare = func() error {
		if err := b.file.ProtectWorkbook(&excelize.WorkbookProtectionOptions{LockStructure: true}); err != nil {
			return err
		}
		return b.file.ProtectSheet(guide.name, locked())
	}
	return b, nil
}

// protect locks all cells of a sheet but those to fill in.
func (b *fieldBook) protect(s *sheet, more ...*excelize.DataValidation) {
	s.prepare = func() error {
		for _, dv := range more {
			if err := b.file.AddDataValidation(s.name, dv); err != nil {
				return err
			}
		}
		return b.file.ProtectSheet(s.name, locked())
	}
}

// locked lets a person move about, copy, and change heights and widths, no more.
func locked() *excelize.SheetProtectionOptions {
	return &excelize.SheetProtectionOptions{SelectLockedCells: true, SelectUnlockedCells: true, FormatRows: true, FormatColumns: true}
}

// guide tells how to fill in, on one page.
func (b *fieldBook) guide(s *sheet, forms []*sheet) {
	d := b.doc
	s.onePage = true
	s.widths = []float64{17, 20, 20, 20, 24}
	s.add(across(1, 3, "Field sheet", faceTitle), across(4, 5, "job "+d.Job, look{size: 11, bold: true, align: "right"}))
	s.add(across(1, 5, d.Title, look{size: 12, bold: true}))
	s.gap(4)
	s.said("site", d.Site)
	s.said("work done", d.Work)
	s.said("permit", orNone(d.Permit))
	s.said("made", b.now.Format(stampLayout)+", after entry "+itoa(d.Entries))
	s.add(at(1, "record", faceLabel), across(2, 5, d.Head, look{size: 8, mono: true}))
	s.add(at(1, "plan SHA-256", faceLabel), across(2, 5, d.PlanHash, look{size: 8, mono: true}))
	s.gap(6)
	s.heading("How to fill it in")
	for i, text := range guideWords(d.Job) {
		s.add(at(1, guideHeads[i], faceLabel), across(2, 5, text, faceText))
	}
	s.gap(6)
	s.heading("Forms and hold points, in the order of the plan")
	b.contents(s, forms)
	s.gap(6)
	s.add(across(1, 5, Deferral, look{size: 9, bold: true, border: "thin"}))
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
func (b *fieldBook) contents(s *sheet, forms []*sheet) {
	s.columns(at(1, "form", look{}), across(2, 4, "what", look{}), at(5, "state", look{}))
	byCheck := map[string]*sheet{}
	for _, in := range b.inputs {
		for _, f := range forms {
			if f.name == in.Sheet {
				byCheck[in.check] = f
			}
		}
	}
	for _, it := range b.job.Plan.Items() {
		switch {
		case it.Hold != nil:
			state := "NOT TAKEN"
			if _, taken := b.job.Steps[it.Hold.ID]; taken {
				state = "taken"
			}
			l := look{size: 9, bold: true, border: "medium"}
			s.add(at(1, "HOLD", l), across(2, 4, it.Hold.ID+": "+it.Hold.Action, l), at(5, state, l))
		case byCheck[it.Check.ID] != nil:
			s.add(at(1, byCheck[it.Check.ID].name, faceCell), across(2, 4, placed(it.Check), faceCell), at(5, b.stateOf(it.Check), faceCell))
		}
	}
}

func placed(c *checks.Check) string {
	if c.At == "" {
		return c.Title
	}
	return c.Title + ", " + c.At
}

// stateOf tells how an open check stands.
func (b *fieldBook) stateOf(c *checks.Check) string {
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

// listRange puts options on the sheet of lists once and gives their range.
func (b *fieldBook) listRange(options []string) string {
	key := strings.Join(options, "\x00")
	if area, ok := b.ranges[key]; ok {
		return area
	}
	col := len(b.ranges) + 1
	for i, o := range options {
		if i == len(b.lists.rows) {
			b.lists.rows = append(b.lists.rows, line{height: 13})
		}
		b.lists.rows[i].boxes = append(b.lists.rows[i].boxes, at(col, o, look{size: 9, flat: true, format: "@"}))
	}
	b.lists.widths = append(b.lists.widths, 20)
	name, err := excelize.ColumnNumberToName(col)
	if err != nil {
		panic("report: " + err.Error()) // a plan has no 16 384 lists
	}
	b.ranges[key] = absolute(b.lists.name, fmt.Sprintf("$%s$1:$%s$%d", name, name, len(options)))
	return b.ranges[key]
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
