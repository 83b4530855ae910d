package report

import (
	"bytes"
	"fmt"
	"io"
	"strings"
	"time"

	"github.com/xuri/excelize/v2"

	"handback/checks"
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
func Workbook(d *Document) ([]byte, error) {
	b, err := layOut(d)
	if err != nil {
		return nil, err
	}
	defer b.file.Close()
	return b.bytes()
}

// book is a workbook in the making.
type book struct {
	doc    *Document
	file   *excelize.File
	styles map[look]int
	rules  map[checks.Verdict]int // conditional styles
	layout Layout
	last   time.Time // of the last entry
	sheets []*sheet
	taken  map[string]bool   // sheet names in lower case
	header string            // on every printed page, "" for none
	links  map[Cell]lateCell // see book.link
}

// layOut decides what stands where; nothing is written yet.
func layOut(d *Document) (*book, error) {
	last, err := time.Parse(stampLayout, d.Last)
	if err != nil {
		return nil, fmt.Errorf("workbook of job %s: time of the last entry: %w", d.Job, err)
	}
	b := &book{doc: d, file: excelize.NewFile(), styles: map[look]int{}, layout: newLayout(), links: map[Cell]lateCell{}, last: last, taken: map[string]bool{}}
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

// sheet makes an empty sheet, its name made to fit: no sign a sheet name may not
// hold, 31 characters, different from all others.
func (b *book) sheet(name string) *sheet {
	clean := strings.Trim(strings.Map(func(r rune) rune {
		if strings.ContainsRune(`[]:*?/\`, r) {
			return ' '
		}
		return r
	}, plain(name)), " '\n\t")
	if clean == "" {
		clean = "Checks"
	}
	try := cutRunes(clean, 31)
	for n := 2; b.taken[strings.ToLower(try)]; n++ {
		suffix := " " + itoa(n)
		try = cutRunes(clean, 31-len(suffix)) + suffix
	}
	b.taken[strings.ToLower(try)] = true
	return &sheet{book: b, name: try}
}

func cutRunes(s string, n int) string {
	if r := []rune(s); len(r) > n {
		return strings.TrimRight(string(r[:n]), " '")
	}
	return s
}

// footer stands on every printed page.
func (b *book) footer() string {
	safe := strings.ReplaceAll(plain(b.doc.Job), "&", "&&")
	return `&L&"` + typeface + `,Regular"&8 job ` + safe + `, record ` + shortHash(b.doc.Head) +
		`&C&"` + typeface + `,Regular"&8 &A&R&"` + typeface + `,Regular"&8 page &P of &N`
}

// shortHash is enough of a hash to compare by eye; the whole stands on the cover.
func shortHash(hash string) string { return hash[:min(12, len(hash))] }

// bytes writes the sheets and packs them.
func (b *book) bytes() ([]byte, error) {
	if err := b.file.SetDefaultFont(typeface); err != nil {
		return nil, err
	}
	for i, s := range b.sheets {
		if i == 0 {
			if err := b.file.SetSheetName("Sheet1", s.name); err != nil {
				return nil, fmt.Errorf("sheet %s: %w", s.name, err)
			}
		} else if _, err := b.file.NewSheet(s.name); err != nil {
			return nil, fmt.Errorf("sheet %s: %w", s.name, err)
		}
	}
	if err := b.file.SetCalcProps(&excelize.CalcPropsOptions{FullCalcOnLoad: ptr(true)}); err != nil {
		return nil, err
	}
	if err := b.file.SetAppProps(&excelize.AppProperties{Application: "handback"}); err != nil {
		return nil, err
	}
	for _, s := range b.sheets {
		if err := s.write(); err != nil {
			return nil, err
		}
	}
	core := coreXML(plain(b.doc.Title), "handback", b.last)
	b.file.SetZipWriter(func(w io.Writer) excelize.ZipWriter {
		return &steadyZip{into: w, parts: map[string]*bytes.Buffer{}, core: core}
	})
	out, err := b.file.WriteToBuffer()
	if err != nil {
		return nil, fmt.Errorf("workbook of job %s: %w", b.doc.Job, err)
	}
	return out.Bytes(), nil
}
