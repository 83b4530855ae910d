package grid

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
	"unicode/utf16"

	"github.com/xuri/excelize/v2"

	"handback/checks/quantity"
	"handback/report"
)

// Accepts is what a cell to fill in takes: one of some words, a number, text with a digit
// in it; anything when it names none of these.
type Accepts struct {
	Words       []string
	Number      bool
	Low, High   float64 // of a number; both 0 or not finite: any number
	Digit       bool
	Title, Hint string // shown while the cell is chosen
	Refusal     string // said of anything else
	Warns       bool   // anything else is said to be wrong and taken all the same
}

// FrameInput is the border of a cell to fill in, and of no other cell of a table.
const FrameInput = "medium"

// Input makes a box one to fill in: framed, not locked where everything else is, and
// held to what it accepts. It is called last, after every change of the look.
func (b Box) Input(a Accepts) Box {
	b.Look.Open, b.Look.Border = true, FrameInput
	b.accepts = &a
	return b
}

// Inputs are the cells to fill in, in the order of sheets and rows.
func (b *Book) Inputs() []Cell {
	var out []Cell
	for _, s := range b.Sheets {
		s.eachInput(func(c Cell, _ *Accepts) { out = append(out, c) })
	}
	return out
}

func (s *Sheet) eachInput(do func(Cell, *Accepts)) {
	for i := range s.Rows {
		for _, k := range s.boxes(i + 1) {
			if k.accepts > 0 && s.book.looks[k.look].Open {
				do(Cell{s.Name, i + 1, k.col}, &s.book.accepted[k.accepts-1])
			}
		}
	}
}

// acceptsOf is the number of what a cell accepts, counted from 1; what is equal shares one.
func (b *Book) acceptsOf(a *Accepts) int {
	key := strings.Join(append([]string{a.Title, a.Hint, a.Refusal, fmt.Sprint(a.Number, a.Low, a.High, a.Digit, a.Warns)}, a.Words...), "\x00")
	n, ok := b.acceptable[key]
	if !ok {
		b.accepted = append(b.accepted, *a)
		n = len(b.accepted)
		b.acceptable[key] = n
	}
	return n
}

// protect locks every cell but those to fill in, without a password, and holds those to
// what they accept. A person may still move about, copy, and change heights and widths.
func (s *Sheet) protect() error {
	type ruled struct {
		of   *Accepts
		cell string // its formula names it, "" for none
	}
	var order []ruled
	areas := map[ruled][]string{}
	s.eachInput(func(c Cell, a *Accepts) {
		key := ruled{of: a}
		if a.Digit {
			key.cell = c.Name()
		}
		if areas[key] == nil {
			order = append(order, key)
		}
		areas[key] = append(areas[key], c.Name())
	})
	for _, key := range order {
		dv := s.rule(*key.of, areas[key])
		if err := s.book.File.AddDataValidation(s.Name, dv); err != nil {
			return err
		}
	}
	return s.book.File.ProtectSheet(s.Name, &excelize.SheetProtectionOptions{SelectLockedCells: true, SelectUnlockedCells: true, FormatRows: true, FormatColumns: true})
}

// Lengths a spreadsheet allows for the words of a rule, and for a list written into one.
const (
	ruleTitle = 32
	ruleText  = 255
)

// anyNumber is how far from zero a number may lie where no more is said.
const anyNumber = 1e30

// rule makes what cells accept a rule of the sheet.
func (s *Sheet) rule(a Accepts, cells []string) *excelize.DataValidation {
	dv := excelize.NewDataValidation(true)
	dv.Sqref = strings.Join(cells, " ")
	switch {
	case len(a.Words) > 0:
		dv.SetSqrefDropList(s.book.listOf(a.Words))
	case a.Number:
		low, high := a.Low, a.High
		if low == 0 && high == 0 || !quantity.Finite(low) || !quantity.Finite(high) {
			low, high = -anyNumber, anyNumber
		}
		dv.Type, dv.Operator = "decimal", "between"
		dv.Formula1, dv.Formula2 = ruleNumber(min(low, high)), ruleNumber(max(low, high))
	case a.Digit:
		dv.Type = "custom"
		dv.Formula1 = fmt.Sprintf(`SUMPRODUCT(--ISNUMBER(VALUE(MID(%s,ROW($1:$40),1))))&gt;0`, cells[0])
	}
	fits := func(text string, most int) string { return report.CutRunes(report.Plain(text), most) }
	if a.Title != "" || a.Hint != "" {
		dv.SetInput(fits(a.Title, ruleTitle), fits(a.Hint, ruleText))
	}
	if dv.Type != "" {
		style := excelize.DataValidationErrorStyleStop
		if a.Warns {
			style = excelize.DataValidationErrorStyleWarning
		}
		dv.SetError(style, fits(a.Title, ruleTitle), fits(a.Refusal, ruleText))
	}
	return dv
}

// ruleNumber is a bound of a rule, to the digits a spreadsheet holds.
func ruleNumber(x float64) string {
	return strings.ToUpper(Shortest(math.Max(-anyNumber, math.Min(anyNumber, x))))
}

// ListsSheet holds lists of words too long for a rule, where there are any.
const ListsSheet = "Lists"

// inline is a list as it stands in a rule itself, "" where it must stand in cells.
func inline(words []string) string {
	text := strings.Join(words, ",")
	if len(utf16.Encode([]rune(text))) > ruleText || slices.ContainsFunc(words, func(w string) bool { return w != strings.TrimSpace(w) || strings.ContainsAny(w, `,"=&<>`) }) {
		return ""
	}
	return `"` + text + `"`
}

// layLists puts the lists that fit into no rule on a hidden sheet, a column each. It
// runs when every other sheet is laid out.
func (b *Book) layLists() {
	for _, s := range slices.Clone(b.Sheets) {
		s.eachInput(func(_ Cell, a *Accepts) {
			key := strings.Join(a.Words, "\x00")
			if b.ranges[key] != "" || len(a.Words) == 0 || inline(a.Words) != "" {
				return
			}
			l, col := b.lists, len(b.lists.Widths)+1
			if col == 1 {
				l.Hidden = true
				b.Sheets = append(b.Sheets, l)
			}
			for i, w := range a.Words {
				if i == len(l.Rows) {
					l.Rows = append(l.Rows, Row{Height: 13})
				}
				l.keep(&l.Rows[i], []Box{At(col, w, Look{Size: 9, Flat: true, Format: "@"})})
			}
			l.Widths = append(l.Widths, 20)
			b.ranges[key] = Absolute(l.Name, "$"+AbsoluteName(Cell{l.Name, 1, col})+":$"+AbsoluteName(Cell{l.Name, len(a.Words), col}))
		})
	}
}

// listOf is what a rule names a list of words by.
func (b *Book) listOf(words []string) string {
	return cmp.Or(inline(words), b.ranges[strings.Join(words, "\x00")])
}
