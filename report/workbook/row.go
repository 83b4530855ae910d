package workbook

import (
	"strings"

	"handback/checks"
	"handback/checks/calc"
	"handback/checks/quantity"
	"handback/report"
	"handback/report/grid"
)

// judged are uncertainty, limits and verdict of a value.
func (t *table) judged(d *checks.Derived) []grid.Box {
	spread := right(tight(grid.Number(colSpread, d.U, grid.SpreadDecimals(d.U), t.s.Label(grid.NotKnown))))
	switch {
	case !quantity.Finite(d.U):
	case d.Known == calc.KnownPart:
		spread.Look.Format = grid.OrAtZero(`"≥ "`+spread.Look.Format, t.s.Label(grid.NotKnown))
	default:
		spread.Look.Format = grid.OrAtZero(spread.Look.Format, t.s.Label(notCounted))
	}
	if d.Limit == nil {
		quiet := faceTight
		quiet.Align = "center"
		return []grid.Box{spread, grid.At(colLow, nil, faceTight), grid.At(colHigh, nil, faceTight), grid.At(colVerdict, t.s.Label("shown"), quiet)}
	}
	return []grid.Box{spread, right(tight(grid.Number(colLow, d.Limit.Low, grid.EnoughDecimals(d.Limit.Low), t.s.Label("none")))), right(tight(grid.Number(colHigh, d.Limit.High, grid.EnoughDecimals(d.Limit.High), t.s.Label("none")))),
		tight(grid.Verdict(colVerdict, colVerdict, d.Verdict)).As(grid.Named("judged", t.p.ID, t.a.Number, d.Key))}
}

// decimalsOf are those of a value's uncertainty where it has one.
func decimalsOf(d *checks.Derived) int {
	if d.U > 0 && quantity.Finite(d.U) {
		return grid.SpreadDecimals(d.U)
	}
	if d.Limit != nil {
		return quantity.Decimals(d.Value, d.Limit.Low, d.Limit.High)
	}
	return quantity.Decimals(d.Value)
}

// chance is the chance that a judged value is out.
func (t *table) chance(d *checks.Derived) []grid.Box {
	if d.Limit == nil {
		return nil
	}
	chance := grid.Number(colChance, d.ChanceOut, 1, t.s.Label(grid.NotKnown))
	if quantity.Finite(d.ChanceOut) {
		chance.Look.Format = "[<0.001]" + inFormat(t.s.Label("below 0.1 %")) + ";0.0%"
	}
	return []grid.Box{chance}
}

// workOut puts formulas into the row of a derived value, whose working stands at
// another cell.
func workOut(s *grid.Sheet, c grid.Cell, d checks.Derived, working grid.Cell) {
	s.Later(c, "IFERROR("+working.Ref()+","+grid.Quoted(grid.NoOutcome)+")", "")
	s.Later(c.In(colSpread), "IFERROR("+working.In(workHalf).Ref()+","+grid.Quoted(s.Label(grid.NotKnown))+")", "")
	if d.Limit == nil {
		return
	}
	s.Later(c.In(colVerdict), checks.Comparison(d.Guarded(), d.Bound).Formula(comparedCells(c, working.In(workChanged).Ref())), "")
	if d.Bound == "" && d.Known == calc.KnownWhole { // how far beyond a bound the value lies is not known
		s.Later(c.In(colChance), chanceFormula(c, working, s.Label(grid.NotKnown)), "")
	}
}

// readingValue shows the decimals that were typed. A count has no unit and no decimals;
// a bound carries its sign in the number format, so that the cell
// stays a number.
func readingValue(r report.AnswerLine) grid.Box {
	n := 0
	if r.Unit != "" {
		n = report.TypedDecimals(r.Typed)
		if strings.Trim(r.Typed, "+-−.,0123456789") != "" { // with a unit, perhaps another one
			n = quantity.Decimals(r.Value)
		}
	}
	v := grid.Number(colValue, r.Value, n, "not a number")
	if r.Bound != "" && quantity.Finite(r.Value) {
		v.Look.Format = `"` + r.Bound + ` "` + v.Look.Format
	}
	return v
}

// expected are low and high of what a reading should be, in its own unit.
func expected(r report.AnswerLine) []grid.Box {
	if r.Expect == nil {
		return nil
	}
	low, high := r.Expect.Low, r.Expect.High
	if r.Unit != "" {
		low, high = quantity.FromBase(low, r.Unit), quantity.FromBase(high, r.Unit)
	}
	return []grid.Box{grid.Number(colLow, low, quantity.Decimals(low), ""), grid.Number(colHigh, high, quantity.Decimals(high), "")}
}

// accepts is what the cell of an answer takes.
func (t *table) accepts(r report.AnswerLine) grid.Accepts {
	switch {
	case r.Number:
		return grid.Accepts{Number: true, Refusal: t.s.Label("a number in the unit beside it")}
	case len(r.Options) > 0:
		return grid.Accepts{Words: r.Options, Refusal: t.s.Label("one of the words of the list")}
	}
	return grid.Accepts{}
}
