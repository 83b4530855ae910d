package report

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"
)

// FieldOptions decide how a field sheet is read back.
type FieldOptions struct {
	ReadingOptions
	Formulas bool // take what formulas came to; the person has looked at them
}

// Foreign is why a file is not read at all: no field sheet, damaged, hostile, or
// made for another job or plan.
type Foreign struct{ Err error }

func (e Foreign) Error() string { return plain(e.Err.Error()) } // it may quote the file
func (e Foreign) Unwrap() error { return e.Err }

// ReadFieldSheet reads a filled field sheet of the job back and gives what it would
// add, or every cell that is not taken. The file is taken for hostile: sizes are
// bounded before it is unpacked, and what is no plain workbook is refused.
//
// The sheet must have been made for this job, from this plan, at a moment this
// record knows. Beyond the rules of Propose: a formula is an error unless
// o.Formulas; a printed cell that changed, or a value where none is asked, is an
// error, for a row may have been moved. The error is a Foreign.
func ReadFieldSheet(data []byte, job *Job, o FieldOptions) (*Proposal, []CellError, error) {
	m, book, err := openFieldSheet(data, job)
	if err != nil {
		return nil, nil, Foreign{err}
	}
	o.After = m.made
	filled, errs := m.filled(book, o.Formulas)
	errs = append(m.moved(book), errs...)
	p, more := Propose(job, filled, o.ReadingOptions)
	if errs = append(errs, more...); len(errs) > 0 {
		return nil, errs, nil
	}
	return p, nil, nil
}

func openFieldSheet(data []byte, job *Job) (*marker, *fileBook, error) {
	p, err := openParts(data)
	if err != nil {
		return nil, nil, err
	}
	book, err := readBook(p)
	if err != nil {
		return nil, nil, err
	}
	if !slices.Contains(book.sheets, markerSheet) {
		return nil, nil, fmt.Errorf("it is no field sheet of handback: there is no sheet %q; make one with: %s", markerSheet, job.hint("sheet", job.ID))
	}
	m, err := readMark(book.cells)
	if err != nil {
		return nil, nil, err
	}
	for _, in := range m.inputs {
		if !slices.Contains(book.sheets, in.Sheet) {
			return nil, nil, fmt.Errorf("the form %q was taken out of the workbook", in.Sheet)
		}
	}
	return m, book, m.belongs(job)
}

// belongs tells whether the sheet was made from this job.
func (m *marker) belongs(job *Job) error {
	switch {
	case m.job != job.ID:
		return fmt.Errorf("it was made for job %q, not for %s", m.job, job.ID)
	case m.plan != job.PlanHash:
		return fmt.Errorf("it was made from another plan (SHA-256 %s, this job's is %s): make a new one with: %s", shortHash(m.plan), shortHash(job.PlanHash), job.hint("sheet", job.ID))
	case m.entries > len(job.Entries), job.Entries[min(m.entries, len(job.Entries))-1].Hash != m.head:
		return fmt.Errorf("it was made from a record that this one does not continue (entry %d, %s): take it back where it was made", m.entries, shortHash(m.head))
	}
	return nil
}

// filled are the values of the cells to fill in.
func (m *marker) filled(book *fileBook, formulas bool) ([]Filled, []CellError) {
	var out []Filled
	var errs []CellError
	for _, in := range m.inputs {
		c, ok := book.cells[in.Cell]
		if !ok {
			continue
		}
		place := in.Cell.place()
		switch {
		case c.formula != "" && !formulas:
			errs = append(errs, CellError{place, c.text, fmt.Sprintf("the formula %s stands here: type what the instrument showed, or accept formulas with --formulas", cutRunes(plain(c.formula), 100))})
		case c.formula != "" && c.text == "":
			errs = append(errs, CellError{place, "", fmt.Sprintf("the formula %s holds no value: type what the instrument showed", cutRunes(plain(c.formula), 100))})
		case c.fault != "":
			errs = append(errs, CellError{place, c.text, c.fault + " stands here: type what the instrument showed"})
		default:
			f := Filled{Place: place, Check: in.check, Attempt: in.attempt, Key: in.key, Typed: c.text}
			if c.text == "" {
				continue
			}
			book.shown(&f, c)
			out = append(out, f)
		}
	}
	return out, errs
}

// days1904 is the difference between the two ways spreadsheets count days
// (ECMA-376, part 1, 18.17.4.1).
const days1904 = 1462

// shown puts a number as the person saw it: a share with its %, a moment as one.
func (b *fileBook) shown(f *Filled, c fileCell) {
	switch {
	case !c.number:
	case c.shows == showsPercent:
		f.Typed = shortest(c.x*100) + " %"
	case c.shows == showsMoment:
		days := c.x
		if b.from04 && days >= 1 {
			days += days1904
		}
		f.Moment = &moment{days}
		f.Typed = momentText(days)
	}
}

// momentText is how a spreadsheet's moment reads.
func momentText(days float64) string {
	if !(days >= 0 && days < 110_000) {
		return shortest(days)
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
func (m *marker) moved(book *fileBook) []CellError {
	wrong, asked := map[Cell]string{}, map[Cell]bool{}
	for _, in := range m.inputs {
		asked[in.Cell] = true
	}
	for at, want := range m.printed {
		if got := book.cells[at]; flat(got.text) != flat(want) || got.formula != "" {
			wrong[at] = fmt.Sprintf("%q was printed here: rows were moved or written over; put them back, or make a new sheet", cutRunes(flat(want), 60))
		}
	}
	for at := range book.cells {
		_, printed := m.printed[at]
		if !printed && !asked[at] && at.Sheet != markerSheet && at.Sheet != listsSheet {
			wrong[at] = "nothing is asked here: put it into a framed cell, or take it out"
		}
	}
	var errs []CellError
	for _, at := range slices.SortedFunc(maps.Keys(wrong), compareCells) {
		if len(errs) == maxMoved {
			return append(errs, CellError{Place: "and " + Count(len(wrong)-maxMoved, "more cell", "more cells"), Cause: "the same"})
		}
		errs = append(errs, CellError{at.place(), cutRunes(flat(book.cells[at].text), 60), wrong[at]})
	}
	return errs
}

// place is the cell as a person looks for it.
func (c Cell) place() string { return flat(c.Sheet) + "!" + c.Name() }

func compareCells(a, b Cell) int {
	return cmp.Or(strings.Compare(a.Sheet, b.Sheet), a.Row-b.Row, a.Col-b.Col)
}
