package workbook

import (
	"math"
	"slices"
	"strings"

	"handback/report/grid"
)

// cellSet holds cells of a book, a bit each.
type cellSet map[string]*sheetSet

type sheetSet struct {
	wide int // words a row
	bits []uint64
}

// constants are the cells that hold something which no formula fills.
func (b *book) constants() cellSet {
	out := cellSet{}
	for _, s := range b.Sheets {
		set := &sheetSet{wide: len(s.Widths)/64 + 1}
		set.bits = make([]uint64, len(s.Rows)*set.wide)
		for i := range s.Rows {
			for _, col := range s.Constants(i + 1) {
				set.bits[i*set.wide+col/64] |= 1 << (col % 64)
			}
		}
		out[s.Name] = set
	}
	return out
}

// take takes a cell out; it tells whether it was in.
func (s cellSet) take(c grid.Cell) bool {
	set := s[c.Sheet]
	if set == nil || c.Row < 1 || c.Col < 1 || c.Col/64 >= set.wide {
		return false
	}
	n, bit := (c.Row-1)*set.wide+c.Col/64, uint64(1)<<(c.Col%64)
	if n >= len(set.bits) || set.bits[n]&bit == 0 {
		return false
	}
	set.bits[n] &^= bit
	return true
}

// owners tell which attempt a cell belongs to.
type owners struct {
	attempts []spot
	rows     map[string][]int32 // by sheet and row: counted from 1 the attempt of a value or a reason, below 0 of a value
	starts   []start            // of workings, in order
}

type start struct {
	cell grid.Cell
	of   spot
}

func (b *book) owned() *owners {
	o := &owners{rows: map[string][]int32{}}
	number := map[spot]int32{}
	own := func(at spot, c grid.Cell, value bool) {
		n := number[at]
		if n == 0 {
			o.attempts = append(o.attempts, at)
			n = int32(len(o.attempts))
			number[at] = n
		}
		rows := o.rows[c.Sheet]
		if rows == nil {
			rows = make([]int32, len(b.At(c.Sheet).Rows)+1)
			o.rows[c.Sheet] = rows
		}
		if value || rows[c.Row] < 0 {
			n = -n
		}
		rows[c.Row] = n
	}
	for at, c := range b.layout.Derived {
		own(spot{at.Check, at.Attempt, ""}, c, true)
	}
	for at, cells := range b.layout.Reasons {
		for _, c := range cells {
			own(at, c, false)
		}
	}
	for at, w := range b.layout.Workings {
		first := grid.Cell{Sheet: w.s.Name, Row: math.MaxInt}
		for _, c := range append(slices.Clone(w.rows), w.values...) {
			first.Row = min(first.Row, c.Row)
		}
		o.starts = append(o.starts, start{first, at})
	}
	slices.SortFunc(o.starts, func(a, b start) int { return grid.CompareCells(a.cell, b.cell) })
	return o
}

// by is the attempt that a cell belongs to, zero for none, and whether it holds a limit.
func (o *owners) by(c grid.Cell) (of spot, limit bool) {
	if rows := o.rows[c.Sheet]; rows != nil && rows[c.Row] != 0 {
		n := rows[c.Row]
		return o.attempts[max(n, -n)-1], n < 0 && (c.Col == colLow || c.Col == colHigh)
	}
	n, _ := slices.BinarySearchFunc(o.starts, grid.Cell{Sheet: c.Sheet, Row: c.Row + 1}, func(s start, c grid.Cell) int { return grid.CompareCells(s.cell, c) })
	if n > 0 && o.starts[n-1].cell.Sheet == c.Sheet {
		return o.starts[n-1].of, false
	}
	return spot{}, false
}

// eachRead tells of every cell that a formula on a sheet looks at: what stands in it like
// the address of a cell or of an area, with the name of a sheet before it or none, outside
// constant text.
func eachRead(sheet, formula string, do func(grid.Cell)) {
	on := ""
	for i := 0; i < len(formula); {
		switch c := formula[i]; {
		case c == '"', c == '\'':
			end := quotedEnd(formula, i)
			if on = ""; c == '\'' && end < len(formula) && formula[end] == '!' {
				on = strings.ReplaceAll(formula[i+1:end-1], "''", "'")
				end++
			}
			i = end
		case c == '$' || wordy(c):
			first, next, ok := addressAt(formula, i)
			if !ok {
				i, on = next, ""
				continue
			}
			last := first
			if next < len(formula) && formula[next] == ':' {
				if other, end, ok := addressAt(formula, next+1); ok {
					last, next = other, end
				}
			}
			name := sheet
			if on != "" {
				name = on
			}
			for row := first.Row; row <= last.Row; row++ {
				for col := first.Col; col <= last.Col; col++ {
					do(grid.Cell{Sheet: name, Row: row, Col: col})
				}
			}
			i, on = next, ""
		default:
			i, on = i+1, ""
		}
	}
}

// quotedEnd is where text in quotation marks that begins at i ends; a mark in it stands
// twice.
func quotedEnd(s string, i int) int {
	mark := s[i]
	for i++; i < len(s); i++ {
		if s[i] == mark {
			if i+1 < len(s) && s[i+1] == mark {
				i++
				continue
			}
			return i + 1
		}
	}
	return i
}

func wordy(c byte) bool {
	return c >= 'A' && c <= 'Z' || c >= 'a' && c <= 'z' || c >= '0' && c <= '9' || c == '_'
}

// addressAt is the cell whose address begins at i, and where what stands there ends.
func addressAt(s string, i int) (c grid.Cell, end int, ok bool) {
	if i < len(s) && s[i] == '$' {
		i++
	}
	for end = i; end < len(s) && s[end] >= 'A' && s[end] <= 'Z' && end < i+4; end++ {
		c.Col = c.Col*26 + int(s[end]-'A') + 1
	}
	letters := end - i
	if end < len(s) && s[end] == '$' {
		end++
	}
	digits := end
	for ; end < len(s) && s[end] >= '0' && s[end] <= '9' && end < digits+8; end++ {
		c.Row = c.Row*10 + int(s[end]-'0')
	}
	ok = letters > 0 && letters <= 3 && end > digits && (end == len(s) || !wordy(s[end]))
	for end < len(s) && wordy(s[end]) {
		end++
	}
	return c, max(end, i+1), ok
}
