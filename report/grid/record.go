package grid

import (
	"encoding/binary"
	"fmt"
	"math"
	"slices"
)

// A row is kept as records in the pile of its sheet, each with the place of the one before
// it: what Add laid out, what Beside put beside, what was said later of a cell.
const (
	recordBoxes = iota
	recordLater
)

// Sorts of values.
const (
	valueNone = iota
	valueText
	valueWhole
	valueNumber
	valueSort = 3 // the bits that tell

	hasFormula = 4
	hasAccepts = 8
)

// kept is a box as it is kept: its text and formula are bytes of a record.
type kept struct {
	col, span, look int
	sort            byte
	whole           int
	number          float64
	text, formula   []byte
	accepts         int // among those of the book, counted from 1; 0 for none
}

// later is what was said of a cell after it had been laid out.
type later struct {
	col            int
	formula, words []byte
}

// keep adds boxes to a row.
func (s *Sheet) keep(row *Row, boxes []Box) {
	r := append(s.record[:0], recordBoxes)
	r = binary.LittleEndian.AppendUint64(r, uint64(row.at))
	r = binary.AppendUvarint(r, uint64(len(boxes)))
	for _, b := range boxes {
		r = binary.AppendUvarint(r, uint64(b.Col))
		r = binary.AppendUvarint(r, uint64(b.Span))
		r = binary.AppendUvarint(r, uint64(s.book.lookOf(b.Look)))
		accepts := 0
		if b.accepts != nil {
			accepts = s.book.acceptsOf(b.accepts)
		}
		r = appendValue(r, b.Value, b.Formula, accepts)
	}
	row.at, s.record = s.pile.put(r), r
}

func appendValue(r []byte, value any, formula string, accepts int) []byte {
	at, sort := len(r), byte(valueNone)
	r = append(r, 0)
	if accepts > 0 {
		sort |= hasAccepts
		r = binary.AppendUvarint(r, uint64(accepts))
	}
	switch v := value.(type) {
	case nil:
	case string:
		sort |= valueText
		r = appendText(r, v)
	case int:
		sort |= valueWhole
		r = binary.AppendVarint(r, int64(v))
	case float64:
		sort |= valueNumber
		r = binary.LittleEndian.AppendUint64(r, math.Float64bits(v))
	default:
		panic(fmt.Sprintf("report: a cell cannot hold %T", value))
	}
	if formula != "" {
		sort |= hasFormula
		r = appendText(r, formula)
	}
	r[at] = sort
	return r
}

func appendText(r []byte, text string) []byte {
	return append(binary.AppendUvarint(r, uint64(len(text))), text...)
}

// taking takes a record apart.
type taking []byte

func (t *taking) count() int {
	x, n := binary.Uvarint(*t)
	*t = (*t)[n:]
	return int(x)
}

func (t *taking) bits() uint64 {
	x := binary.LittleEndian.Uint64(*t)
	*t = (*t)[8:]
	return x
}

func (t *taking) text() []byte {
	n := t.count()
	out := (*t)[:n:n]
	*t = (*t)[n:]
	return out
}

// value takes what a box holds.
func (t *taking) value(k *kept) {
	sort := (*t)[0]
	*t = (*t)[1:]
	k.sort = sort & valueSort
	if sort&hasAccepts != 0 {
		k.accepts = t.count()
	}
	switch k.sort {
	case valueText:
		k.text = t.text()
	case valueWhole:
		x, n := binary.Varint(*t)
		*t, k.whole = (*t)[n:], int(x)
	case valueNumber:
		k.number = math.Float64frombits(t.bits())
	}
	if sort&hasFormula != 0 {
		k.formula = t.text()
	}
}

// boxes takes the boxes of a row, in the order they came, with what was said later; the
// bytes in them hold until something is put on the sheet. What it gives is good until it
// is called again.
func (s *Sheet) boxes(row int) []kept {
	leads := s.leads[row]
	out, said, parts := s.taken[:0], s.said[:0], s.parts[:0]
	for at := s.Rows[row-1].at; at != 0 && s.pile.in.err == nil; {
		t := taking(s.pile.from(at))
		sort := t[0]
		t = t[1:]
		at = place(t.bits())
		if sort == recordBoxes {
			parts = append(parts, t)
			continue
		}
		col := t.count()
		if !slices.ContainsFunc(said, func(l later) bool { return l.col == col }) { // the newest counts
			said = append(said, later{col, t.text(), t.text()})
		}
	}
	for _, t := range slices.Backward(parts) {
		for range t.count() {
			k := kept{col: t.count(), span: t.count(), look: t.count()}
			t.value(&k)
			if slices.Contains(leads, k.col) {
				k.look = s.book.leading(k.look)
			}
			out = append(out, k)
		}
	}
	for _, l := range said {
		for i := range out {
			if out[i].col == l.col {
				out[i].formula = l.formula
				if len(l.words) > 0 {
					out[i].sort, out[i].text = valueText, l.words
				}
			}
		}
	}
	s.taken, s.said, s.parts = out, said, parts
	return out
}

// Labelled is what a cell holds, and the first text before it in its row; ok is false
// where there is none.
func (s *Sheet) Labelled(c Cell) (value any, label string, ok bool) {
	for _, k := range s.boxes(c.Row) {
		if k.sort == valueText && k.col < c.Col && !ok {
			label, ok = string(k.text), true
		}
		if k.col == c.Col && value == nil {
			value = s.box(k).Value
		}
	}
	return value, label, ok
}

// Formulas are those in the cells of a row.
func (s *Sheet) Formulas(row int) (out []string) {
	for _, k := range s.boxes(row) {
		if len(k.formula) > 0 {
			out = append(out, string(k.formula))
		}
	}
	return out
}

// Constants are the columns of a row where something stands that no formula fills.
func (s *Sheet) Constants(row int) (out []int) {
	for _, k := range s.boxes(row) {
		if len(k.formula) == 0 {
			out = append(out, k.col)
		}
	}
	return out
}

// box is a box as it was laid out, with what was said of it later.
func (s *Sheet) box(k kept) Box {
	b := Box{Col: k.col, Span: k.span, Look: s.book.looks[k.look].Look, Formula: string(k.formula)}
	switch k.sort {
	case valueText:
		b.Value = string(k.text)
	case valueWhole:
		b.Value = k.whole
	case valueNumber:
		b.Value = k.number
	}
	if k.accepts > 0 {
		b.accepts = &s.book.accepted[k.accepts-1]
	}
	return b
}
