package report

import (
	"fmt"
	"math"
	"strings"

	"github.com/xuri/excelize/v2"

	"handback/checks"
)

// sheet is laid out in full before it is written: heights, the printed area and the
// size of the sheet must be known before the first row goes out.
type sheet struct {
	book      *binder
	name      string
	widths    []float64 // of the columns, in digits of the standard type
	landscape bool
	onePage   bool
	hidden    bool
	prepare   func() error // what else is set before the rows; may be nil
	repeat    int          // rows at the top that stay in sight and head every printed page
	pages     int          // wide when printed, 1 when 0
	repeatCol int          // columns at the left that head every printed page
	verdicts  []string     // areas that hold verdicts
	charts    []placedChart
	pictures  []placedPicture
	rows      []line
	blocks    []block
	err       error
}

// block is what begins at a row and ends before the next block.
type block struct {
	row   int
	whole bool // best not torn by a page's end
}

type line struct {
	boxes  []box
	height float64 // points
}

// box is what stands in a cell, or in several merged along a row.
type box struct {
	col, span int
	value     any // nil, string, int or float64
	look      look
	formula   string // what works the value out, without its leading =; "" for none
	verdict   bool   // its fill follows the word it shows
	name      string // defined for it, "" for none
}

// at puts text or a number in one cell.
func at(col int, value any, l look) box { return box{col: col, span: 1, value: value, look: l} }

// across puts it over the columns from and to.
func across(from, to int, value any, l look) box {
	return box{col: from, span: to - from + 1, value: value, look: l}
}

// maxLines is how many lines one row may show: higher rows would not fit a page,
// and no spreadsheet shows a row above 409 points.
const maxLines = 24

const (
	unitWidth = 5.9  // points of a column width of 1, on the safe side of 6.0
	cellInset = 5.0  // points a cell keeps free of letters
	indent    = 10.0 // points of an indent
	lineLead  = 1.22 // line distance over type size
)

// add lays out a row and gives its number. Text that needs more than maxLines goes
// on in rows of its own below.
func (s *sheet) add(boxes ...box) int {
	first := len(s.rows) + 1
	pieces := make([][]string, len(boxes))
	lines := make([][]int, len(boxes))
	more := 1
	for i, b := range boxes {
		text, ok := b.value.(string)
		if !ok || b.look.flat {
			continue
		}
		pieces[i], lines[i] = stretches(strings.TrimRight(plain(text), "\n"), s.room(b), b.look, maxLines)
		more = max(more, len(pieces[i]))
	}
	for _, b := range boxes {
		if b.verdict {
			s.verdicts = append(s.verdicts, Cell{s.name, first, b.col}.Name()+":"+Cell{s.name, first, b.col + b.span - 1}.Name())
		}
	}
	s.note(first, boxes, func(i int) int { return max(1, len(pieces[i])) })
	for n := range more {
		l := line{height: 13}
		for i, b := range boxes {
			switch {
			case n < len(pieces[i]):
				b.value = pieces[i][n]
				l.height = math.Max(l.height, 4+float64(lines[i][n])*b.look.size*lineLead)
			case n > 0:
				b.value, b.formula = nil, ""
			default:
				l.height = math.Max(l.height, 4+b.look.size*lineLead)
			}
			l.boxes = append(l.boxes, b)
		}
		s.rows = append(s.rows, l)
	}
	return first
}

// boxAt is what was laid out at a cell.
func (s *sheet) boxAt(c Cell) *box {
	boxes := s.rows[c.Row-1].boxes
	for i := range boxes {
		if boxes[i].col == c.Col {
			return &boxes[i]
		}
	}
	panic("report: nothing stands at " + c.Ref())
}

func (s *sheet) room(b box) float64 {
	w := 0.0
	for _, c := range s.widths[b.col-1 : b.col-1+b.span] {
		w += c
	}
	w = w*unitWidth - cellInset
	if b.look.indented() {
		w -= indent
	}
	return w
}

// block begins something best not torn by the end of a page; flow begins lines that
// may be.
func (s *sheet) block() { s.blocks = append(s.blocks, block{len(s.rows) + 1, true}) }
func (s *sheet) flow()  { s.blocks = append(s.blocks, block{len(s.rows) + 1, false}) }

// gap leaves a little room.
func (s *sheet) gap(points float64) { s.rows = append(s.rows, line{height: points}) }

// heading is a bar over the whole width.
func (s *sheet) heading(text string) int { return s.add(across(1, len(s.widths), text, faceHead)) }

// said is a label with text beside it; nothing is laid out for empty text.
func (s *sheet) said(label, text string) {
	if text != "" {
		s.add(at(1, label, faceLabel), across(2, len(s.widths), text, faceText))
	}
}

// columns are the headings of a table.
func (s *sheet) columns(names ...box) int {
	for i := range names {
		names[i].look = faceColumn
	}
	return s.add(names...)
}

// number is a cell that shows x with so many decimals and holds the whole of it;
// what is not a number shows as the words given.
func number(col int, x float64, decimals int, otherwise string) box {
	l := faceCell
	if !finite(x) {
		return at(col, otherwise, l)
	}
	l.align, l.format, l.flat = "right", decimalsFormat(x, decimals), true
	return at(col, x, l)
}

// What a cell shows that holds no number.
const (
	noNumber  = "#NUM!" // an error to every formula that needs it
	notKnown  = "not known"
	noOutcome = "cannot be worked out"
)

// whole is a cell with a counting number, empty for 0.
func whole(col, n int) box {
	l := faceCell
	l.align, l.flat = "right", true
	if n == 0 {
		return at(col, nil, l)
	}
	return at(col, n, l)
}

// verdict is a cell with the word itself in capitals.
func verdict(from, to int, v checks.Verdict) box {
	b := across(from, to, wordOf(v), verdictLook(v))
	b.verdict = true
	return b
}

// write brings the sheet into the workbook. The settings go before the rows: what
// is set after them is dropped by the library without a word.
func (s *sheet) write() error {
	if s.err != nil {
		return s.err
	}
	if err := s.settings(); err != nil {
		return fmt.Errorf("sheet %s: %w", s.name, err)
	}
	if err := s.lookOfVerdicts(); err != nil {
		return fmt.Errorf("sheet %s: %w", s.name, err)
	}
	for _, c := range s.charts {
		if err := s.book.file.AddChart(s.name, c.at.Name(), c.chart); err != nil {
			return fmt.Errorf("sheet %s, chart at %s: %w", s.name, c.at.Name(), err)
		}
	}
	if err := s.draw(); err != nil {
		return err
	}
	if s.prepare != nil {
		if err := s.prepare(); err != nil {
			return fmt.Errorf("sheet %s: %w", s.name, err)
		}
	}
	w, err := s.book.file.NewStreamWriter(s.name)
	if err != nil {
		return fmt.Errorf("sheet %s: %w", s.name, err)
	}
	for i, l := range s.rows {
		if err := s.writeRow(w, i+1, l); err != nil {
			return fmt.Errorf("sheet %s, row %d: %w", s.name, i+1, err)
		}
	}
	for _, row := range s.breaks() {
		if err := w.InsertPageBreak(Cell{s.name, row, 1}.Name()); err != nil {
			return fmt.Errorf("sheet %s: %w", s.name, err)
		}
	}
	return w.Flush()
}

// Margins and paper (A4) in millimetres.
const (
	marginSide, marginTop, marginBottom, marginFoot = 12.0, 12.0, 16.0, 7.0
	paperShort, paperLong                           = 210.0, 297.0
)

// breaks are the rows that begin a printed page: a block that does not fit in what
// is left of a page begins a new one, unless it is longer than a page and half of
// one is left. Readers that scale to the width may ignore them.
func (s *sheet) breaks() []int {
	wide, high := paperShort, paperLong
	if s.landscape {
		wide, high = high, wide
	}
	const point = 25.4 / 72
	total := 0.0
	for i, w := range s.widths {
		total += 6.1 * w
		if i < s.repeatCol {
			total += 6.1 * w * float64(max(0, s.pages-1))
		}
	}
	scale := math.Min(1, (wide-2*marginSide)/point*float64(max(1, s.pages))/total)
	page := 0.97*(high-marginTop-marginBottom)/point/scale - height(s.rows[:s.repeat])
	var out []int
	at := 0.0
	for i, b := range s.blocks {
		end := len(s.rows)
		if i+1 < len(s.blocks) {
			end = s.blocks[i+1].row - 1
		}
		h := height(s.rows[b.row-1 : end])
		if b.whole && at > 0 && at+h > page && (h <= page || at > page/2) {
			out = append(out, b.row)
			at = 0
		}
		at = math.Mod(at+h, page)
	}
	return out
}

// height is what rows take, in points.
func height(rows []line) float64 {
	sum := 0.0
	for _, l := range rows {
		sum += l.height
	}
	return sum
}

func (s *sheet) writeRow(w *excelize.StreamWriter, n int, l line) error {
	cells := make([]any, len(s.widths))
	for _, b := range l.boxes {
		if text, ok := b.value.(string); ok {
			if b.look.flat {
				text = plain(text)
			}
			if err := fitsCell(text); err != nil {
				return err
			}
			b.value = guarded(text)
		}
		id, err := s.book.style(b.look)
		if err != nil {
			return err
		}
		if l, ok := s.book.late[Cell{s.name, n, b.col}]; ok {
			b.formula = l.formula
			if l.words != "" {
				b.value = l.words
			}
		}
		cells[b.col-1] = excelize.Cell{StyleID: id, Value: b.value, Formula: b.formula}
		for c := b.col; c < b.col-1+b.span; c++ {
			cells[c] = excelize.Cell{StyleID: id}
		}
		if b.span > 1 {
			if err := w.MergeCell(Cell{s.name, n, b.col}.Name(), Cell{s.name, n, b.col + b.span - 1}.Name()); err != nil {
				return err
			}
		}
	}
	return w.SetRow(Cell{s.name, n, 1}.Name(), cells, excelize.RowOpts{Height: l.height})
}

// settings are paper, margins, footer, frozen and repeated rows, printed area.
func (s *sheet) settings() error {
	f, last := s.book.file, Cell{s.name, len(s.rows), len(s.widths)}
	for i, w := range s.widths {
		col, err := excelize.ColumnNumberToName(i + 1)
		if err != nil {
			return err
		}
		if err := f.SetColWidth(s.name, col, col, w); err != nil {
			return err
		}
	}
	turn, high := "portrait", 0
	if s.landscape {
		turn = "landscape"
	}
	if s.onePage {
		high = 1
	}
	side, top, bottom, foot := marginSide/25.4, marginTop/25.4, marginBottom/25.4, marginFoot/25.4
	steps := []error{
		f.SetSheetDimension(s.name, "A1:"+last.Name()),
		f.SetSheetVisible(s.name, !s.hidden),
		f.SetSheetProps(s.name, &excelize.SheetPropsOptions{FitToPage: ptr(true)}),
		f.SetSheetView(s.name, 0, &excelize.ViewOptions{ShowGridLines: ptr(false)}),
		f.SetPageLayout(s.name, &excelize.PageLayoutOptions{Size: ptr(9), Orientation: &turn, FitToWidth: ptr(max(1, s.pages)), FitToHeight: &high}),
		f.SetPageMargins(s.name, &excelize.PageLayoutMarginsOptions{Left: &side, Right: &side, Top: &top, Bottom: &bottom, Header: &foot, Footer: &foot}),
		f.SetHeaderFooter(s.name, &excelize.HeaderFooterOptions{OddHeader: s.book.header, OddFooter: s.book.footer()}),
	}
	if !s.hidden { // with a printed area, some programs print what is hidden
		steps = append(steps, f.SetDefinedName(&excelize.DefinedName{Name: "_xlnm.Print_Area", Scope: s.name,
			RefersTo: absolute(s.name, fmt.Sprintf("$A$1:$%s$%d", strings.TrimRight(last.Name(), "0123456789"), last.Row))}))
	}
	if s.repeat > 0 {
		pane, titles := "bottomLeft", absolute(s.name, fmt.Sprintf("$1:$%d", s.repeat))
		if s.repeatCol > 0 {
			column, err := excelize.ColumnNumberToName(s.repeatCol)
			if err != nil {
				return err
			}
			pane, titles = "bottomRight", absolute(s.name, "$A:$"+column)+","+titles
		}
		below := Cell{s.name, s.repeat + 1, s.repeatCol + 1}.Name()
		steps = append(steps,
			f.SetPanes(s.name, &excelize.Panes{Freeze: true, XSplit: s.repeatCol, YSplit: s.repeat, TopLeftCell: below, ActivePane: pane,
				Selection: []excelize.Selection{{SQRef: below, ActiveCell: below, Pane: pane}}}),
			f.SetDefinedName(&excelize.DefinedName{Name: "_xlnm.Print_Titles", Scope: s.name, RefersTo: titles}))
	}
	for _, err := range steps {
		if err != nil {
			return err
		}
	}
	return nil
}

func absolute(sheet, area string) string {
	return "'" + strings.ReplaceAll(sheet, "'", "''") + "'!" + area
}

func ptr[T any](x T) *T { return &x }
