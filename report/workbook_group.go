package report

import (
	"fmt"
	"slices"
	"strings"

	"handback/checks"
)

// group lays out one sheet with all checks of a group, numbered on from first, and
// gives the number of the next.
func (b *book) group(s, working *sheet, g Group, first int) int {
	s.landscape, s.repeat = true, 2
	s.widths = []float64{31, 13, 12, 7, 11, 11, 21, 14, 7, 8, 21}
	s.add(across(1, colSource, g.Name, faceTitle), across(colMeter, colRemark, "job "+b.doc.Job, look{size: 10, bold: true, align: "right"}))
	s.add(across(1, colRemark, b.doc.Title+". Rule: "+b.doc.Rule, faceSmall))
	for i, p := range g.Checks {
		s.block()
		s.gap(8)
		b.check(s, working, p, first+i)
	}
	return first + len(g.Checks)
}

func (b *book) check(s, working *sheet, p CheckPage, n int) {
	row := s.add(across(1, colSource, fmt.Sprintf("%d   %s", n, p.Title), faceHead), verdict(colMeter, colRemark, p.Verdict).as(named("check", p.ID)))
	b.layout.Checks[p.ID] = Cell{s.name, row, colMeter}
	s.said("check", p.ID+" (kind "+p.Kind+")")
	s.said("state", onlyIfMore(p.State, p.Verdict.String()))
	s.said("where", p.At)
	s.said("note", p.Note)
	s.said("shows", unwrapped(p.Shows))
	s.said("how judged", unwrapped(p.How))
	s.said("sources", strings.Join(p.Sources, "; "))
	for _, c := range p.Cautions {
		s.said("CAUTION", c)
	}
	if len(p.Attempts) == 0 {
		s.said("result", joinWords("no reading was taken", p.Why))
	}
	for i, a := range p.Attempts {
		if i > 0 { // the first belongs to the heading above it
			s.block()
		}
		s.gap(5)
		b.attempt(s, working, p, a, len(p.Attempts))
	}
}

func (b *book) attempt(s, working *sheet, p CheckPage, a AttemptPage, of int) {
	title := fmt.Sprintf("Attempt %d of %d, %s, %s", a.Number, of, a.By, a.When)
	if a.Entry > 0 {
		title += fmt.Sprintf(", entry %d", a.Entry)
	}
	row := s.add(across(1, colSource, title, faceSub), verdict(colMeter, colRemark, a.Verdict).as(named("attempt", p.ID, a.Number)))
	b.layout.Attempts[Spot{p.ID, a.Number, ""}] = Cell{s.name, row, colMeter}
	if !a.Judged {
		s.said("state", "begun, not complete: it was not judged")
	}
	s.said("repeats because", a.Repeat)
	if a.Stop != "" {
		s.add(at(1, "STOP", faceStop), across(2, colRemark, a.Stop, faceStop))
	}
	if a.Judged {
		s.said("rule", a.Rule)
	}
	s.said("counts until", a.Until)
	b.readings(s, p, a)
	if a.worksOut() {
		b.layout.Workings[Spot{p.ID, a.Number, ""}] = b.working(working, p, a)
	}
	b.derived(s, p, a)
	if a.Course != nil {
		b.course(s, a.Course)
	}
	s.flow()
	s.steps(a)
	b.reasons(s, p, a)
	for _, c := range a.Cautions {
		if !slices.Contains(p.Cautions, c) {
			s.said("CAUTION", c)
		}
	}
}

// steps lays out how each value was worked out, in words. A step that several values
// share stands once.
func (s *sheet) steps(a AttemptPage) {
	label, seen := "working", map[string]bool{}
	for _, d := range a.Derived {
		for _, w := range d.Working {
			if seen[w] {
				continue
			}
			seen[w] = true
			s.add(at(1, label, faceLabel), across(2, colRemark, w, faceText))
			label = ""
		}
	}
}

func (b *book) readings(s *sheet, p CheckPage, a AttemptPage) {
	if len(a.Readings) == 0 {
		return
	}
	s.gap(3)
	s.columns(at(colName, "reading", look{}), at(colTyped, "as typed", look{}), at(colReading, "value", look{}), at(colUnit, "unit", look{}),
		at(colLow, "expected from", look{}), at(colHigh, "to", look{}), at(colSource, "expected by", look{}), at(colMeter, "instrument", look{}),
		at(colEntry, "entry", look{}), at(colChanged, "since then", look{}), at(colRemark, "remark", look{}))
	first := len(s.rows) + 1
	for _, r := range a.Readings {
		boxes := []box{at(colName, r.Label, faceCell)}
		reading, typed := named("reading", p.ID, a.Number, r.Key), named("typed", p.ID, a.Number, r.Key)
		switch {
		case r.Number:
			boxes = append(boxes, at(colTyped, r.Typed, faceCell).as(typed), readingValue(r).as(reading), at(colUnit, unitWords(r.Unit), faceCell))
			boxes = append(boxes, expected(r)...)
			boxes = append(boxes, at(colMeter, r.Meter, faceCell))
		case r.Word == r.Typed:
			boxes = append(boxes, across(colTyped, colMeter, r.Typed, faceCell).as(reading))
		default:
			boxes = append(boxes, at(colTyped, r.Typed, faceCell).as(typed), across(colReading, colMeter, r.Word, faceCell).as(reading))
		}
		spot, c := Spot{p.ID, a.Number, r.Key}, Cell{s.name, len(s.rows) + 1, colReading}
		switch {
		case r.Number:
			b.layout.Readings[spot] = c
		case r.Word == r.Typed:
			c = c.In(colTyped)
			fallthrough
		default:
			b.layout.Words[spot] = c
		}
		changed := changedMark(colChanged, "changed")
		changed.formula = changedFormula(r, c)
		s.add(append(boxes, whole(colEntry, r.Entry), changed, at(colRemark, r.Remark, faceCell))...)
	}
	b.layout.Inputs[Spot{p.ID, a.Number, ""}] = Cell{s.name, first, colChanged}.Ref() + ":" + Cell{s.name, len(s.rows), colChanged}.Name()
}

// changedFormula is 1 where an answer at a cell is no longer the recorded one, "" for
// free text, which no formula holds.
func changedFormula(r Reading, c Cell) string {
	switch {
	case r.Chosen != "":
		return "IF(EXACT(" + c.Name() + "," + quoted(r.Chosen) + "),0,1)"
	case r.Number && finite(r.Value):
		x := checks.FormulaNumber(r.Value)
		return "IF(COUNT(" + c.Name() + ")=1,IF(ABS(" + c.Name() + "-" + x + ")<=1E-12*ABS(" + x + "),0,1),1)"
	}
	return ""
}

// readingValue shows at least the decimals that were typed. A count has no unit and
// no decimals; a bound carries its sign in the number format, so that the cell
// stays a number.
func readingValue(r Reading) box {
	n := 0
	if r.Unit != "" {
		n = max(checks.Decimals(r.Value), typedDecimals(r.Typed))
	}
	v := number(colReading, r.Value, n, "not a number")
	if r.Bound != "" && finite(r.Value) {
		v.look.format = `"` + r.Bound + ` "` + v.look.format
	}
	return v
}

// expected are low, high and source of what a reading should be, in its own unit.
func expected(r Reading) []box {
	if r.Expect == nil {
		return []box{at(colLow, nil, faceCell), at(colHigh, nil, faceCell), at(colSource, nil, faceCell)}
	}
	low, high := r.Expect.Low, r.Expect.High
	if r.Unit != "" {
		low, high = checks.FromBase(low, r.Unit), checks.FromBase(high, r.Unit)
	}
	return []box{number(colLow, low, checks.Decimals(low), ""), number(colHigh, high, checks.Decimals(high), ""), at(colSource, r.Expect.Source, faceCell)}
}

func (b *book) derived(s *sheet, p CheckPage, a AttemptPage) {
	if len(a.Derived) == 0 {
		return
	}
	s.block()
	s.gap(3)
	s.columns(at(colName, "worked out", look{}), at(colValue, "value", look{}), at(colSpread, "± U (k = 2)", look{}), at(colUnit, "unit", look{}),
		at(colLow, "limit low", look{}), at(colHigh, "limit high", look{}), at(colSource, "limit by", look{}), at(colChance, "chance that it is out", look{}),
		across(colVerdict, colRemark, "verdict", look{}))
	for i, d := range a.Derived {
		value, limit := derivedValue(d), derivedLimit(d)
		value[1] = value[1].as(named("value", p.ID, a.Number, d.Key))
		if d.Limit != nil {
			limit[len(limit)-1] = limit[len(limit)-1].as(named("judged", p.ID, a.Number, d.Key))
		}
		row := s.add(append(value, limit...)...)
		c := Cell{s.name, row, colValue}
		b.layout.Derived[Spot{p.ID, a.Number, d.Key}] = c
		if w := b.layout.Workings[Spot{p.ID, a.Number, ""}]; w != nil {
			s.workOut(c, d, w.values[i])
		}
	}
}

// workOut puts formulas into the row of a derived value, whose working stands at
// another cell.
func (s *sheet) workOut(c Cell, d checks.Derived, working Cell) {
	s.boxAt(c).formula = "IFERROR(" + working.Ref() + "," + quoted(noOutcome) + ")"
	s.boxAt(c.In(colSpread)).formula = "IFERROR(" + working.In(workHalf).Ref() + "," + quoted(notKnown) + ")"
	if d.Limit == nil {
		return
	}
	s.boxAt(c.In(colVerdict)).formula = verdictFormula(d, c, working.In(workChanged).Ref())
	if d.Bound == "" && d.Known == checks.KnownWhole { // how far beyond a bound the value lies is not known
		s.boxAt(c.In(colChance)).formula = chanceFormula(c, working)
	}
}

func derivedValue(d checks.Derived) []box {
	limits := []float64{}
	if d.Limit != nil {
		limits = append(limits, d.Limit.Low, d.Limit.High)
	}
	spread := number(colSpread, d.U, spreadDecimals(d.U), notKnown)
	if d.Known == checks.KnownPart && finite(d.U) {
		spread.look.format = `"at least "` + spread.look.format
	}
	return []box{at(colName, d.Name, faceCell), number(colValue, d.Value, checks.Decimals(d.Value, limits...), noOutcome), spread, at(colUnit, unitWords(d.Unit), faceCell)}
}

func derivedLimit(d checks.Derived) []box {
	if d.Limit == nil {
		quiet := faceCell
		quiet.align = "center"
		return []box{at(colLow, nil, faceCell), at(colHigh, nil, faceCell), at(colSource, nil, faceCell), at(colChance, nil, faceCell),
			across(colVerdict, colRemark, "shown, not judged", quiet)}
	}
	chance := number(colChance, d.ChanceOut, 1, notKnown)
	if finite(d.ChanceOut) {
		chance.look.format = `[<0.001]"below 0.1 %";0.0%`
	}
	return []box{number(colLow, d.Limit.Low, enoughDecimals(d.Limit.Low), "none"), number(colHigh, d.Limit.High, enoughDecimals(d.Limit.High), "none"),
		at(colSource, d.Limit.Source, faceCell), chance, verdict(colVerdict, colRemark, d.Verdict)}
}

// unitWords hides the unit of plain numbers.
func unitWords(unit string) string {
	if unit == "1" {
		return ""
	}
	return unit
}

// unwrapped takes out the line ends a template was written with.
func unwrapped(s string) string { return strings.Join(strings.Fields(s), " ") }

func onlyIfMore(words, than string) string {
	if words == than {
		return ""
	}
	return words
}
