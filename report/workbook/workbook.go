package workbook

import (
	"fmt"
	"time"

	"handback/report"
	"handback/report/grid"
)

// Make lays a document out as a spreadsheet (ECMA-376, .xlsx): a cover of one
// page to sign, the results at a glance, flags with hold points and notes, one sheet
// a group of checks with every reading, limit and derived value in a cell of its
// own, the instruments, the log of entries, and how everything is worked out. Equal
// documents give equal bytes.
//
// Values and verdicts are formulas over the cells of readings and limits, uncertainties
// over those of their budgets, with our results beside them; what no formula holds is
// marked, and stands only as long as what it rests on.
//
// Numbers are cells with 15 significant digits, what a spreadsheet holds, shown
// rounded; text is never a formula. Control characters show as U+FFFD. The error
// names the sheet and row of what does not fit.
//
// The handover data lie in it as a part of their own, and every verdict, value and
// reading has a name: by these verify knows it again.
func Make(d *report.Document) ([]byte, error) {
	b, err := LayOut(d)
	if err != nil {
		return nil, err
	}
	defer b.Close()
	return b.Bytes()
}

// book is the workbook of a document in the making.
type book struct {
	*grid.Book
	doc    *report.Document
	layout layout
}

// LayOut decides what stands where; nothing is written yet.
func LayOut(d *report.Document) (*book, error) {
	last, err := time.Parse(report.StampLayout, d.Last)
	if err != nil {
		return nil, fmt.Errorf("workbook of job %s: time of the last entry: %w", d.Job, err)
	}
	b := &book{Book: grid.NewBook(d.Title, report.PageMark(d), last), doc: d, layout: newLayout()}
	b.Data = d.Data
	cover, results, flags := b.Sheet("Cover"), b.Sheet("Results"), b.Sheet("Flags")
	instruments, entries := b.Sheet("Instruments"), b.Sheet("Entries")
	b.Sheets = []*grid.Sheet{cover, results, flags}
	number := 1
	var workings []*grid.Sheet
	for _, g := range d.Groups {
		s := b.Sheet(g.Name)
		b.Sheets = append(b.Sheets, s)
		w := b.workings(s.Name, g)
		if w != nil {
			workings = append(workings, w)
		}
		number = b.group(s, w, g, number)
	}
	if p := b.plant(); p != nil {
		b.Sheets = append(b.Sheets, p)
	}
	if p := b.pictures(); p != nil {
		b.Sheets = append(b.Sheets, p)
	}
	b.Sheets = append(append(b.Sheets, instruments, entries), workings...)
	b.results(results)
	b.cover(cover)
	b.flags(flags)
	b.instruments(instruments)
	b.entries(entries)
	b.link()
	b.record()
	return b, nil
}
