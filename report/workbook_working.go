package report

import (
	"cmp"
	"slices"
	"strings"

	"handback/checks"
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

// byHandback marks what no formula works out.
const byHandback = "computed by handback"

// workings lays out how the values of a group's attempts are worked out, attempt
// below attempt: readings, data and steps with their formulas, and above each judged
// value the budget of its uncertainty.
func (b *book) workings(sheetName string, g Group) *sheet {
	if !slices.ContainsFunc(g.Checks, CheckPage.worksOut) {
		return nil
	}
	s := b.sheet(cutRunes(sheetName, 23) + " working")
	s.landscape, s.repeat = true, 2
	s.widths = []float64{42, 7, 27, 13, 14, 12, 13, 16, 14, 20}
	s.add(across(1, workGroup, s.name, faceTitle))
	s.add(across(1, workGroup, "How every value on the sheet "+sheetName+" is worked out, from the cells of its readings, in base units, and what the uncertainty of each judged value is made of "+
		"(JCGM 100:2008, 5 and annex H). A half-width a is that of the instrument's accuracy, rectangular: u(x) = a/√3. The sensitivity |c| is how far the value goes for one unit of the input, moved by a up and down, the larger way. "+
		"Readings of one instrument in one range are a group: their common share of the reading (G) and the error of their range, together (O) or each alone (o), add with that of each one's own digits (s): "+
		"contributions of a group come to h = G + max(O, √Σo²) + √Σs², groups to u = √Σh²; no error is larger than √3·Σ(G + max(O, Σo) + Σs), and U = 2u but no more than that. "+
		"Half-widths and sensitivities are those of the record: U follows them and not the readings, and a value of which a reading was changed does not pass.", faceSmall))
	return s
}

// worksOut tells whether any attempt of a check has values to work out.
func (p CheckPage) worksOut() bool { return slices.ContainsFunc(p.Attempts, AttemptPage.worksOut) }

func (a AttemptPage) worksOut() bool { return a.Finding != nil && len(a.Derived) > 0 }

// working is an attempt on a sheet of workings.
type working struct {
	s      *sheet
	l      *checks.Ledger
	rows   []Cell // the value of each row of the ledger
	values []Cell // of each derived value
}

// working lays out an attempt.
func (b *book) working(s *sheet, p CheckPage, a AttemptPage) *working {
	w := &working{s: s, l: a.Finding.Ledger(), values: make([]Cell, len(a.Derived))}
	s.block()
	s.gap(8)
	s.add(across(1, workGroup, p.Title+" ("+p.ID+"), attempt "+itoa(a.Number), faceHead))
	s.columns(at(workName, "reading, datum, step or shown value", look{}), at(workUnit, "unit", look{}), at(workKind, "what it is", look{}), at(workValue, "value", look{}),
		at(workHalf, "± U (k = 2)", look{}), at(workShape, "", look{}), at(workStandard, "standard uncertainty u", look{}))
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
	return w
}

// budgets lays out the judged values.
func (w *working) budgets(a AttemptPage) {
	w.s.block()
	w.s.gap(3)
	w.s.columns(at(workName, "input of the judged value below", look{}), at(workUnit, "unit", look{}), at(workKind, "instrument and range", look{}), at(workValue, "estimate", look{}),
		at(workHalf, "half-width ± a", look{}), at(workShape, "distribution", look{}), at(workStandard, "standard u(x) = a/√3", look{}),
		at(workSens, "sensitivity |c|", look{}), at(workPart, "contribution |c|·u(x)", look{}), at(workGroup, "group, how it adds", look{}))
	first := true
	for i, d := range a.Derived {
		if d.Limit == nil {
			continue
		}
		if !first {
			w.s.block()
		}
		first, w.values[i] = false, w.judged(d)
	}
}

// shortened keeps words from the plan to a few lines.
func shortened(text string) string { return cutRunes(unwrapped(text), 400) }

// said is text in a cell.
func said(col int, text string) box { return at(col, shortened(text), faceCell) }

// workNumber is a cell with a value worked out here, after a sign that tells what it
// is: an error where there is none.
func workNumber(col int, x float64, formula, sign string) box {
	l := faceCell
	l.align, l.flat = "right", true
	if !finite(x) {
		return box{col: col, span: 1, value: noNumber, look: l, formula: cmp.Or(formula, "NA()")}
	}
	l.format = decimalsFormat(x, enoughDecimals(x))
	if sign != "" {
		l.format = quoted(sign+" ") + l.format
	}
	return box{col: col, span: 1, value: x, look: l, formula: formula}
}

// row lays out a row of the ledger. A reading's formula comes when every reading has
// its place, see linkReadings.
func (w *working) row(r checks.Row) {
	kind, formula := "", ""
	switch r.Part {
	case checks.PartReading:
		kind = joinWords("reading", r.Meter)
	case checks.PartDatum:
		kind = "plan or earlier check"
	case checks.PartStep:
		kind, formula = "step", w.formula(r.Expr.Body())
	case checks.PartSolved:
		kind, formula = byHandback, w.solved(r.Expr)
	}
	row := w.s.add(said(workName, r.Label), said(workUnit, unitWords(r.Unit)), said(workKind, kind), workNumber(workValue, r.Value, formula, ""))
	w.rows = append(w.rows, Cell{w.s.name, row, workValue})
}

// formula works a computation out over the rows laid out already.
func (w *working) formula(e *checks.Expr) string {
	return w.l.Formula(e, func(row int) string { return w.rows[row].Name() })
}

// solved is a value that handback worked out, which counts only while what it was
// worked out from stands as it was.
func (w *working) solved(e *checks.Expr) string {
	x := w.l.Value(e)
	if !finite(x) {
		return "NA()"
	}
	var same []string
	for _, arg := range e.Args() {
		y := w.l.Value(arg)
		if len(w.l.Given(arg)) == 0 || !finite(y) {
			continue
		}
		n := checks.FormulaNumber(y)
		same = append(same, "ABS("+w.formula(arg)+"-"+n+")<=1E-9*ABS("+n+")")
	}
	if len(same) == 0 {
		return ""
	}
	return "IF(AND(" + strings.Join(same, ",") + ")," + checks.FormulaNumber(x) + ",NA())"
}

// shown lays out a value that is not judged, with its uncertainty as recorded.
func (w *working) shown(d checks.Derived) Cell {
	row := w.value(d, "shown")
	if d.Known == checks.KnownNot {
		row = append(row, said(workHalf, notKnown))
	} else {
		row = append(row, workNumber(workHalf, d.U, "", "±"), said(workShape, "as recorded"), workNumber(workStandard, d.Standard, "", ""))
	}
	return Cell{w.s.name, w.s.add(row...), workValue}
}

// judged lays out a judged value below the budget of its uncertainty.
func (w *working) judged(d checks.Derived) Cell {
	var standard, most string
	if d.Known != checks.KnownNot {
		standard, most = w.budget(d)
	}
	c, row := Cell{w.s.name, len(w.s.rows) + 1, workValue}, w.value(d, "judged, "+d.Rule)
	if d.Known == checks.KnownNot {
		row = append(row, said(workHalf, notKnown))
	} else {
		row = append(row, workNumber(workHalf, d.U, spreadFormula(c), "± U"), said(workShape, "2u at most"), workNumber(workStandard, d.Standard, standard, "u"),
			said(workSens, "no error above"), workNumber(workMost, d.Most, most, ""))
	}
	row = append(row, changedMark(workChanged, "U of the record"))
	for i := range row {
		row[i].look.bold, row[i].look.fill = true, faceColumn.fill
	}
	w.s.add(row...)
	return c
}

// value is what the rows of all derived values begin with.
func (w *working) value(d checks.Derived, kind string) []box {
	return []box{said(workName, d.Name), said(workUnit, unitWords(d.Unit)), said(workKind, kind), workNumber(workValue, d.Value, w.formula(d.Expr), "")}
}

// changedMark counts changed readings, and shows no more than the words where there
// are any. Its formula is the caller's.
func changedMark(col int, words string) box {
	l := faceCell
	l.flat, l.format = true, quoted(words)+";;"
	return at(col, 0, l)
}
