package fieldsheet

import (
	"fmt"
	"maps"
	"slices"
	"time"

	"handback/report"
	"handback/report/grid"
)

// Options decide how a field sheet is read back.
type Options struct {
	ReadingOptions
	Formulas bool // take what formulas came to; the person has looked at them
}

// Read reads a filled field sheet of the job back and gives what it would
// add, or every cell that is not taken. The file is taken for hostile: sizes are
// bounded before it is unpacked, and what is no plain workbook is refused.
//
// The sheet must have been made for this job, from this plan, at a moment this
// record knows. Beyond the rules of Propose: a formula is an error unless
// o.Formulas; a printed cell that changed, or a value where none is asked, is an
// error, for a row may have been moved. The error is a Foreign.
func Read(data []byte, job *report.Job, o Options) (*Proposal, []CellError, error) {
	m, book, err := openFieldSheet(data, job)
	if err != nil {
		return nil, nil, grid.Foreign{Err: err}
	}
	o.After = m.made
	filled, errs := m.filled(book, o.Formulas)
	errs = append(append(m.moved(book), errs...), m.amended(job, filled)...)
	p, more := Propose(job, filled, o.ReadingOptions)
	if errs = append(errs, more...); len(errs) > 0 {
		return nil, errs, nil
	}
	return p, nil, nil
}

func openFieldSheet(data []byte, job *report.Job) (*marker, *grid.FileBook, error) {
	p, err := grid.OpenParts(data)
	if err != nil {
		return nil, nil, err
	}
	book, err := grid.ReadBook(p)
	if err != nil {
		return nil, nil, err
	}
	if !slices.Contains(book.Sheets, markerSheet) {
		return nil, nil, fmt.Errorf("it is no field sheet of handback: there is no sheet %q; make one with: %s", markerSheet, job.CommandLine("sheet", job.ID))
	}
	m, err := readMark(book.Cells)
	if err != nil {
		return nil, nil, err
	}
	for _, in := range m.inputs {
		if !slices.Contains(book.Sheets, in.Sheet) {
			return nil, nil, fmt.Errorf("the form %q was taken out of the workbook", in.Sheet)
		}
	}
	return m, book, m.belongs(job)
}

// belongs tells whether the sheet was made from this job.
func (m *marker) belongs(job *report.Job) error {
	switch {
	case m.job != job.ID:
		return fmt.Errorf("it was made for job %q, not for %s", m.job, job.ID)
	case job.PlanOf(m.plan) == nil:
		return fmt.Errorf("it was made from another plan (SHA-256 %s, this job's is %s): make a new one with: %s", report.ShortHash(m.plan), report.ShortHash(job.Force()), job.CommandLine("sheet", job.ID))
	case m.entries > len(job.Entries), job.Entries[min(m.entries, len(job.Entries))-1].Hash != m.head:
		return fmt.Errorf("it was made from a record that this one does not continue (entry %d, %s): take it back where it was made", m.entries, report.ShortHash(m.head))
	}
	return nil
}

// amended tells values of checks that the plan has otherwise since the sheet was made:
// they answer what is not asked any longer.
func (m *marker) amended(job *report.Job, filled []Filled) []CellError {
	var errs []CellError
	made := job.PlanOf(m.plan)
	for _, f := range filled {
		if made.StepWritten(f.Check) != job.Plan.StepWritten(f.Check) {
			errs = append(errs, CellError{f.Place, f.Typed, fmt.Sprintf("check %s was changed in the plan since this sheet was made: make a new one with: %s", f.Check, job.CommandLine("sheet", job.ID))})
		}
	}
	return errs
}

// filled are the values of the cells to fill in.
func (m *marker) filled(book *grid.FileBook, formulas bool) ([]Filled, []CellError) {
	var out []Filled
	var errs []CellError
	for _, in := range m.inputs {
		c, ok := book.Cells[in.Cell]
		if !ok {
			continue
		}
		place := in.Cell.Place()
		switch {
		case c.Formula != "" && !formulas:
			errs = append(errs, CellError{place, c.Text, fmt.Sprintf("the formula %s stands here: type what the instrument showed, or accept formulas with --formulas", report.CutRunes(report.Plain(c.Formula), 100))})
		case c.Formula != "" && c.Text == "":
			errs = append(errs, CellError{place, "", fmt.Sprintf("the formula %s holds no value: type what the instrument showed", report.CutRunes(report.Plain(c.Formula), 100))})
		case c.Fault != "":
			errs = append(errs, CellError{place, c.Text, c.Fault + " stands here: type what the instrument showed"})
		default:
			f := Filled{Place: place, Check: in.check, Attempt: in.attempt, Key: in.key, Typed: c.Text}
			if c.Text == "" {
				continue
			}
			shown(book, &f, c)
			out = append(out, f)
		}
	}
	return out, errs
}

// days1904 is the difference between the two ways spreadsheets count days
// (ECMA-376, part 1, 18.17.4.1).
const days1904 = 1462

// shown puts a number as the person saw it: a share with its %, a moment as one.
func shown(b *grid.FileBook, f *Filled, c grid.FileCell) {
	switch {
	case !c.Number:
	case c.Shows == grid.ShowsPercent:
		f.Typed = grid.Shortest(c.X*100) + " %"
	case c.Shows == grid.ShowsMoment:
		days := c.X
		if b.From04 && days >= 1 {
			days += days1904
		}
		f.Moment = &moment{days}
		f.Typed = momentText(days)
	}
}

// momentText is how a spreadsheet's moment reads.
func momentText(days float64) string {
	if !(days >= 0 && days < 110_000) {
		return grid.Shortest(days)
	}
	at := fromDays(days)
	clock := "15:04:05"
	if at.Second() == 0 {
		clock = "15:04"
	}
	switch {
	case days < 1:
		return at.Format(clock)
	case at.Equal(at.Truncate(24 * time.Hour)):
		return at.Format(time.DateOnly)
	}
	return at.Format(time.DateOnly + " " + clock)
}

// maxMoved is how many printed cells that changed are told one by one.
const maxMoved = 20

// moved tells printed cells that changed, and values where none is asked: a row may
// have been moved, and a reading may stand beside another label.
func (m *marker) moved(book *grid.FileBook) []CellError {
	wrong, asked := map[grid.Cell]string{}, map[grid.Cell]bool{}
	for _, in := range m.inputs {
		asked[in.Cell] = true
	}
	for at, want := range m.printed {
		if got := book.Cells[at]; report.Flat(got.Text) != report.Flat(want) || got.Formula != "" {
			wrong[at] = fmt.Sprintf("%q was printed here: rows were moved or written over; put them back, or make a new sheet", report.CutRunes(report.Flat(want), 60))
		}
	}
	for at := range book.Cells {
		_, printed := m.printed[at]
		if !printed && !asked[at] && at.Sheet != markerSheet && at.Sheet != grid.ListsSheet {
			wrong[at] = "nothing is asked here: put it into a framed cell, or take it out"
		}
	}
	var errs []CellError
	for _, at := range slices.SortedFunc(maps.Keys(wrong), grid.CompareCells) {
		if len(errs) == maxMoved {
			return append(errs, CellError{Place: "and " + report.Count(len(wrong)-maxMoved, "more cell", "more cells"), Cause: "the same"})
		}
		errs = append(errs, CellError{at.Place(), report.CutRunes(report.Flat(book.Cells[at].Text), 60), wrong[at]})
	}
	return errs
}
