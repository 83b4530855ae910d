package workbook

import (
	"math"
	"strconv"
	"strings"

	"handback/checks"
	"handback/checks/calc"
	"handback/checks/quantity"
	"handback/report"
	"handback/report/grid"
)

// noiseText is the part of a value under which an uncertainty is none, see
// Budget.Spread of checks.
const noiseText = "1E-10"

// roundingPart is the part of a value under which a contribution is the rounding of the
// computer and counts as 0, such as that of a common error which cancels.
const roundingPart = 1e-12

// spreadFormula is a value's uncertainty U, over u and the most beside it.
func spreadFormula(value grid.Cell) string {
	most := "MIN(2*" + value.In(workStandard).Name() + "," + value.In(workMost).Name() + ")"
	return "IF(" + most + "<=" + noiseText + "*ABS(" + value.Name() + "),0," + most + ")"
}

// budget lays out what a value's uncertainty is made of, and gives the formulas of
// its standard uncertainty and of the most that any error can be.
func (w *working) budget(d checks.Derived) (standard, most string) {
	b, rounding := d.Budget, roundingPart*math.Abs(d.Value)
	var squares, sums []string
	for i, g := range b.Groups {
		half, all := w.errorGroup(strconv.Itoa(i+1), g, rounding)
		squares, sums = append(squares, "("+half+")^2"), append(sums, all)
	}
	for _, label := range b.Unstated {
		w.s.Add(said(workName, label), said(workUnit, ""), grid.Across(workKind, workGroup, w.s.Label("its accuracy is not stated: it is not in the sum"), grid.FaceCell))
	}
	if len(b.Groups) == 0 {
		return "0", "0"
	}
	return "SQRT(" + strings.Join(squares, "+") + ")", "SQRT(3)*(" + strings.Join(sums, "+") + ")"
}

// addsAs are the letters of the sorts of errors.
var addsAs = map[calc.ErrorSort]string{calc.GainError: "G", calc.RangeError: "O", calc.BendError: "o", calc.DigitError: "s", calc.DatumError: "s"}

// errorGroup lays out the contributions of a group, and gives over their cells what
// the group comes to, see calc.Budget.
func (w *working) errorGroup(number string, g calc.ErrorGroup, rounding float64) (half, most string) {
	cells := map[string][]string{}
	for _, c := range g.Contributions {
		letter := addsAs[c.Sort]
		cells[letter] = append(cells[letter], w.contribution(number+" "+letter, g, c, rounding).Name())
	}
	list := func(letter string) string { return strings.Join(cells[letter], ",") }
	var halves, sums []string
	add := func(half, most string) { halves, sums = append(halves, half), append(sums, most) }
	if gain := list("G"); gain != "" {
		add(gain, gain)
	}
	switch together, alone := list("O"), list("o"); {
	case alone != "":
		add("MAX("+together+",SQRT(SUMSQ("+alone+")))", "MAX("+together+",SUM("+alone+"))")
	case together != "":
		add(together, together)
	}
	if steps := list("s"); steps != "" {
		add("SQRT(SUMSQ("+steps+"))", "SUM("+steps+")")
	}
	return strings.Join(halves, "+"), strings.Join(sums, "+")
}

// contribution lays out a line of a budget and gives the cell of what it contributes.
func (w *working) contribution(adds string, g calc.ErrorGroup, c calc.Contribution, rounding float64) grid.Cell {
	row := grid.Cell{Sheet: w.s.Name, Row: len(w.s.Rows) + 1, Col: workPart}
	half, standard, sens := row.In(workHalf).Name(), row.In(workStandard).Name(), row.In(workSens).Name()
	sensitivity, share := c.Sensitivity(), c.Share()
	if c.Change <= rounding {
		sensitivity, share = 0, 0
	}
	shares := []grid.Box{w.number(workSens, sensitivity, "", ""), w.number(workPart, share, sens+"*"+standard, "")}
	w.s.Add(append(shares, said(workName, w.errorWords(c)), said(workUnit, report.UnitWords(c.Unit)), said(workKind, w.groupWords(g)), w.number(workValue, c.Estimate, "", ""),
		w.number(workHalf, c.Half, "", "±"), said(workShape, w.s.Label("rectangular")), w.number(workStandard, c.StandardError(), half+"/SQRT(3)", ""), said(workGroup, adds))...)
	return row
}

// errorWords name the input of a contribution.
func (w *working) errorWords(c calc.Contribution) string {
	switch c.Sort {
	case calc.GainError:
		return w.s.Label("share of the reading, common")
	case calc.RangeError:
		return w.s.Label("error of the range, together")
	case calc.BendError:
		return w.s.Label("%s, error of the range alone", c.Label)
	case calc.DigitError:
		return w.s.Label("%s, digits", c.Label)
	}
	return c.Label
}

// groupWords name the instrument and range of a group.
func (w *working) groupWords(g calc.ErrorGroup) string {
	if g.Of == "" {
		return w.s.Label("plan or earlier check")
	}
	return w.s.Label("%s, %s to %s", g.Meter, g.Of, quantity.Neat(g.Top, quantity.BaseUnit(g.Of)))
}
