package report

import (
	"fmt"
	"slices"

	"handback/checks"
)

// Columns of a sheet of workings. The moves stand to the right, two columns each; what
// does not fit goes on in strips below, which repeat only the rows that move.
const (
	workName  = 1
	workUnit  = 2
	workKind  = 3
	workValue = 4
	workShare = 5
	workStep  = 6
	workSpan  = 7
	workMoves = 8

	// of a derived value
	workStandard = workShare
	workSpread   = workStep
	workMost     = workSpan

	// of a datum that may be off
	workLow  = workStep
	workHigh = workSpan
	workEnd  = workMoves + 2*stripMoves - 1

	stripMoves = 5
)

// byHandback marks what no formula works out.
const byHandback = "computed by handback"

// workings lays out how the values of a group's attempts are worked out, attempt
// below attempt: readings, data and steps with their formulas, and beside each value
// what it comes to when the readings are moved by their errors, which its
// uncertainty is made of.
func (b *book) workings(sheetName string, g Group) *sheet {
	if !slices.ContainsFunc(g.Checks, CheckPage.worksOut) {
		return nil
	}
	s := b.sheet(cutRunes(sheetName, 23) + " working")
	s.landscape, s.repeat = true, 2
	s.widths = []float64{36, 6, 20, 13, 11, 11, 11}
	for len(s.widths) < workEnd {
		s.widths = append(s.widths, 12)
	}
	s.add(across(1, workEnd, s.name, faceTitle))
	s.add(across(1, workEnd, "How every value on the sheet "+sheetName+" is worked out, from the cells of its readings. Values stand in base units. "+
		"To the right: the same with readings moved up and down by their errors: all readings of one instrument in one range together by their share of the reading (G) "+
		"and by the error of the range (O), each alone by the error of the range (o) and by that of its own digits (s); what the plan says may lie between two values, to both (s). "+
		"u = √(Σ(G + max(O, √Σo²) + √Σs²)²/3), no error is larger than Σ(G + max(O, Σo) + Σs), and U = 2u but no more than that, the larger way of each move counting (JCGM 100:2008). "+
		"Nothing here needs to be read to use the handover; it is here so that every value can be checked.", faceSmall))
	return s
}

// worksOut tells whether any attempt of a check has values to work out.
func (p CheckPage) worksOut() bool { return slices.ContainsFunc(p.Attempts, AttemptPage.worksOut) }

func (a AttemptPage) worksOut() bool { return a.Finding != nil && len(a.Derived) > 0 }

// workBlock is one attempt on a sheet of workings.
type workBlock struct {
	b      *book
	s      *sheet
	l      *checks.Ledger
	d      []checks.Derived
	strips []strip // the first holds every row
	by     []Cell  // of the moves: the cell of the amount
}

// strip tells in which rows of the sheet the ledger's rows and the derived values
// stand, 0 for those that its moves do not touch.
type strip struct{ heads, rows, values []int }

// workBlock lays out an attempt and gives the cells of its derived values.
func (b *book) workBlock(s *sheet, p CheckPage, a AttemptPage) []Cell {
	w := &workBlock{b: b, s: s, l: a.Finding.Ledger(), d: a.Finding.Derived}
	s.block()
	s.gap(8)
	s.add(across(1, workEnd, p.Title+" ("+p.ID+"), attempt "+itoa(a.Number), faceHead))
	w.place()
	for k := range w.strips {
		w.heads(k)
		for i := range w.l.Rows {
			w.row(k, i, p, a)
		}
		w.put(w.strips[k].heads[2], w.valueHeads())
		for i := range w.d {
			w.derived(k, i)
		}
	}
	out := make([]Cell, len(w.d))
	for i := range w.d {
		out[i] = w.value(i)
	}
	return out
}

// place gives every row its place beforehand, so that formulas may name any of them.
func (w *workBlock) place() {
	row := len(w.s.rows)
	next := func() int {
		row++
		return row
	}
	for k := range max(1, (len(w.l.Shifts)+stripMoves-1)/stripMoves) {
		t := strip{heads: []int{next(), next()}, rows: make([]int, len(w.l.Rows)), values: make([]int, len(w.d))}
		for i, r := range w.l.Rows {
			if k == 0 || w.touches(k, r.Expr) {
				t.rows[i] = next()
			}
		}
		t.heads = append(t.heads, next())
		for i := range w.d {
			used := len(w.shiftsOf(k, i)) > 0
			if k == 0 || used {
				t.values[i] = next()
			}
			if used {
				next() // how far it moves
			}
		}
		w.strips = append(w.strips, t)
	}
	for n := range w.l.Shifts {
		w.by = append(w.by, w.at(w.strips[n/stripMoves].heads[1], &move{n, 1}))
	}
}

// shifts lists those of a strip.
func (w *workBlock) shifts(k int) []int {
	var out []int
	for n := k * stripMoves; n < min((k+1)*stripMoves, len(w.l.Shifts)); n++ {
		out = append(out, n)
	}
	return out
}

// touches tells whether a strip moves a computation.
func (w *workBlock) touches(k int, e *checks.Expr) bool {
	return slices.ContainsFunc(w.shifts(k), func(n int) bool { return w.l.Moves(w.l.Shifts[n], e) })
}

// shiftsOf lists the shifts of a strip that a derived value's uncertainty needs.
func (w *workBlock) shiftsOf(k, i int) []int {
	var out []int
	for _, p := range w.l.Values[i].Parts {
		for _, n := range p.Shifts() {
			if n/stripMoves == k {
				out = append(out, n)
			}
		}
	}
	return out
}

// move is one way of a shift.
type move struct {
	shift int
	sign  float64
}

// at is the cell of a row of the sheet under a move.
func (w *workBlock) at(row int, m *move) Cell {
	col := workMoves + 2*(m.shift%stripMoves)
	if m.sign < 0 {
		col++
	}
	return Cell{w.s.name, row, col}
}

// base is the plain value of a row of the ledger, value that of a derived one.
func (w *workBlock) base(i int) Cell  { return Cell{w.s.name, w.strips[0].rows[i], workValue} }
func (w *workBlock) value(i int) Cell { return Cell{w.s.name, w.strips[0].values[i], workValue} }

// put lays out a row where place has put it.
func (w *workBlock) put(at int, boxes []box) {
	if got := w.s.add(boxes...); got != at || len(w.s.rows) != at {
		panic(fmt.Sprintf("report: working of %s stands in row %d, not in %d", w.s.name, got, at))
	}
}

// heads name the columns of a strip, and below them the amount of every single move.
func (w *workBlock) heads(k int) {
	names := []box{at(workName, "reading, datum or step", look{}), at(workUnit, "unit", look{}), at(workKind, "what it is", look{}), at(workValue, "value", look{}),
		at(workShare, "error, % of reading", look{}), at(workStep, "error of its digits", look{}), at(workSpan, "error of its range", look{})}
	if k > 0 {
		names = []box{across(workName, workSpan, "further moves of the same", look{})}
	}
	amounts := []box{across(workName, workSpan, "moved by, up and down", faceColumn)}
	for _, n := range w.shifts(k) {
		m, c := w.l.Shifts[n], w.by[n]
		names = append(names, across(c.Col, c.Col+1, w.moveName(m), look{}))
		amounts = append(amounts, w.moveAmounts(m, c)...)
	}
	for i := range names {
		names[i].look = faceColumn
	}
	w.put(w.strips[k].heads[0], names)
	w.put(w.strips[k].heads[1], amounts)
}

// moveName says what is moved.
func (w *workBlock) moveName(m checks.Shift) string {
	if m.Row >= 0 {
		return shortened(w.l.Rows[m.Row].Label) + " alone" + map[bool]string{true: ", error of its range", false: ""}[m.Sort == checks.ShiftBend]
	}
	unit := checks.BaseUnit(m.Of)
	return shortened(m.Meter+", "+m.Of+" to "+checks.Show(m.Top, unit, checks.Decimals(m.Top))) + ", all together"
}

// moveAmounts say by how much a shift moves, up and down.
func (w *workBlock) moveAmounts(m checks.Shift, c Cell) []box {
	words := func(up, down string) []box {
		return []box{at(c.Col, up, faceColumn), at(c.Col+1, down, faceColumn)}
	}
	switch m.Sort {
	case checks.ShiftGain:
		return words("+ its %", "− its %")
	case checks.ShiftSpan:
		return words("+ error of range", "− error of range")
	case checks.ShiftDatum:
		return words("to its high", "to its low")
	}
	formula, r := "", w.l.Rows[m.Row]
	switch {
	case m.Sort == checks.ShiftBend && m.Step == r.Span:
		formula = w.base(m.Row).In(workSpan).Name()
	case m.Sort == checks.ShiftStep && m.Step == r.Step:
		formula = w.base(m.Row).In(workStep).Name()
	}
	return []box{w.number(c.Col, m.Step, formula), at(c.Col+1, "up | down", faceColumn)}
}

func (w *workBlock) valueHeads() []box {
	heads := []box{at(workName, "worked out", look{}), at(workUnit, "unit", look{}), at(workKind, "", look{}), at(workValue, "value", look{}),
		at(workStandard, "standard uncertainty u", look{}), at(workSpread, "± U (k = 2)", look{}), at(workMost, "no error above", look{})}
	for i := range heads {
		heads[i].look = faceColumn
	}
	return heads
}

// shortened keeps words from the plan to a few lines.
func shortened(text string) string { return cutRunes(unwrapped(text), 400) }

// number is a cell with a value worked out here: an error where there is none.
func (w *workBlock) number(col int, x float64, formula string) box {
	l := faceCell
	l.align, l.flat = "right", true
	if !finite(x) {
		return box{col: col, span: 1, value: noNumber, look: l, formula: formula}
	}
	l.format = decimalsFormat(x, enoughDecimals(x))
	return box{col: col, span: 1, value: x, look: l, formula: formula}
}

// said is text in a cell.
func said(col int, text string) box { return at(col, shortened(text), faceCell) }

// row lays out a row of the ledger with every move of a strip that moves it. In the
// first strip it is worked out, in the others it is named.
func (w *workBlock) row(k, i int, p CheckPage, a AttemptPage) {
	r, row := w.l.Rows[i], w.strips[k].rows[i]
	if row == 0 {
		return
	}
	boxes := []box{across(workName, workSpan, shortened(r.Label), faceCell)}
	if k == 0 {
		boxes = w.plainRow(i)
	}
	if k == 0 && r.Part == checks.PartReading {
		w.b.later = append(w.b.later, func() { w.b.linkReading(w.s, w.base(i), r, p, a) })
	}
	for _, n := range w.shifts(k) {
		m := w.l.Shifts[n]
		if !w.l.Moves(m, r.Expr) {
			continue
		}
		for _, sign := range []float64{1, -1} {
			way := &move{n, sign}
			boxes = append(boxes, w.number(w.at(row, way).Col, w.moved(r.Expr, n, sign), w.formula(i, way)))
		}
	}
	w.put(row, boxes)
}

// plainRow is a row of the ledger without its moves.
func (w *workBlock) plainRow(i int) []box {
	r := w.l.Rows[i]
	kind := map[checks.Part]string{checks.PartReading: "reading", checks.PartDatum: "plan or earlier check", checks.PartStep: "step", checks.PartSolved: byHandback}[r.Part]
	if r.Part == checks.PartReading && r.Meter != "" {
		kind += ", " + r.Meter
	}
	boxes := []box{said(workName, r.Label), said(workUnit, unitWords(r.Unit)), said(workKind, kind), w.number(workValue, r.Value, w.formula(i, nil))}
	switch {
	case r.Part == checks.PartReading:
		boxes = append(boxes, w.errors(r)...)
	case r.IsUncertain:
		boxes = append(boxes, said(workShare, "lies from | to"), w.number(workLow, r.Low, ""), w.number(workHigh, r.High, ""))
	}
	return boxes
}

// moved is a node's value under a move; a reading's stands in its base unit.
func (w *workBlock) moved(e *checks.Expr, n int, sign float64) float64 {
	if e.Part() == checks.PartReading {
		return w.l.MovedReading(e.Key(), n, sign)
	}
	return w.l.Moved(e, n, sign)
}

func (w *workBlock) errors(r checks.Row) []box {
	switch {
	case r.Exact:
		return []box{said(workShare, "a count"), said(workStep, ""), said(workSpan, "")}
	case !r.Known && r.Step == 0:
		return []box{said(workShare, "not stated"), said(workStep, "not stated"), said(workSpan, "not stated")}
	case !r.Known:
		return []box{said(workShare, "not stated"), w.number(workStep, r.Step, ""), said(workSpan, "not stated")}
	}
	return []box{w.number(workShare, r.Share, ""), w.number(workStep, r.Step, ""), w.number(workSpan, r.Span, "")}
}

// cell is where a row stands under a move, or its plain value where the move does
// not touch it.
func (w *workBlock) cell(row int, m *move) string {
	if m == nil || !w.l.Moves(w.l.Shifts[m.shift], w.l.Rows[row].Expr) {
		return w.base(row).Name()
	}
	return w.at(w.strips[m.shift/stripMoves].rows[row], m).Name()
}

// derived lays out a derived value with its uncertainty and, below, how far each move
// of a strip takes it.
func (w *workBlock) derived(k, i int) {
	d, v, row, used := w.d[i], w.l.Values[i], w.strips[k].values[i], w.shiftsOf(k, i)
	if row == 0 {
		return
	}
	same := func(col int) string { return w.value(i).In(col).Name() }
	value, standard, spread, most := same(workValue), same(workStandard), same(workSpread), same(workMost)
	if k == 0 {
		value, spread = w.l.Formula(d.Expr, func(row int) string { return w.cell(row, nil) }), w.spread(i)
		standard, most = w.spreadParts(i)
	}
	kind := "shown"
	if d.Limit != nil {
		kind = "judged, " + d.Rule
	}
	boxes := []box{said(workName, d.Name), said(workUnit, unitWords(d.Unit)), said(workKind, kind), w.number(workValue, d.Value, value)}
	if v.Known {
		boxes = append(boxes, w.number(workStandard, d.Standard, standard), w.number(workSpread, d.U, spread), w.number(workMost, d.Most, most))
	} else {
		boxes = append(boxes, said(workSpread, notKnown))
	}
	for _, n := range used {
		for _, sign := range []float64{1, -1} {
			m := &move{n, sign}
			boxes = append(boxes, w.number(w.at(row, m).Col, w.l.Moved(d.Expr, n, sign), w.l.Formula(d.Expr, func(row int) string { return w.cell(row, m) })))
		}
	}
	w.put(row, boxes)
	if len(used) == 0 {
		return
	}
	far := []box{across(workName, workSpan, "    how far it moves, the larger way", faceCell)}
	for _, n := range used {
		far = append(far, w.number(w.at(row, &move{n, 1}).Col, w.travel(d, n), w.travelFormula(i, n)))
	}
	w.put(row+1, far)
}
