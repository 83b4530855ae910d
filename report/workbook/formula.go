package workbook

import (
	"handback/checks"
	"handback/report/grid"
)

// Every formula below is made of functions of ISO/IEC 29500-1, 18.17.7, which
// OpenFormula has under the same names.

// comparedCells are the cells of a comparison in the row of a derived value; changed
// counts what its value rests on and was changed.
func comparedCells(c grid.Cell, changed string) func(string) string {
	at := map[string]string{checks.CellValue: c.Name(), checks.CellU: c.In(colSpread).Name(), checks.CellLow: c.In(colLow).Name(),
		checks.CellHigh: c.In(colHigh).Name(), checks.CellChanged: changed}
	return func(cell string) string { return at[cell] }
}

func ifThere(limit, test, none string) string {
	return "IF(ISNUMBER(" + limit + ")," + test + "," + none + ")"
}

// chanceFormula is the chance that the value is out, as checks works it out
// (JCGM 106:2012, 7), over its standard uncertainty and the most that any error can
// be, which stand in its working; notKnown where there is none.
func chanceFormula(c, working grid.Cell, notKnown string) string {
	changed := working.In(workChanged).Ref()
	at := comparedCells(c, changed)
	value, u, low, high := at(checks.CellValue), at(checks.CellU), at(checks.CellLow), at(checks.CellHigh)
	standard, most := working.In(workStandard).Ref(), working.In(workMost).Ref()
	shape := "((" + most + "/" + standard + ")^2-1)/2"
	tail := func(d string) string {
		return "IF(" + d + ">=" + most + ",0,IF(" + d + "<=-" + most + ",1,BETADIST((1-(" + d + ")/" + most + ")/2," + shape + "," + shape + ")))"
	}
	out := ifThere(high, tail(high+"-"+value), "0") + "+" + ifThere(low, tail(value+"-"+low), "0")
	return "IF(OR(COUNT(" + value + "," + u + ")<2," + changed + ">0)," + grid.Quoted(notKnown) + ",IF(" + u + "=0,IF(" + checks.Inside(false).Formula(at) + ",0,1),IF(" + out + "<" + leastChanceText + ",0,MIN(1," + out + "))))"
}

// leastChanceText is under what a chance counts as none, see checks.
const leastChanceText = "1E-6"

// verdictCells are the cells of a choice between verdicts.
func verdictCells(verdict, verdicts, changed string) func(string) string {
	at := map[string]string{checks.CellVerdict: verdict, checks.CellVerdicts: verdicts, checks.CellChanged: changed}
	return func(cell string) string { return at[cell] }
}

// plural writes a count with its noun.
func plural(count, one, many string) string {
	return count + "&IF(" + count + "=1," + grid.Quoted(" "+one) + "," + grid.Quoted(" "+many) + ")"
}
