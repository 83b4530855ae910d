package report

import (
	"fmt"
	"time"
)

// Workbook lays a document out as a spreadsheet (ECMA-376, .xlsx): a cover of one
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
func Workbook(d *Document) ([]byte, error) {
	b, err := layOut(d)
	if err != nil {
		return nil, err
	}
	defer b.close()
	return b.bytes()
}

// book is the workbook of a document in the making.
type book struct {
	*binder
	doc    *Document
	layout Layout
}

// layOut decides what stands where; nothing is written yet.
func layOut(d *Document) (*book, error) {
	last, err := time.Parse(stampLayout, d.Last)
	if err != nil {
		return nil, fmt.Errorf("workbook of job %s: time of the last entry: %w", d.Job, err)
	}
	b := &book{binder: newBinder(d.Title, pageMark(d), last), doc: d, layout: newLayout()}
	b.data = d.Data
	cover, results, flags := b.sheet("Cover"), b.sheet("Results"), b.sheet("Flags")
	instruments, entries := b.sheet("Instruments"), b.sheet("Entries")
	b.sheets = []*sheet{cover, results, flags}
	number := 1
	var workings []*sheet
	for _, g := range d.Groups {
		s := b.sheet(g.Name)
		b.sheets = append(b.sheets, s)
		w := b.workings(s.name, g)
		if w != nil {
			workings = append(workings, w)
		}
		number = b.group(s, w, g, number)
	}
	if p := b.pictures(); p != nil {
		b.sheets = append(b.sheets, p)
	}
	b.sheets = append(append(b.sheets, instruments, entries), workings...)
	b.results(results)
	b.cover(cover)
	b.flags(flags)
	b.instruments(instruments)
	b.entries(entries)
	b.link()
	return b, nil
}

// shortHash is enough of a hash to compare by eye; the whole stands on the cover.
func shortHash(hash string) string { return hash[:min(12, len(hash))] }

// pageMark stands at the foot of every printed page of a workbook.
func pageMark(d *Document) string { return "job " + d.Job + ", record " + shortHash(d.Head) }
