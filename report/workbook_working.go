package report

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"handback/checks"
)

// Columns of a sheet of workings; the moves stand to the right, two columns each.
const (
	workName   = 1
	workUnit   = 2
	workKind   = 3
	workValue  = 4
	workShare  = 5
	workStep   = 6
	workMoves  = 7
	workSpread = workStep // of a derived value
)

// byHandback marks what no formula works out.
const byHandback = "computed by handback"

// moveWidth is that of a column of moves.
const moveWidth = 12

// workings lays out how the values of a group's attempts are worked out, attempt
// below attempt: readings, data and steps with their formulas, and beside each value
// what it comes to when the readings are moved by their errors, which its
// uncertainty is made of.
func (b *book) workings(sheetName string, g Group) *sheet {
	if !slices.ContainsFunc(g.Checks, CheckPage.worksOut) {
		return nil
	}
	s := b.sheet(cutRunes(sheetName, 23) + " working")
	s.landscape, s.repeat, s.repeatCol = true, 2, workValue
	s.widths = []float64{46, 8, 24, 14, 12, 13}
	s.add(across(1, workStep, s.name, faceTitle))
	s.add(across(1, workStep, "How every value on the sheet "+sheetName+" is worked out, from the cells of its readings. Values stand in base units. "+
		"To the right: the same with readings moved up and down by their errors, all readings of one instrument together by their share of the reading, "+
		"and each alone by the error of its own digits and range. U = 2·√(Σ(G + √Σs²)²/3), G and s the larger way each move takes the value (JCGM 100:2008). "+
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
	rows   []Cell // of the ledger's rows: the value's cell
	values []Cell // of the derived values
	by     []Cell // of single moves: the cell of the amount
}

// workBlock lays out an attempt and gives the cells of its derived values.
func (b *book) workBlock(s *sheet, p CheckPage, a AttemptPage) []Cell {
	w := &workBlock{b: b, s: s, l: a.Finding.Ledger(), d: a.Finding.Derived}
	for len(s.widths) < workMoves-1+2*len(w.l.Shifts) {
		s.widths = append(s.widths, moveWidth)
	}
	s.pages = (len(s.widths)-workStep)/12 + 1
	s.block()
	s.gap(8)
	s.add(across(1, workStep, p.Title+" ("+p.ID+"), attempt "+itoa(a.Number), faceHead))
	w.place()
	w.heads()
	for i := range w.l.Rows {
		w.row(i, p, a)
	}
	s.columns(at(workName, "worked out", look{}), at(workUnit, "unit", look{}), at(workKind, "", look{}), at(workValue, "value", look{}),
		at(workShare, "", look{}), at(workSpread, "± U (k = 2)", look{}))
	for i := range w.d {
		w.derived(i)
	}
	return w.values
}

// place gives every row its cell beforehand, so that formulas may name any of them.
func (w *workBlock) place() {
	row := len(w.s.rows) + 2
	for i := range w.l.Shifts {
		w.by = append(w.by, Cell{w.s.name, row, workMoves + 2*i})
	}
	for range w.l.Rows {
		row++
		w.rows = append(w.rows, Cell{w.s.name, row, workValue})
	}
	row++ // the heads of the derived values
	for i := range w.d {
		row++
		w.values = append(w.values, Cell{w.s.name, row, workValue})
		if len(w.l.Values[i].Parts) > 0 {
			row++
		}
	}
}

// put lays out a row where place has put it.
func (w *workBlock) put(at Cell, boxes []box) {
	if got := w.s.add(boxes...); got != at.Row || len(w.s.rows) != at.Row {
		panic(fmt.Sprintf("report: working of %s stands in row %d, not in %d", w.s.name, got, at.Row))
	}
}

// heads name the columns, and below them the amount of every single move.
func (w *workBlock) heads() {
	names := []box{at(workName, "reading, datum or step", look{}), at(workUnit, "unit", look{}), at(workKind, "what it is", look{}), at(workValue, "value", look{}),
		at(workShare, "error, % of reading", look{}), at(workStep, "error by itself", look{})}
	amounts := []box{across(workName, workStep, "moved by, up and down", faceColumn)}
	for i, m := range w.l.Shifts {
		col := workMoves + 2*i
		if m.Row < 0 {
			names = append(names, across(col, col+1, shortened(m.Meter+", "+m.Of)+", all together", look{}))
			amounts = append(amounts, at(col, "+ its %", faceColumn), at(col+1, "− its %", faceColumn))
			continue
		}
		names = append(names, across(col, col+1, shortened(w.l.Rows[m.Row].Label)+" alone", look{}))
		formula := ""
		if m.Step == w.l.Rows[m.Row].Step {
			formula = w.rows[m.Row].In(workStep).Name()
		}
		amounts = append(amounts, w.number(col, m.Step, formula), at(col+1, "up | down", faceColumn))
	}
	w.s.columns(names...)
	w.s.add(amounts...)
}

// shortened keeps words from the plan to a few lines.
func shortened(text string) string { return cutRunes(unwrapped(text), 400) }

// number is a cell with a value worked out here: an error where there is none.
func (w *workBlock) number(col int, x float64, formula string) box {
	l := faceCell
	l.align, l.flat = "right", true
	if !finite(x) {
		return box{col, 1, noNumber, l, formula}
	}
	l.format = decimalsFormat(x, enoughDecimals(x))
	return box{col, 1, x, l, formula}
}

// said is text in a cell.
func said(col int, text string) box { return at(col, shortened(text), faceCell) }

// row lays out a row of the ledger with every move that moves it.
func (w *workBlock) row(i int, p CheckPage, a AttemptPage) {
	r := w.l.Rows[i]
	kind := map[checks.Part]string{checks.PartReading: "reading", checks.PartDatum: "plan or earlier check", checks.PartStep: "step", checks.PartSolved: byHandback}[r.Part]
	if r.Part == checks.PartReading && r.Meter != "" {
		kind += ", " + r.Meter
	}
	boxes := []box{said(workName, r.Label), said(workUnit, unitWords(r.Unit)), said(workKind, kind)}
	boxes = append(boxes, w.number(workValue, r.Value, w.formula(i, nil)))
	if r.Part == checks.PartReading {
		boxes = append(boxes, w.errors(r)...)
		w.b.later = append(w.b.later, func() { w.b.linkReading(w.s, w.rows[i], r, p, a) })
	}
	for n, m := range w.l.Shifts {
		if !w.l.Moves(m, r.Expr) {
			continue
		}
		for k, sign := range []float64{1, -1} {
			boxes = append(boxes, w.number(workMoves+2*n+k, w.moved(r.Expr, m, sign), w.formula(i, &move{n, sign})))
		}
	}
	w.put(w.rows[i], boxes)
}

// moved is a node's value under a move; a reading's stands in its base unit.
func (w *workBlock) moved(e *checks.Expr, m checks.Shift, sign float64) float64 {
	if e.Part() == checks.PartReading {
		return w.l.MovedReading(e.Key(), m, sign)
	}
	return w.l.Moved(e, m, sign)
}

func (w *workBlock) errors(r checks.Row) []box {
	switch {
	case r.Exact:
		return []box{said(workShare, "a count"), said(workStep, "")}
	case !r.Known:
		return []box{said(workShare, "not stated"), said(workStep, "not stated")}
	}
	return []box{w.number(workShare, r.Share, ""), w.number(workStep, r.Step, "")}
}

// move is one way of a shift.
type move struct {
	shift int
	sign  float64
}

// cell is where a row stands under a move, or its plain value where the move does
// not touch it.
func (w *workBlock) cell(row int, m *move) string {
	c := w.rows[row]
	if m == nil || !w.l.Moves(w.l.Shifts[m.shift], w.l.Rows[row].Expr) {
		return c.Name()
	}
	return c.In(m.column()).Name()
}

func (m *move) column() int {
	if m.sign < 0 {
		return workMoves + 2*m.shift + 1
	}
	return workMoves + 2*m.shift
}

// formula works out a row of the ledger, "" for one that is given.
func (w *workBlock) formula(i int, m *move) string {
	r := w.l.Rows[i]
	over := func(row int) string { return w.cell(row, m) }
	switch r.Part {
	case checks.PartReading:
		if m == nil {
			return ""
		}
		return w.movedReading(i, m)
	case checks.PartStep:
		return w.l.Formula(r.Expr.Body(), over)
	case checks.PartSolved:
		return w.solved(r.Expr, m, over)
	}
	return ""
}

// movedReading is a reading moved by its error.
func (w *workBlock) movedReading(i int, m *move) string {
	c, sign := w.rows[i], "+"
	if m.sign < 0 {
		sign = "-"
	}
	if w.l.Shifts[m.shift].Row < 0 {
		return c.Name() + "*(1" + sign + c.In(workShare).Name() + "/100)"
	}
	by := w.by[m.shift]
	return c.Name() + sign + by.Name()
}

// solved is a value that handback worked out, which counts only while what it was
// worked out from stands as it was.
func (w *workBlock) solved(e *checks.Expr, m *move, over func(row int) string) string {
	value := func(e *checks.Expr) float64 {
		if m == nil {
			return w.l.Value(e)
		}
		return w.l.Moved(e, w.l.Shifts[m.shift], m.sign)
	}
	x := value(e)
	if !finite(x) {
		return "NA()"
	}
	var same []string
	for _, arg := range e.Args() {
		y := value(arg)
		if len(w.l.Reads(arg)) == 0 || !finite(y) {
			continue
		}
		n := checks.FormulaNumber(y)
		same = append(same, "ABS("+w.l.Formula(arg, over)+"-"+n+")<=1E-9*ABS("+n+")")
	}
	if len(same) == 0 {
		return ""
	}
	return "IF(AND(" + strings.Join(same, ",") + ")," + checks.FormulaNumber(x) + ",NA())"
}

// derived lays out a derived value with its uncertainty and, below, how far each move
// takes it.
func (w *workBlock) derived(i int) {
	d, v := w.d[i], w.l.Values[i]
	formula := w.l.Formula(d.Expr, func(row int) string { return w.cell(row, nil) })
	boxes := []box{said(workName, d.Name), said(workUnit, unitWords(d.Unit)), said(workKind, "shown"), w.number(workValue, d.Value, formula)}
	if d.Limit != nil {
		boxes[2] = said(workKind, "judged")
	}
	spread := w.number(workSpread, d.U, w.spread(i))
	if !v.Known {
		spread = said(workSpread, notKnown)
	}
	boxes = append(boxes, spread)
	used := w.shiftsOf(v)
	for _, n := range used {
		for _, sign := range []float64{1, -1} {
			m := &move{n, sign}
			boxes = append(boxes, w.number(m.column(), w.l.Moved(d.Expr, w.l.Shifts[n], sign), w.l.Formula(d.Expr, func(row int) string { return w.cell(row, m) })))
		}
	}
	w.put(w.values[i], boxes)
	if len(v.Parts) == 0 {
		return
	}
	moves := []box{said(workName, "    how far it moves"), said(workUnit, unitWords(d.Unit)), said(workKind, "the larger way")}
	for _, n := range used {
		moves = append(moves, w.number(workMoves+2*n, w.travel(d, n), w.travelFormula(w.values[i], n)))
	}
	w.s.add(moves...)
}

// shiftsOf lists the shifts of a value once each.
func (w *workBlock) shiftsOf(v checks.LedgerValue) []int {
	var out []int
	for _, p := range v.Parts {
		if p.Gain >= 0 {
			out = append(out, p.Gain)
		}
		out = append(out, p.Steps...)
	}
	return out
}

// travel is how far a shift takes a value: the larger of up and down, or the one
// there is.
func (w *workBlock) travel(d checks.Derived, n int) float64 {
	s := w.l.Shifts[n]
	up, down := math.Abs(d.Value-w.l.Moved(d.Expr, s, 1)), math.Abs(d.Value-w.l.Moved(d.Expr, s, -1))
	if math.IsNaN(up) || down > up {
		return down
	}
	return up
}

func (w *workBlock) travelFormula(c Cell, n int) string {
	up, down := c.In(workMoves+2*n).Name(), c.In(workMoves+2*n+1).Name()
	up, down = "ABS("+c.Name()+"-"+up+")", "ABS("+c.Name()+"-"+down+")"
	return "IFERROR(MAX(" + up + "," + down + "),IFERROR(" + up + "," + down + "))"
}

// spread is the formula of a value's uncertainty.
func (w *workBlock) spread(i int) string {
	v, d := w.l.Values[i], w.d[i]
	switch {
	case !v.Known:
		return ""
	case v.Alone >= 0:
		c := w.rows[v.Alone]
		half := "(ABS(" + c.Name() + ")*" + c.In(workShare).Name() + "/100+" + c.In(workStep).Name() + ")"
		if w.l.Rows[v.Alone].Exact {
			return "0"
		}
		if told := v.Told(d); told != "" {
			half = checks.StretchFormula(half, told)
		}
		return "2*" + half + "/SQRT(3)"
	case len(v.Parts) == 0:
		return "0"
	}
	below := Cell{w.s.name, w.values[i].Row + 1, 0}
	var parts []string
	for _, p := range v.Parts {
		var terms, steps []string
		if p.Gain >= 0 {
			terms = append(terms, below.In(workMoves+2*p.Gain).Name())
		}
		for _, s := range p.Steps {
			steps = append(steps, below.In(workMoves+2*s).Name())
		}
		if len(steps) > 0 {
			terms = append(terms, "SQRT(SUMSQ("+strings.Join(steps, ",")+"))")
		}
		parts = append(parts, "("+strings.Join(terms, "+")+")^2")
	}
	return "2*SQRT((" + strings.Join(parts, "+") + ")/3)"
}
