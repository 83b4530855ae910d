package workbook

import (
	"math"
	"slices"
	"strings"

	"handback/checks/calc"
	"handback/checks/quantity"
	"handback/report"
	"handback/report/grid"
)

// link puts in the formulas over cells that were laid out after theirs: the layout tells
// where everything stands by now.
func (b *book) link() {
	for _, p := range b.pages {
		b.Link(b.layout.Results[p.ID].In(certNumber), b.layout.Checks[p.ID])
		b.Link(b.layout.Checks[p.ID].In(colTyped), b.layout.Results[p.ID])
		if a := p.Newest(); a != nil {
			b.Later(b.layout.Checks[p.ID], b.layout.Attempts[spot{p.ID, a.Number, ""}].Name(), "")
		}
		for _, a := range p.Attempts {
			if w := b.layout.Workings[spot{p.ID, a.Number, ""}]; w != nil && w.l != nil {
				b.linkWorking(w, p, a)
			}
			b.linkReasons(p, a)
		}
	}
	for _, x := range b.shown {
		c := b.layout.Reasons[x.of][x.i]
		b.Later(x.at, c.In(colReasonWords).Name(), "")
		b.Later(x.at.In(colVerdict), c.Name(), "")
	}
}

// reachesOut tells whether readings of other checks stand in a working: it is linked when
// all have their places.
func (w *working) reachesOut() bool {
	return slices.ContainsFunc(w.l.Rows, func(r calc.Row) bool { return r.Part == calc.PartReading && strings.Contains(r.Key, "/") })
}

// linkWorking puts into the rows of readings of a working the cells that they stand in
// on the sheets of their checks, and tells each value how many of its readings were
// changed. Where a reading has been put right since, the value as it was judged stays.
// After that nobody asks the ledger any more.
func (b *book) linkWorking(w *working, p report.CheckPage, a report.AttemptPage) {
	defer func() { w.l = nil }()
	marks := make([]string, len(w.rows)) // of each reading: the cell that tells whether it was changed
	for i, r := range w.l.Rows {
		if r.Part != calc.PartReading {
			continue
		}
		c, unit, ok := b.readingCell(r.Key, r.Value, p, a)
		if !ok {
			b.Later(w.rows[i].In(workKind), "", b.Label("as it stood when judged"))
			continue
		}
		marks[i] = changedOf(c).Ref()
		ref := c.Ref()
		if unit != "" {
			ref = calc.ToBaseFormula(ref, unit)
		}
		b.Later(w.rows[i], ref, "")
	}
	for i, d := range a.Derived {
		var on []string
		for _, row := range w.l.Readings(d.Expr) {
			if marks[row] != "" {
				on = append(on, marks[row])
			}
		}
		if len(on) == 0 {
			continue
		}
		changed := "SUM(" + strings.Join(on, ",") + ")"
		switch {
		case d.Limit != nil:
			b.Later(w.values[i].In(workChanged), changed, "")
		case quantity.Finite(d.U):
			b.Later(w.values[i].In(workHalf), "IF("+changed+"=0,"+calc.FormulaNumber(d.U)+",NA())", "")
		}
	}
}

// readingCell finds where a reading that an attempt was judged by stands, with the value
// given in its base unit.
func (b *book) readingCell(key string, base float64, p report.CheckPage, a report.AttemptPage) (c grid.Cell, unit string, ok bool) {
	p, a, key, ok = b.answered(key, p, a)
	if !ok {
		return grid.Cell{}, "", false
	}
	for _, r := range a.Readings {
		if r.Key == key && r.Number && near(inBase(r), base) {
			return b.layout.Readings[spot{p.ID, a.Number, key}], r.Unit, true
		}
	}
	return grid.Cell{}, "", false
}

// answered tells which attempt of which check gave an answer that an attempt was
// judged by: itself, or, for check/field, the newest of an earlier check that had been
// judged by then.
func (b *book) answered(key string, p report.CheckPage, a report.AttemptPage) (report.CheckPage, report.AttemptPage, string, bool) {
	earlier, field, past := strings.Cut(key, "/")
	if !past {
		return p, a, key, true
	}
	p = b.page(earlier)
	for i := len(p.Attempts) - 1; i >= 0; i-- {
		if first := p.Attempts[i].First; first > 0 && first < a.Entry {
			return p, p.Attempts[i], field, true
		}
	}
	return report.CheckPage{}, report.AttemptPage{}, "", false
}

// inBase is a reading in its base unit; a count has none.
func inBase(r report.AnswerLine) float64 {
	if r.Unit == "" {
		return r.Value
	}
	return quantity.ToBase(r.Value, r.Unit)
}

func near(x, y float64) bool { return math.Abs(x-y) <= 1e-12*math.Abs(y) }

// answerCell finds the cell of an answer that an attempt was judged by, where it still
// holds the word that was judged; an answer that is a number has none.
func (b *book) answerCell(key, was string, p report.CheckPage, a report.AttemptPage) (grid.Cell, bool) {
	p, a, field, ok := b.answered(key, p, a)
	if !ok {
		return grid.Cell{}, false
	}
	spot := spot{p.ID, a.Number, field}
	for _, r := range a.Readings {
		if c, number := b.layout.Readings[spot]; r.Key == field && number {
			return c, true
		}
		if c, word := b.layout.Words[spot]; r.Key == field && word && r.Word == was {
			return c, true
		}
	}
	return grid.Cell{}, false
}
