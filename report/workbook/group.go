package workbook

import (
	"fmt"
	"slices"
	"strings"

	"handback/checks"
	"handback/checks/calc"
	"handback/checks/quantity"
	"handback/report"
	"handback/report/grid"
)

// group lays out one sheet with all checks of a group, numbered on from first, and
// gives the number of the next.
func (b *book) group(s, working *grid.Sheet, g report.Group, first int) int {
	s.Landscape, s.Repeat = true, 2
	s.Widths = []float64{31, 13, 12, 7, 11, 11, 21, 14, 7, 8, 21}
	s.Add(grid.Across(1, colSource, g.Name, grid.FaceTitle), grid.Across(colMeter, colRemark, "job "+b.doc.Job, grid.Look{Size: 10, Bold: true, Align: "right"}))
	s.Add(grid.Across(1, colRemark, b.doc.Title+". Rule: "+b.doc.Rule, grid.FaceSmall))
	for i, p := range g.Checks {
		s.Block()
		s.Gap(8)
		b.check(s, working, p, first+i)
	}
	return first + len(g.Checks)
}

func (b *book) check(s, working *grid.Sheet, p report.CheckPage, n int) {
	row := s.Add(grid.Across(1, colSource, fmt.Sprintf("%d   %s", n, p.Title), grid.FaceHead), grid.Verdict(colMeter, colRemark, p.Verdict).As(grid.Named("check", p.ID)))
	b.layout.Checks[p.ID] = grid.Cell{Sheet: s.Name, Row: row, Col: colMeter}
	s.Said("check", p.ID+" (kind "+p.Kind+")")
	s.Said("state", report.OnlyIfMore(p.State, p.Verdict.String()))
	s.Said("where", p.At)
	s.Said("note", p.Note)
	s.Said("shows", report.OneLine(p.Shows))
	s.Said("how judged", report.OneLine(p.How))
	s.Said("sources", strings.Join(p.Sources, "; "))
	for _, c := range p.Cautions {
		s.Said("CAUTION", c)
	}
	if len(p.Attempts) == 0 {
		s.Said("result", report.JoinWords("no reading was taken", p.Why))
	}
	for i, a := range p.Attempts {
		if i > 0 { // the first belongs to the heading above it
			s.Block()
		}
		s.Gap(5)
		b.attempt(s, working, p, a, len(p.Attempts))
	}
}

func (b *book) attempt(s, working *grid.Sheet, p report.CheckPage, a report.AttemptPage, of int) {
	title := fmt.Sprintf("Attempt %d of %d, %s, %s", a.Number, of, a.By, a.When)
	if a.Entry > 0 {
		title += fmt.Sprintf(", entry %d", a.Entry)
	}
	row := s.Add(grid.Across(1, colSource, title, grid.FaceSub), grid.Verdict(colMeter, colRemark, a.Verdict).As(grid.Named("attempt", p.ID, a.Number)))
	b.layout.Attempts[spot{p.ID, a.Number, ""}] = grid.Cell{Sheet: s.Name, Row: row, Col: colMeter}
	if !a.Judged {
		s.Said("state", "begun, not complete: it was not judged")
	}
	s.Said("repeats because", a.Repeat)
	if a.Stop != "" {
		s.Add(grid.At(1, "STOP", grid.FaceStop), grid.Across(2, colRemark, a.Stop, grid.FaceStop))
	}
	if a.Judged {
		s.Said("rule", a.Rule)
	}
	s.Said("counts until", a.Until)
	b.readings(s, p, a)
	if a.WorksOut() {
		b.layout.Workings[spot{p.ID, a.Number, ""}] = b.working(working, p, a)
	}
	b.derived(s, p, a)
	if a.Course != nil {
		b.course(s, a.Course)
	}
	s.Flow()
	steps(s, a)
	b.reasons(s, p, a)
	for _, c := range a.Cautions {
		if !slices.Contains(p.Cautions, c) {
			s.Said("CAUTION", c)
		}
	}
}

// steps lays out how each value was worked out, in words. A step that several values
// share stands once.
func steps(s *grid.Sheet, a report.AttemptPage) {
	label, seen := "working", map[string]bool{}
	for _, d := range a.Derived {
		for _, w := range d.Working {
			if seen[w] {
				continue
			}
			seen[w] = true
			s.Add(grid.At(1, label, grid.FaceLabel), grid.Across(2, colRemark, w, grid.FaceText))
			label = ""
		}
	}
}

func (b *book) readings(s *grid.Sheet, p report.CheckPage, a report.AttemptPage) {
	if len(a.Readings) == 0 {
		return
	}
	s.Gap(3)
	s.Columns(grid.At(colName, "reading", grid.Look{}), grid.At(colTyped, "as typed", grid.Look{}), grid.At(colReading, "value", grid.Look{}), grid.At(colUnit, "unit", grid.Look{}),
		grid.At(colLow, "expected from", grid.Look{}), grid.At(colHigh, "to", grid.Look{}), grid.At(colSource, "expected by", grid.Look{}), grid.At(colMeter, "instrument", grid.Look{}),
		grid.At(colEntry, "entry", grid.Look{}), grid.At(colChanged, "since then", grid.Look{}), grid.At(colRemark, "remark", grid.Look{}))
	first := len(s.Rows) + 1
	for _, r := range a.Readings {
		boxes := []grid.Box{grid.At(colName, r.Label, grid.FaceCell)}
		reading, typed := grid.Named("reading", p.ID, a.Number, r.Key), grid.Named("typed", p.ID, a.Number, r.Key)
		switch {
		case r.Number:
			boxes = append(boxes, grid.At(colTyped, r.Typed, grid.FaceCell).As(typed), readingValue(r).As(reading), grid.At(colUnit, report.UnitWords(r.Unit), grid.FaceCell))
			boxes = append(boxes, expected(r)...)
			boxes = append(boxes, grid.At(colMeter, r.Meter, grid.FaceCell))
		case r.Word == r.Typed:
			boxes = append(boxes, grid.Across(colTyped, colMeter, r.Typed, grid.FaceCell).As(reading))
		default:
			boxes = append(boxes, grid.At(colTyped, r.Typed, grid.FaceCell).As(typed), grid.Across(colReading, colMeter, r.Word, grid.FaceCell).As(reading))
		}
		spot, c := spot{p.ID, a.Number, r.Key}, grid.Cell{Sheet: s.Name, Row: len(s.Rows) + 1, Col: colReading}
		switch {
		case r.Number:
			b.layout.Readings[spot] = c
		case r.Word == r.Typed:
			c = c.In(colTyped)
			fallthrough
		default:
			b.layout.Words[spot] = c
		}
		s.Add(append(boxes, grid.Whole(colEntry, r.Entry), changedMark(colChanged, "changed"), grid.At(colRemark, r.Remark, grid.FaceCell))...)
	}
	b.layout.Inputs[spot{p.ID, a.Number, ""}] = grid.Cell{Sheet: s.Name, Row: first, Col: colChanged}.Ref() + ":" + grid.Cell{Sheet: s.Name, Row: len(s.Rows), Col: colChanged}.Name()
}

// readingValue shows at least the decimals that were typed. A count has no unit and
// no decimals; a bound carries its sign in the number format, so that the cell
// stays a number.
func readingValue(r report.AnswerLine) grid.Box {
	n := 0
	if r.Unit != "" {
		n = max(quantity.Decimals(r.Value), report.TypedDecimals(r.Typed))
	}
	v := grid.Number(colReading, r.Value, n, "not a number")
	if r.Bound != "" && quantity.Finite(r.Value) {
		v.Look.Format = `"` + r.Bound + ` "` + v.Look.Format
	}
	return v
}

// expected are low, high and source of what a reading should be, in its own unit.
func expected(r report.AnswerLine) []grid.Box {
	if r.Expect == nil {
		return []grid.Box{grid.At(colLow, nil, grid.FaceCell), grid.At(colHigh, nil, grid.FaceCell), grid.At(colSource, nil, grid.FaceCell)}
	}
	low, high := r.Expect.Low, r.Expect.High
	if r.Unit != "" {
		low, high = quantity.FromBase(low, r.Unit), quantity.FromBase(high, r.Unit)
	}
	return []grid.Box{grid.Number(colLow, low, quantity.Decimals(low), ""), grid.Number(colHigh, high, quantity.Decimals(high), ""), grid.At(colSource, r.Expect.Source, grid.FaceCell)}
}

func (b *book) derived(s *grid.Sheet, p report.CheckPage, a report.AttemptPage) {
	if len(a.Derived) == 0 {
		return
	}
	s.Block()
	s.Gap(3)
	s.Columns(grid.At(colName, "worked out", grid.Look{}), grid.At(colValue, "value", grid.Look{}), grid.At(colSpread, "± U (k = 2)", grid.Look{}), grid.At(colUnit, "unit", grid.Look{}),
		grid.At(colLow, "limit low", grid.Look{}), grid.At(colHigh, "limit high", grid.Look{}), grid.At(colSource, "limit by", grid.Look{}), grid.At(colChance, "chance that it is out", grid.Look{}),
		grid.Across(colVerdict, colRemark, "verdict", grid.Look{}))
	for i, d := range a.Derived {
		value, limit := derivedValue(d), derivedLimit(d)
		value[1] = value[1].As(grid.Named("value", p.ID, a.Number, d.Key))
		if d.Limit != nil {
			limit[len(limit)-1] = limit[len(limit)-1].As(grid.Named("judged", p.ID, a.Number, d.Key))
		}
		row := s.Add(append(value, limit...)...)
		c := grid.Cell{Sheet: s.Name, Row: row, Col: colValue}
		b.layout.Derived[spot{p.ID, a.Number, d.Key}] = c
		if w := b.layout.Workings[spot{p.ID, a.Number, ""}]; w != nil {
			workOut(s, c, d, w.values[i])
		}
	}
}

// workOut puts formulas into the row of a derived value, whose working stands at
// another cell.
func workOut(s *grid.Sheet, c grid.Cell, d checks.Derived, working grid.Cell) {
	s.BoxAt(c).Formula = "IFERROR(" + working.Ref() + "," + grid.Quoted(grid.NoOutcome) + ")"
	s.BoxAt(c.In(colSpread)).Formula = "IFERROR(" + working.In(workHalf).Ref() + "," + grid.Quoted(grid.NotKnown) + ")"
	if d.Limit == nil {
		return
	}
	s.BoxAt(c.In(colVerdict)).Formula = checks.Comparison(d.Guarded(), d.Bound).Formula(comparedCells(c, working.In(workChanged).Ref()))
	if d.Bound == "" && d.Known == calc.KnownWhole { // how far beyond a bound the value lies is not known
		s.BoxAt(c.In(colChance)).Formula = chanceFormula(c, working)
	}
}

func derivedValue(d checks.Derived) []grid.Box {
	limits := []float64{}
	if d.Limit != nil {
		limits = append(limits, d.Limit.Low, d.Limit.High)
	}
	spread := grid.Number(colSpread, d.U, grid.SpreadDecimals(d.U), grid.NotKnown)
	if d.Known == calc.KnownPart && quantity.Finite(d.U) {
		spread.Look.Format = `"at least "` + spread.Look.Format
	}
	return []grid.Box{grid.At(colName, d.Name, grid.FaceCell), grid.Number(colValue, d.Value, quantity.Decimals(d.Value, limits...), grid.NoOutcome), spread, grid.At(colUnit, report.UnitWords(d.Unit), grid.FaceCell)}
}

func derivedLimit(d checks.Derived) []grid.Box {
	if d.Limit == nil {
		quiet := grid.FaceCell
		quiet.Align = "center"
		return []grid.Box{grid.At(colLow, nil, grid.FaceCell), grid.At(colHigh, nil, grid.FaceCell), grid.At(colSource, nil, grid.FaceCell), grid.At(colChance, nil, grid.FaceCell),
			grid.Across(colVerdict, colRemark, "shown, not judged", quiet)}
	}
	chance := grid.Number(colChance, d.ChanceOut, 1, grid.NotKnown)
	if quantity.Finite(d.ChanceOut) {
		chance.Look.Format = `[<0.001]"below 0.1 %";0.0%`
	}
	return []grid.Box{grid.Number(colLow, d.Limit.Low, grid.EnoughDecimals(d.Limit.Low), "none"), grid.Number(colHigh, d.Limit.High, grid.EnoughDecimals(d.Limit.High), "none"),
		grid.At(colSource, d.Limit.Source, grid.FaceCell), chance, grid.Verdict(colVerdict, colRemark, d.Verdict)}
}
