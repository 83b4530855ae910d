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
	c, sign := w.base(i), "+"
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

// spread is the formula of a value's uncertainty.
func (w *workBlock) spread(i int) string {
	v, d := w.l.Values[i], w.d[i]
	switch {
	case !v.Known:
		return ""
	case v.Alone >= 0:
		c := w.base(v.Alone)
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
	var parts []string
	for _, p := range v.Parts {
		var terms, steps []string
		if p.Gain >= 0 {
			terms = append(terms, w.travelCell(i, p.Gain).Name())
		}
		for _, s := range p.Steps {
			steps = append(steps, w.travelCell(i, s).Name())
		}
		if len(steps) > 0 {
			terms = append(terms, "SQRT(SUMSQ("+strings.Join(steps, ",")+"))")
		}
		parts = append(parts, "("+strings.Join(terms, "+")+")^2")
	}
	return "2*SQRT((" + strings.Join(parts, "+") + ")/3)"
}
