package grid

import (
	"bytes"
	"fmt"
	"io"
	"strings"
	"time"
	"unicode/utf16"
	"unicode/utf8"

	"github.com/xuri/excelize/v2"

	"handback/checks"
	"handback/report"
	"handback/report/form"
)

// Book is a workbook in the making: its sheets are laid out in full before the
// first is written.
type Book struct {
	File   *excelize.File
	styles map[Look]int
	rules  map[checks.Verdict]int // conditional styles
	title  string
	mark   string    // at the foot of every printed page
	Header string    // at the head of every printed page, "" for what the form has there
	Form   form.Form // the owner's, set before the first sheet is made
	Fixed  bool      // no sheet may be added, moved or renamed
	last   time.Time // when it counts as made
	Sheets []*Sheet  // in the order they are written
	taken  map[string]bool
	made   map[string]*Sheet // by name
	Names  []NamedCell
	named  map[string]bool
	Data   []byte // that it carries, nil for none
	Late   map[Cell]LateCell
	lists  *Sheet            // of words that cells accept, written where it holds any
	ranges map[string]string // on it, by their words
}

// LateCell is what a cell holds that could not be said before every cell had its place.
type LateCell struct {
	Formula string
	Words   string // in place of its value, "" for none
}

// NewBook begins a workbook without sheets. Names given in taken are those that no
// sheet may have.
func NewBook(title, mark string, last time.Time, taken ...string) *Book {
	b := &Book{File: excelize.NewFile(), styles: map[Look]int{}, title: title, mark: mark, last: last, taken: map[string]bool{}, made: map[string]*Sheet{}, named: map[string]bool{}, Late: map[Cell]LateCell{}, ranges: map[string]string{}}
	for _, name := range taken {
		b.taken[strings.ToLower(name)] = true
	}
	b.lists = b.Sheet(ListsSheet)
	return b
}

// Close frees what the library holds.
func (b *Book) Close() { b.File.Close() }

// Sheet makes an empty sheet, its name made to fit: no sign a sheet name may not
// hold, 31 characters, different from all others.
func (b *Book) Sheet(name string) *Sheet {
	clean := strings.Trim(strings.Map(func(r rune) rune {
		if strings.ContainsRune(`[]:*?/\`, r) {
			return ' '
		}
		return r
	}, report.Plain(b.Label(name))), " '\n\t")
	if clean == "" {
		clean = "Checks"
	}
	try := report.CutRunes(clean, 31)
	for n := 2; b.taken[strings.ToLower(try)]; n++ {
		suffix := fmt.Sprintf(" %d", n)
		try = report.CutRunes(clean, 31-len(suffix)) + suffix
	}
	b.taken[strings.ToLower(try)] = true
	b.made[try] = &Sheet{book: b, Name: try}
	return b.made[try]
}

// footer stands on every printed page.
func (b *Book) footer() string {
	return `&L&"` + Typeface + `,Regular"&8 ` + strings.ReplaceAll(report.Plain(b.mark), "&", "&&") +
		`&C&"` + Typeface + `,Regular"&8 &A&R&"` + Typeface + `,Regular"&8 ` + b.Label("page %s of %s", "&P", "&N")
}

// mostHeader is how many UTF-16 units the head of a page holds (ECMA-376 names no limit;
// spreadsheet programs keep 255).
const mostHeader = 255

// header stands at the head of every printed page: heading and number of the form.
func (b *Book) header() string {
	if b.Header != "" || b.Form.Heading+b.Form.Number == "" {
		return b.Header
	}
	heading, escape := b.Form.Heading, strings.NewReplacer("&", "&&")
	for {
		out := `&L&"` + Typeface + `,Bold"&8 ` + escape.Replace(report.Flat(heading)) + `&R&"` + Typeface + `,Regular"&8 ` + escape.Replace(report.Flat(b.Form.Number))
		if len(utf16.Encode([]rune(out))) <= mostHeader || heading == "" {
			return out
		}
		heading = report.CutRunes(heading, utf8.RuneCountInString(heading)-1)
	}
}

// Label is a fixed label in the language of the form, with values in its places.
func (b *Book) Label(english string, values ...any) string {
	own := b.Form.Labels.Of(english)
	if len(values) == 0 {
		return own
	}
	return fmt.Sprintf(own, values...)
}

// Bytes writes the sheets and packs them. It lets go of every row that it has written:
// what stands in a cell is asked before.
func (b *Book) Bytes() ([]byte, error) {
	if err := b.File.SetDefaultFont(Typeface); err != nil {
		return nil, err
	}
	b.layLists()
	for i, s := range b.Sheets {
		if i == 0 {
			if err := b.File.SetSheetName("Sheet1", s.Name); err != nil {
				return nil, fmt.Errorf("sheet %s: %w", s.Name, err)
			}
		} else if _, err := b.File.NewSheet(s.Name); err != nil {
			return nil, fmt.Errorf("sheet %s: %w", s.Name, err)
		}
	}
	if err := b.File.SetCalcProps(&excelize.CalcPropsOptions{FullCalcOnLoad: new(true)}); err != nil {
		return nil, err
	}
	if err := b.File.SetAppProps(&excelize.AppProperties{Application: "handback"}); err != nil {
		return nil, err
	}
	if b.Fixed {
		if err := b.File.ProtectWorkbook(&excelize.WorkbookProtectionOptions{LockStructure: true}); err != nil {
			return nil, err
		}
	}
	for _, s := range b.Sheets {
		if err := s.write(); err != nil {
			return nil, err
		}
	}
	names := b.namesXML()
	core := coreXML(report.Plain(b.title), "handback", b.last)
	b.File.SetZipWriter(func(w io.Writer) excelize.ZipWriter {
		return &SteadyZip{Into: w, Parts: map[string]*bytes.Buffer{}, Core: core, names: names, data: b.Data}
	})
	out, err := b.File.WriteToBuffer()
	if err != nil {
		return nil, fmt.Errorf("workbook of %s: %w", b.mark, err)
	}
	return out.Bytes(), nil
}
