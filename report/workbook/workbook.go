package workbook

import (
	"bytes"
	"fmt"
	"io"
	"slices"
	"time"

	"handback/report"
	"handback/report/grid"
)

// Make lays a document out as a spreadsheet (ECMA-376, .xlsx): a certificate to sign, one
// sheet a group of checks with every reading, limit and derived value in a cell of its
// own, the log, and annexes that are not printed. Equal documents give equal bytes.
//
// Values and verdicts are formulas over the cells of readings and limits, uncertainties
// over those of their budgets, with our results beside them; what no formula holds is
// marked, and stands only as long as what it rests on. Every cell that may be changed is
// held against its record: one that differs turns certificate and heads into WHAT-IF.
//
// Numbers are cells with 15 significant digits, what a spreadsheet holds, shown
// rounded; text is never a formula. Control characters show as U+FFFD. The error
// names the sheet and row of what does not fit.
//
// The handover data lie in it as a part of their own, and every verdict, value and
// reading has a name: by these verify knows it again.
func Make(d *report.Document) ([]byte, error) {
	var out bytes.Buffer
	err := Write(&out, d)
	return out.Bytes(), err
}

// Write is Make, written as it is made.
func Write(w io.Writer, d *report.Document) error {
	b, err := LayOut(d)
	if err != nil {
		return err
	}
	defer b.Close()
	return b.Write(w)
}

// book is the workbook of a document in the making.
type book struct {
	*grid.Book
	doc     *report.Document
	pages   []report.CheckPage // of the document
	numbers map[string]int     // of pages, by their ids
	layout  layout
	shown   []shownReason
}

// LayOut decides what stands where; nothing is written yet.
func LayOut(d *report.Document) (*book, error) {
	last, err := time.Parse(report.StampLayout, d.Last)
	if err != nil {
		return nil, fmt.Errorf("workbook of job %s: time of the last entry: %w", d.Job, err)
	}
	counts := fmt.Sprintf(d.Form.Labels.Of("counts only if headed: %s"), d.Form.Labels.Of(asRecorded))
	b := &book{Book: grid.NewBook(d.Title, pageMark(d)+"\n"+counts, last), doc: d, layout: newLayout()}
	b.number()
	b.Data, b.Form = d.Data, d.Form
	cert, log := b.Sheet("Certificate"), b.Sheet("Log")
	recorded := b.Sheet("Recorded")
	recorded.Unprinted = true
	annexes, lay := []*grid.Sheet{}, []func(*grid.Sheet){b.method, b.shares, b.flags, b.instruments, b.entries, b.plan}
	for _, name := range []string{"Method", "Limits", "Flags", "Instruments", "Entries", "Plan"} {
		annexes = append(annexes, b.Sheet(name))
	}
	number, tests, workings := 1, []*grid.Sheet{}, []*grid.Sheet{}
	for _, g := range d.Groups {
		s := b.Sheet(g.Name)
		w := b.workings(s.Name, g)
		tests, workings = append(tests, s), append(workings, w)
		number = b.group(s, w, g, number)
	}
	b.log(log)
	for i, s := range annexes {
		lay[i](s)
	}
	for _, s := range slices.Concat([]*grid.Sheet{cert}, tests, []*grid.Sheet{log, b.plantSheet(), b.courses()}, annexes, []*grid.Sheet{b.trend()}, workings, []*grid.Sheet{b.pictures(), recorded}) {
		if s != nil {
			b.Sheets = append(b.Sheets, s)
		}
	}
	if err := b.certificate(cert); err != nil {
		return nil, err
	}
	b.link()
	b.record(recorded)
	return b, nil
}

// number takes up the checks of the document.
func (b *book) number() {
	b.pages, b.numbers = b.doc.Pages(), map[string]int{}
	for i, p := range b.pages {
		b.numbers[p.ID] = i
	}
}

// page is a check by its id, the zero page where there is none.
func (b *book) page(id string) (p report.CheckPage) {
	if n, ok := b.numbers[id]; ok {
		p = b.pages[n]
	}
	return p
}

// pageMark stands at the foot of every printed page.
func pageMark(d *report.Document) string {
	return fmt.Sprintf(d.Form.Labels.Of("job %s, record %s"), d.Job, report.ShortHash(d.Head))
}
