package workbook

import (
	"cmp"
	"slices"
	"strings"

	"handback/checks"
	"handback/checks/calc"
	"handback/checks/quantity"
	"handback/report"
	"handback/report/grid"
)

// Columns of a sheet of workings. What a value rests on takes the first four, a line of
// its budget all.
const (
	workName     = 1
	workUnit     = 2
	workKind     = 3
	workValue    = 4
	workHalf     = 5 // of a value: U
	workShape    = 6
	workStandard = 7 // of a value: u
	workSens     = 8
	workPart     = 9  // of a value: what no error is above
	workGroup    = 10 // of a value: how many of its readings were changed

	workMost, workChanged = workPart, workGroup
)

// workColumns name the columns, of a value and of what it rests on first, then of a line
// of a budget. They head every printed page.
var workColumns = [workGroup]string{
	workName - 1: "reading, datum, step or value; input of the judged value below", workUnit - 1: "unit", workKind - 1: "what it is; instrument and range",
	workValue - 1: "value; estimate", workHalf - 1: "± U (k = 2); half-width ± a", workShape - 1: "distribution", workStandard - 1: "standard u; u(x) = a/√3",
	workSens - 1: "sensitivity |c|", workPart - 1: "contribution |c|·u(x)", workGroup - 1: "group, how it adds",
}

// byHandback marks what no formula works out.
const byHandback = "computed by handback"

// workings lays out how the values of a group's attempts are worked out, attempt
// below attempt: readings, data and steps with their formulas, and above each judged
// value the budget of its uncertainty.
func (b *book) workings(sheetName string, g report.Group) *grid.Sheet {
	if !slices.ContainsFunc(g.Checks, report.CheckPage.WorksOut) {
		return nil
	}
	s := b.Sheet(b.Label("%s working", report.CutRunes(sheetName, 20)))
	s.Landscape, s.Repeat, s.Unprinted = true, 2, true
	s.Widths = []float64{42, 7, 27, 13, 14, 12, 13, 16, 14, 20}
	s.Add(grid.Across(1, workGroup, s.Name, grid.FaceTitle))
	var names []grid.Box
	for i, name := range workColumns {
		names = append(names, grid.At(i+1, name, grid.Look{}))
	}
	s.Columns(names...)
	s.Add(grid.Across(1, workGroup, b.Label("How every value on the sheet %s is worked out, from the cells of its readings, in base units, and what the uncertainty of each judged value is made of "+
		"(JCGM 100:2008, 5 and annex H). A half-width a is that of the instrument's accuracy, rectangular: u(x) = a/√3. The sensitivity |c| is how far the value goes for one unit of the input, moved by a up and down, the larger way. "+
		"Readings of one instrument in one range are a group: their common share of the reading (G) and the error of their range, together (O) or each alone (o), add with that of each one's own digits (s): "+
		"contributions of a group come to h = G + max(O, √Σo²) + √Σs², groups to u = √Σh²; no error is larger than √3·Σ(G + max(O, Σo) + Σs), and U = 2u but no more than that. "+
		"Half-widths and sensitivities are those of the record: U follows them and not the readings, and a value of which a reading was changed does not pass.", sheetName), grid.FaceSmall))
	return s
}

// working is an attempt on a sheet of workings.
type working struct {
	s      *grid.Sheet
	l      *calc.Ledger // nil once the working is linked
	rows   []grid.Cell  // the value of each row of the ledger
	values []grid.Cell  // of each derived value
}

// working lays out an attempt.
func (b *book) working(s *grid.Sheet, p report.CheckPage, a report.AttemptPage) *working {
	w := &working{s: s, l: a.Finding.Ledger(), values: make([]grid.Cell, len(a.Derived))}
	s.Block()
	s.Gap(8)
	s.Add(grid.Across(1, workGroup, b.Label("%s (%s), attempt %d", p.Title, p.ID, a.Number), grid.FaceHead))
	for _, r := range w.l.Rows {
		w.row(r)
	}
	for i, d := range a.Derived {
		if d.Limit == nil {
			w.values[i] = w.shown(d)
		}
	}
	if slices.ContainsFunc(a.Derived, func(d checks.Derived) bool { return d.Limit != nil }) {
		w.budgets(a)
	}
	w.steps(a)
	return w
}

// steps lays out how each value was worked out, in words. A step that several values
// share stands once.
func (w *working) steps(a report.AttemptPage) {
	seen := map[string]bool{}
	w.s.Flow()
	for _, d := range a.Derived {
		for _, words := range d.Working() {
			if !seen[words] {
				seen[words] = true
				w.s.Add(grid.Across(1, workGroup, words, grid.FaceText))
			}
		}
	}
}

// budgets lays out the judged values.
func (w *working) budgets(a report.AttemptPage) {
	w.s.Block()
	w.s.Gap(3)
	first := true
	for i, d := range a.Derived {
		if d.Limit == nil {
			continue
		}
		if !first {
			w.s.Block()
		}
		first, w.values[i] = false, w.judged(d)
	}
}

// shortened keeps words from the plan to a few lines.
func shortened(text string) string { return report.CutRunes(report.OneLine(text), 400) }

// said is text in a cell.
func said(col int, text string) grid.Box { return grid.At(col, shortened(text), grid.FaceCell) }

// notCounted stands for an uncertainty of 0: the value rests on plates, counts or times
// alone, whose errors nobody stated.
const notCounted = "not counted"

// number is a cell with a value worked out here, after a sign that tells what it
// is: an error where there is none.
func (w *working) number(col int, x float64, formula, sign string) grid.Box {
	l := grid.FaceCell
	l.Align, l.Flat = "right", true
	if !quantity.Finite(x) {
		return grid.Box{Col: col, Span: 1, Value: grid.NoNumber, Look: l, Formula: cmp.Or(formula, "NA()")}
	}
	l.Format = grid.DecimalsFormat(x, grid.EnoughDecimals(x))
	if sign != "" {
		l.Format = grid.Quoted(sign+" ") + l.Format
	}
	if strings.HasPrefix(sign, "±") {
		l.Format = grid.OrAtZero(l.Format, w.s.Label(notCounted))
	}
	return grid.Box{Col: col, Span: 1, Value: x, Look: l, Formula: formula}
}

// row lays out a row of the ledger. A reading's formula comes when every reading has
// its place, see linkReadings.
func (w *working) row(r calc.Row) {
	kind, formula := "", ""
	switch r.Part {
	case calc.PartReading:
		kind = report.JoinWords(w.s.Label("reading"), r.Meter)
	case calc.PartDatum:
		kind = w.s.Label("plan or earlier check")
	case calc.PartStep:
		kind, formula = w.s.Label("step"), w.formula(r.Expr.Body())
	case calc.PartSolved:
		kind, formula = w.s.Label(byHandback), w.solved(r.Expr)
	}
	row := w.s.Add(said(workName, r.Label), said(workUnit, report.UnitWords(r.Unit)), said(workKind, kind), w.number(workValue, r.Value, formula, ""))
	w.rows = append(w.rows, grid.Cell{Sheet: w.s.Name, Row: row, Col: workValue})
}

// formula works a computation out over the rows laid out already.
func (w *working) formula(e *calc.Expr) string {
	return w.l.Formula(e, func(row int) string { return w.rows[row].Name() })
}

// solved is a value that handback worked out, which counts only while what it was
// worked out from stands as it was.
func (w *working) solved(e *calc.Expr) string {
	x := w.l.Value(e)
	if !quantity.Finite(x) {
		return "NA()"
	}
	var same []string
	for _, arg := range e.Args() {
		y := w.l.Value(arg)
		if len(w.l.Given(arg)) == 0 || !quantity.Finite(y) {
			continue
		}
		n := calc.FormulaNumber(y)
		same = append(same, "ABS("+w.formula(arg)+"-"+n+")<=1E-9*ABS("+n+")")
	}
	if len(same) == 0 {
		return ""
	}
	return "IF(AND(" + strings.Join(same, ",") + ")," + calc.FormulaNumber(x) + ",NA())"
}

// shown lays out a value that is not judged, with its uncertainty as recorded.
func (w *working) shown(d checks.Derived) grid.Cell {
	row := w.value(d, w.s.Label("shown"))
	if d.Known == calc.KnownNot {
		row = append(row, said(workHalf, w.s.Label(grid.NotKnown)))
	} else {
		row = append(row, w.number(workHalf, d.U, "", "±"), said(workShape, w.s.Label("as recorded")), w.number(workStandard, d.Standard, "", ""))
	}
	return grid.Cell{Sheet: w.s.Name, Row: w.s.Add(row...), Col: workValue}
}

// judged lays out a judged value below the budget of its uncertainty.
func (w *working) judged(d checks.Derived) grid.Cell {
	var standard, most string
	if d.Known != calc.KnownNot {
		standard, most = w.budget(d)
	}
	c, row := grid.Cell{Sheet: w.s.Name, Row: len(w.s.Rows) + 1, Col: workValue}, w.value(d, w.s.Label("judged, %s", d.Rule))
	if d.Known == calc.KnownNot {
		row = append(row, said(workHalf, w.s.Label(grid.NotKnown)))
	} else {
		row = append(row, w.number(workHalf, d.U, spreadFormula(c), "± U"), said(workShape, w.s.Label("2u at most")), w.number(workStandard, d.Standard, standard, "u"),
			said(workSens, w.s.Label("no error above")), w.number(workMost, d.Most, most, ""))
	}
	row = append(row, changedMark(workChanged, w.s.Label("U of the record")))
	for i := range row {
		row[i].Look.Bold, row[i].Look.Fill = true, grid.FaceColumn.Fill
	}
	w.s.Add(row...)
	return c
}

// value is what the rows of all derived values begin with.
func (w *working) value(d checks.Derived, kind string) []grid.Box {
	return []grid.Box{said(workName, d.Name), said(workUnit, report.UnitWords(d.Unit)), said(workKind, kind), w.number(workValue, d.Value, w.formula(d.Expr), "")}
}

// inFormat are words in a number format, which holds 255 signs in all.
func inFormat(words string) string { return grid.Quoted(report.CutRunes(words, 60)) }

// changedMark counts changed readings, and shows no more than the words where there
// are any. Its formula is the caller's.
func changedMark(col int, words string) grid.Box {
	l := grid.FaceCell
	l.Flat, l.Format = true, inFormat(words)+";;"
	return grid.At(col, 0, l)
}
