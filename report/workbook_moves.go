package report

import (
	"math"
	"strings"

	"handback/checks"
)

// formula works out a row of the ledger, "" for one that is given.
func (w *workBlock) formula(i int, m *move) string {
	r := w.l.Rows[i]
	over := func(row int) string { return w.cell(row, m) }
	switch r.Part {
	case checks.PartReading, checks.PartDatum:
		if m == nil {
			return ""
		}
		return w.movedGiven(i, m)
	case checks.PartStep:
		return w.l.Formula(r.Expr.Body(), over)
	case checks.PartSolved:
		return w.solved(r.Expr, m, over)
	}
	return ""
}

// movedGiven is a reading moved by its error, or a datum moved to where it may lie.
func (w *workBlock) movedGiven(i int, m *move) string {
	c, sign, end := w.base(i), "+", workHigh
	if m.sign < 0 {
		sign, end = "-", workLow
	}
	switch w.l.Shifts[m.shift].Sort {
	case checks.ShiftGain:
		return c.Name() + "*(1" + sign + c.In(workShare).Name() + "/100)"
	case checks.ShiftSpan:
		return c.Name() + sign + c.In(workSpan).Name()
	case checks.ShiftDatum:
		return c.In(end).Name()
	}
	return c.Name() + sign + w.by[m.shift].Name()
}

// solved is a value that handback worked out, which counts only while what it was
// worked out from stands as it was.
func (w *workBlock) solved(e *checks.Expr, m *move, over func(row int) string) string {
	value := func(e *checks.Expr) float64 {
		if m == nil {
			return w.l.Value(e)
		}
		return w.l.Moved(e, m.shift, m.sign)
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

// travel is how far a shift takes a value: the larger of up and down, or the one
// there is.
func (w *workBlock) travel(d checks.Derived, n int) float64 {
	up, down := math.Abs(d.Value-w.l.Moved(d.Expr, n, 1)), math.Abs(d.Value-w.l.Moved(d.Expr, n, -1))
	if math.IsNaN(up) || down > up {
		return down
	}
	return up
}

// travelCell is where travel stands, below the value it is of.
func (w *workBlock) travelCell(i, n int) Cell {
	return w.at(w.strips[n/stripMoves].values[i]+1, &move{n, 1})
}

func (w *workBlock) travelFormula(i, n int) string {
	c, row := w.value(i).Name(), w.strips[n/stripMoves].values[i]
	up, down := "ABS("+c+"-"+w.at(row, &move{n, 1}).Name()+")", "ABS("+c+"-"+w.at(row, &move{n, -1}).Name()+")"
	return "IFERROR(MAX(" + up + "," + down + "),IFERROR(" + up + "," + down + "))"
}

// noiseText is the part of a value under which an uncertainty is none, see
// checks.Spread.
const noiseText = "1E-10"

// spread is the formula of a value's uncertainty U, over u and the most beside it.
func (w *workBlock) spread(i int) string {
	v, c := w.l.Values[i], w.value(i)
	if !v.Known {
		return ""
	}
	if w.exact(i) {
		return "0"
	}
	most := "MIN(2*" + c.In(workStandard).Name() + "," + c.In(workMost).Name() + ")"
	return "IF(" + most + "<=" + noiseText + "*ABS(" + c.Name() + "),0," + most + ")"
}

// exact tells whether nothing that a value rests on has an error.
func (w *workBlock) exact(i int) bool {
	v := w.l.Values[i]
	if v.Alone >= 0 {
		return w.l.Rows[v.Alone].Exact
	}
	return len(v.Parts) == 0
}

// spreadParts are the formulas of a value's standard uncertainty and of the most that
// any error can be.
func (w *workBlock) spreadParts(i int) (standard, most string) {
	v, c := w.l.Values[i], w.value(i)
	switch {
	case !v.Known:
		return "", ""
	case w.exact(i):
		return "0", "0"
	case v.Alone >= 0:
		return c.In(workMost).Name() + "/SQRT(3)", w.halfAlone(i)
	}
	var squares, sums []string
	for _, p := range v.Parts {
		half, all := w.halfWidth(i, p)
		squares, sums = append(squares, "("+half+")^2"), append(sums, all)
	}
	return "SQRT((" + strings.Join(squares, "+") + ")/3)", strings.Join(sums, "+")
}

// halfAlone is the half-width of the one reading that a value is.
func (w *workBlock) halfAlone(i int) string {
	row := w.l.Values[i].Alone
	c := w.base(row)
	half := c.In(workStep).Name()
	if w.l.Rows[row].Known {
		half = "(ABS(" + c.Name() + ")*" + c.In(workShare).Name() + "/100+" + c.In(workSpan).Name() + "+" + half + ")"
	}
	if told := w.l.Values[i].Told(w.d[i]); told != "" {
		half = checks.StretchFormula(half, told)
	}
	return half
}

// halfWidth is how far a group takes a value, and how far at the very most.
func (w *workBlock) halfWidth(i int, p checks.LedgerPart) (half, most string) {
	cells := func(shifts []int) string {
		var out []string
		for _, n := range shifts {
			out = append(out, w.travelCell(i, n).Name())
		}
		return strings.Join(out, ",")
	}
	var halves, sums []string
	add := func(half, most string) { halves, sums = append(halves, half), append(sums, most) }
	if p.Gain >= 0 {
		c := w.travelCell(i, p.Gain).Name()
		add(c, c)
	}
	if p.Span >= 0 {
		c := w.travelCell(i, p.Span).Name()
		if len(p.Bends) == 0 {
			add(c, c)
		} else {
			add("MAX("+c+",SQRT(SUMSQ("+cells(p.Bends)+")))", "MAX("+c+",SUM("+cells(p.Bends)+"))")
		}
	}
	if len(p.Steps) > 0 {
		add("SQRT(SUMSQ("+cells(p.Steps)+"))", "SUM("+cells(p.Steps)+")")
	}
	return strings.Join(halves, "+"), strings.Join(sums, "+")
}
