package grid

import (
	"cmp"
	"encoding/binary"
	"math"
	"strings"

	"handback/checks"
	"handback/checks/quantity"
	"handback/report"
)

// Sheet is laid out in full before it is written: heights, the printed area and the
// size of the sheet must be known before the first row goes out.
type Sheet struct {
	book      *Book
	no        int // among all sheets of the book
	Name      string
	Widths    []float64 // of the columns, in digits of the standard type
	Landscape bool
	OnePage   bool
	Hidden    bool
	Unprinted bool // in sight, and not printed
	Printed   int  // columns that are printed, from the first on; 0 for all
	Tight     bool // little room above and below letters
	links     []linkTo
	Repeat    int     // rows at the top that stay in sight and head every printed page
	pages     int     // wide when printed, 1 when 0
	repeatCol int     // columns at the left that head every printed page
	verdicts  []strip // that hold verdicts
	Charts    []PlacedChart
	Pictures  []PlacedPicture
	Rows      []Row
	blocks    []block
	aside     int // rows at the end that Beside made, where nothing printed stands

	pile   pile          // of what stands in the rows
	leads  map[int][]int // by row: columns of cells that lead elsewhere
	record []byte        // used again and again, as those below
	taken  []kept
	said   []later
	parts  []taking
}

// strip are cells of a row.
type strip struct{ row, from, to int32 }

// name is the address of a strip on its sheet.
func (x strip) name() string {
	return Cell{"", int(x.row), int(x.from)}.Name() + ":" + Cell{"", int(x.row), int(x.to)}.Name()
}

// block is what begins at a row and ends before the next block.
type block struct {
	row   int
	whole bool // best not torn by a page's end
}

// Row is a row of a sheet. What stands in it is kept as bytes: ask Boxes.
type Row struct {
	Height float64 // points
	at     place
}

// Box is what stands in a cell, or in several merged along a row.
type Box struct {
	Col, Span int
	Value     any // nil, string, int or float64
	Look      Look
	Formula   string   // what works the value out, without its leading =; "" for none
	verdict   bool     // its fill follows the word it shows
	name      string   // defined for it, "" for none
	accepts   *Accepts // of a cell to fill in
}

// At puts text or a number in one cell.
func At(col int, value any, l Look) Box { return Box{Col: col, Span: 1, Value: value, Look: l} }

// Across puts it over the columns from and to.
func Across(from, to int, value any, l Look) Box {
	return Box{Col: from, Span: to - from + 1, Value: value, Look: l}
}

// maxLines is how many lines one row may show: higher rows would not fit a page,
// and no spreadsheet shows a row above 409 points.
const maxLines = 24

const (
	unitWidth = 5.9  // points of a column width of 1, on the safe side of 6.0
	cellInset = 5.0  // points a cell keeps free of letters
	indent    = 10.0 // points of an indent
	snugInset = 2.0  // points of the inset that letters take where they stand close
	lineLead  = 1.22 // line distance over type size
)

// Add lays out a row and gives its number. Text that needs more than maxLines goes
// on in rows of its own below.
func (s *Sheet) Add(boxes ...Box) int {
	s.label(boxes)
	first := len(s.Rows) + 1
	pieces := make([][]string, len(boxes))
	lines := make([][]int, len(boxes))
	more := 1
	for i, b := range boxes {
		text, ok := b.Value.(string)
		if !ok || b.Look.Flat {
			continue
		}
		pieces[i], lines[i] = stretches(strings.TrimRight(report.Plain(text), "\n"), s.room(b), b.Look, maxLines)
		more = max(more, len(pieces[i]))
	}
	s.mark(first, boxes)
	s.note(first, boxes, func(i int) int { return max(1, len(pieces[i])) })
	least, free := 13.0, 4.0
	if s.Tight {
		least, free = 11, 1.5
	}
	row := make([]Box, 0, len(boxes))
	for n := range more {
		l := Row{Height: least}
		row = row[:0]
		for i, b := range boxes {
			switch {
			case n < len(pieces[i]):
				b.Value = pieces[i][n]
				l.Height = math.Max(l.Height, free+float64(lines[i][n])*b.Look.Size*lineLead)
			case n > 0:
				b.Value, b.Formula, b.Look.Open = nil, "", false
			default:
				l.Height = math.Max(l.Height, free+b.Look.Size*lineLead)
			}
			row = append(row, b)
		}
		s.keep(&l, row)
		s.Rows = append(s.Rows, l)
	}
	return first
}

// Put adds a row of boxes as they are: nothing is wrapped, named or put into another
// language.
func (s *Sheet) Put(height float64, boxes ...Box) {
	l := Row{Height: height}
	s.keep(&l, boxes)
	s.Rows = append(s.Rows, l)
}

// Boxes are what stands in a row, counted from 1, in the order it came there, with what
// was said of it later.
func (s *Sheet) Boxes(row int) []Box {
	var out []Box
	for _, k := range s.boxes(row) {
		out = append(out, s.box(k))
	}
	return out
}

// Find is what was laid out at a cell; ok is false where nothing was.
func (s *Sheet) Find(row, col int) (b Box, ok bool) {
	if row < 1 || row > len(s.Rows) {
		return Box{}, false
	}
	for _, k := range s.boxes(row) {
		if k.col == col {
			return s.box(k), true
		}
	}
	return Box{}, false
}

// BoxAt is what was laid out at a cell.
func (s *Sheet) BoxAt(c Cell) Box {
	b, ok := s.Find(c.Row, c.Col)
	if !ok && s.pile.in.err == nil {
		panic("report: nothing stands at " + c.Ref())
	}
	return b
}

// Change lays the boxes of a row out anew.
func (s *Sheet) Change(row int, how func(*Box)) {
	boxes := s.Boxes(row)
	for i := range boxes {
		how(&boxes[i])
	}
	s.Rows[row-1].at = 0
	s.keep(&s.Rows[row-1], boxes)
}

// Later gives a cell that is laid out a formula and, where words are given, these in place
// of its value. What is said last counts.
func (s *Sheet) Later(c Cell, formula, words string) {
	r := append(s.record[:0], recordLater)
	r = binary.LittleEndian.AppendUint64(r, uint64(s.Rows[c.Row-1].at))
	r = binary.AppendUvarint(r, uint64(c.Col))
	r = appendText(appendText(r, formula), words)
	s.Rows[c.Row-1].at, s.record = s.pile.put(r), r
}

func (s *Sheet) room(b Box) float64 {
	w := 0.0
	for _, c := range s.Widths[b.Col-1 : b.Col-1+b.Span] {
		w += c
	}
	w = w*unitWidth - cellInset
	switch {
	case b.Look.Snug:
		w += snugInset
	case b.Look.indented():
		w -= indent
	}
	return w
}

// Block begins something best not torn by the end of a page; flow begins lines that
// may be.
func (s *Sheet) Block() { s.blocks = append(s.blocks, block{len(s.Rows) + 1, true}) }

// Flow begins lines that the end of a page may tear.
func (s *Sheet) Flow() { s.blocks = append(s.blocks, block{len(s.Rows) + 1, false}) }

// Gap leaves a little room.
func (s *Sheet) Gap(points float64) { s.Rows = append(s.Rows, Row{Height: points}) }

// label puts the headings of columns into the language of the form.
func (s *Sheet) label(boxes []Box) {
	for i, b := range boxes {
		b.Look.Snug = FaceColumn.Snug
		if text, ok := b.Value.(string); ok && b.Look == FaceColumn {
			boxes[i].Value = s.Label(text)
		}
	}
}

// Label is a fixed label in the language of the form, with values in its places.
func (s *Sheet) Label(english string, values ...any) string { return s.book.Label(english, values...) }

// Heading is a bar over the whole width with a label; HeadingOf has words of the record.
func (s *Sheet) Heading(label string) int { return s.HeadingOf(s.Label(label)) }

// HeadingOf is a bar over the whole width with words of the record.
func (s *Sheet) HeadingOf(text string) int { return s.Add(Across(1, s.wide(), text, FaceHead)) }

// wide is how many columns are printed.
func (s *Sheet) wide() int { return cmp.Or(s.Printed, len(s.Widths)) }

// Said is a label with text beside it; nothing is laid out for empty text.
func (s *Sheet) Said(label, text string) {
	if text != "" {
		s.Add(At(1, s.Label(label), FaceLabel), Across(2, s.wide(), text, FaceText))
	}
}

// Columns are the headings of a table, labels.
func (s *Sheet) Columns(names ...Box) int {
	for i := range names {
		names[i].Look = FaceColumn
	}
	return s.Add(names...)
}

// Number is a cell that shows x with so many decimals and holds the whole of it;
// what is not a number shows as the words given.
func Number(col int, x float64, decimals int, otherwise string) Box {
	l := FaceCell
	if !quantity.Finite(x) {
		return At(col, otherwise, l)
	}
	l.Align, l.Format, l.Flat = "right", DecimalsFormat(x, decimals), true
	return At(col, x, l)
}

// What a cell shows that holds no number.
const (
	NoNumber  = "#NUM!" // an error to every formula that needs it
	NotKnown  = "not known"
	NoOutcome = "cannot be worked out"
)

// Whole is a cell with a counting number, empty for 0.
func Whole(col, n int) Box {
	l := FaceCell
	l.Align, l.Flat = "right", true
	if n == 0 {
		return At(col, nil, l)
	}
	return At(col, n, l)
}

// Verdict is a cell with the word itself in capitals.
func Verdict(from, to int, v checks.Verdict) Box {
	b := Across(from, to, WordOf(v), VerdictLook(v))
	b.verdict = true
	return b
}
