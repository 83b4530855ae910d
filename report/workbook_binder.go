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

// binder is a workbook in the making: its sheets are laid out in full before the
// first is written.
type binder struct {
	file   *excelize.File
	styles map[look]int
	rules  map[checks.Verdict]int // conditional styles
	title  string
	mark   string    // at the foot of every printed page
	header string    // at the head of every printed page, "" for none
	last   time.Time // when it counts as made
	sheets []*sheet  // in the order they are written
	taken  map[string]bool
	names  []namedCell
	data   []byte // that it carries, nil for none
	late   map[Cell]lateCell
}

// lateCell is what a cell holds that could not be said before every cell had its place.
type lateCell struct {
	formula string
	words   string // in place of its value, "" for none
}

// newBinder begins a workbook without sheets. Names given in taken are those that no
// sheet may have.
func newBinder(title, mark string, last time.Time, taken ...string) *binder {
	b := &binder{file: excelize.NewFile(), styles: map[look]int{}, title: title, mark: mark, last: last, taken: map[string]bool{}, late: map[Cell]lateCell{}}
	for _, name := range taken {
		b.taken[strings.ToLower(name)] = true
	}
	return b
}

// close frees what the library holds.
func (b *binder) close() { b.file.Close() }

// sheet makes an empty sheet, its name made to fit: no sign a sheet name may not
// hold, 31 characters, different from all others.
func (b *binder) sheet(name string) *sheet {
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
		suffix := fmt.Sprintf(" %d", n)
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
func (b *binder) footer() string {
	return `&L&"` + typeface + `,Regular"&8 ` + strings.ReplaceAll(plain(b.mark), "&", "&&") +
		`&C&"` + typeface + `,Regular"&8 &A&R&"` + typeface + `,Regular"&8 page &P of &N`
}

// bytes writes the sheets and packs them.
func (b *binder) bytes() ([]byte, error) {
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
	if err := b.defineNames(); err != nil {
		return nil, err
	}
	core := coreXML(plain(b.title), "handback", b.last)
	b.file.SetZipWriter(func(w io.Writer) excelize.ZipWriter {
		return &steadyZip{into: w, parts: map[string]*bytes.Buffer{}, core: core, data: b.data}
	})
	out, err := b.file.WriteToBuffer()
	if err != nil {
		return nil, fmt.Errorf("workbook of %s: %w", b.mark, err)
	}
	return out.Bytes(), nil
}
