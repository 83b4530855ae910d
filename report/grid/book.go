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
	all    []*Sheet          // as they were made
	Data   []byte            // that it carries, nil for none
	lists  *Sheet            // of words that cells accept, written where it holds any
	ranges map[string]string // on it, by their words

	store      store
	looks      []usedLook
	numbers    map[Look]int // of looks
	accepted   []Accepts
	acceptable map[string]int
	names      pile
	named      map[[16]byte]bool
}

// NewBook begins a workbook without sheets. Names given in taken are those that no
// sheet may have.
func NewBook(title, mark string, last time.Time, taken ...string) *Book {
	b := &Book{File: excelize.NewFile(), numbers: map[Look]int{}, acceptable: map[string]int{}, title: title, mark: mark, last: last, taken: map[string]bool{}, made: map[string]*Sheet{}, named: map[[16]byte]bool{}, ranges: map[string]string{}}
	b.names.in = &b.store
	for _, name := range taken {
		b.taken[strings.ToLower(name)] = true
	}
	b.lists = b.Sheet(ListsSheet)
	return b
}

// Close frees what the library and the rows hold.
func (b *Book) Close() {
	b.File.Close()
	b.store.close()
}

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
	s := &Sheet{book: b, Name: try, no: len(b.all), pile: pile{in: &b.store}}
	b.made[try], b.all = s, append(b.all, s)
	return s
}

// At is a sheet by its name.
func (b *Book) At(name string) *Sheet { return b.made[name] }

// Later is Later of the sheet of the cell.
func (b *Book) Later(c Cell, formula, words string) { b.made[c.Sheet].Later(c, formula, words) }

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

// Bytes is what Write writes.
func (b *Book) Bytes() ([]byte, error) {
	var out bytes.Buffer
	err := b.Write(&out)
	return out.Bytes(), err
}

// Write packs the sheets, one after another, and writes them.
func (b *Book) Write(to io.Writer) error {
	if err := b.frame(); err != nil {
		return err
	}
	rows := map[string]*Sheet{}
	for i, s := range b.Sheets {
		if err := s.frame(); err != nil {
			return err
		}
		rows[fmt.Sprintf("xl/worksheets/sheet%d.xml", i+1)] = s
	}
	core := coreXML(report.Plain(b.title), "handback", b.last)
	b.File.SetZipWriter(func(io.Writer) excelize.ZipWriter {
		return &SteadyZip{Into: to, Parts: map[string]*bytes.Buffer{}, Core: core, book: b, rows: rows, data: b.Data}
	})
	err := b.File.Write(io.Discard)
	if err == nil {
		err = b.store.err
	}
	if err != nil {
		return fmt.Errorf("workbook of %s: %w", b.mark, err)
	}
	return nil
}

// frame makes all that stands around the sheets, and names them.
func (b *Book) frame() error {
	if err := b.File.SetDefaultFont(Typeface); err != nil {
		return err
	}
	b.layLists()
	for i, s := range b.Sheets {
		if i == 0 {
			if err := b.File.SetSheetName("Sheet1", s.Name); err != nil {
				return fmt.Errorf("sheet %s: %w", s.Name, err)
			}
		} else if _, err := b.File.NewSheet(s.Name); err != nil {
			return fmt.Errorf("sheet %s: %w", s.Name, err)
		}
	}
	if err := b.File.SetCalcProps(&excelize.CalcPropsOptions{FullCalcOnLoad: new(true)}); err != nil {
		return err
	}
	if err := b.File.SetAppProps(&excelize.AppProperties{Application: "handback"}); err != nil {
		return err
	}
	if b.Fixed {
		return b.File.ProtectWorkbook(&excelize.WorkbookProtectionOptions{LockStructure: true})
	}
	return nil
}
