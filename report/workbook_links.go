package report

import (
	"math"
	"strings"

	"handback/checks"
)

// link puts in the formulas over cells that were laid out after theirs: the layout tells
// where everything stands by now.
func (b *book) link() {
	for _, p := range b.doc.Pages() {
		if a := p.judged(); a != nil {
			b.late[b.layout.Checks[p.ID]] = lateCell{formula: b.layout.Attempts[Spot{p.ID, a.Number, ""}].Name()}
		}
		for _, a := range p.Attempts {
			if w := b.layout.Workings[Spot{p.ID, a.Number, ""}]; w != nil {
				b.linkWorking(w, p, a)
			}
			b.linkReasons(p, a)
		}
	}
}

// linkWorking puts into the rows of readings of a working the cells that they stand in
// on the sheets of their checks, and tells each value how many of its readings were
// changed. Where a reading has been put right since, the value as it was judged stays.
func (b *book) linkWorking(w *working, p CheckPage, a AttemptPage) {
	marks := make([]string, len(w.rows)) // of each reading: the cell that tells whether it was changed
	for i, r := range w.l.Rows {
		if r.Part != checks.PartReading {
			continue
		}
		c, unit, ok := b.readingCell(r.Key, r.Value, p, a)
		if !ok {
			b.late[w.rows[i].In(workKind)] = lateCell{words: "as it stood when judged"}
			continue
		}
		marks[i] = c.In(colChanged).Ref()
		ref := c.Ref()
		if unit != "" {
			ref = checks.ToBaseFormula(ref, unit)
		}
		b.late[w.rows[i]] = lateCell{formula: ref}
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
			b.late[w.values[i].In(workChanged)] = lateCell{formula: changed}
		case finite(d.U):
			b.late[w.values[i].In(workHalf)] = lateCell{formula: "IF(" + changed + "=0," + checks.FormulaNumber(d.U) + ",NA())"}
		}
	}
}

// readingCell finds where a reading that an attempt was judged by stands, with the value
// given in its base unit.
func (b *book) readingCell(key string, base float64, p CheckPage, a AttemptPage) (c Cell, unit string, ok bool) {
	p, a, key, ok = b.answered(key, p, a)
	if !ok {
		return Cell{}, "", false
	}
	for _, r := range a.Readings {
		if r.Key == key && r.Number && near(inBase(r), base) {
			return b.layout.Readings[Spot{p.ID, a.Number, key}], r.Unit, true
		}
	}
	return Cell{}, "", false
}

// answered tells which attempt of which check gave an answer that an attempt was
// judged by: itself, or, for check/field, the newest of an earlier check that had been
// judged by then.
func (b *book) answered(key string, p CheckPage, a AttemptPage) (CheckPage, AttemptPage, string, bool) {
	earlier, field, past := strings.Cut(key, "/")
	if !past {
		return p, a, key, true
	}
	for _, p := range b.doc.Pages() {
		if p.ID != earlier {
			continue
		}
		for i := len(p.Attempts) - 1; i >= 0; i-- {
			if first := p.Attempts[i].First; first > 0 && first < a.Entry {
				return p, p.Attempts[i], field, true
			}
		}
	}
	return CheckPage{}, AttemptPage{}, "", false
}

// inBase is a reading in its base unit; a count has none.
func inBase(r Reading) float64 {
	if r.Unit == "" {
		return r.Value
	}
	return checks.ToBase(r.Value, r.Unit)
}

func near(x, y float64) bool { return math.Abs(x-y) <= 1e-12*math.Abs(y) }

// answerCell finds the cell of an answer that an attempt was judged by, where it still
// holds the word that was judged; an answer that is a number has none.
func (b *book) answerCell(key, was string, p CheckPage, a AttemptPage) (Cell, bool) {
	p, a, field, ok := b.answered(key, p, a)
	if !ok {
		return Cell{}, false
	}
	spot := Spot{p.ID, a.Number, field}
	for _, r := range a.Readings {
		if c, number := b.layout.Readings[spot]; r.Key == field && number {
			return c, true
		}
		if c, word := b.layout.Words[spot]; r.Key == field && word && r.Word == was {
			return c, true
		}
	}
	return Cell{}, false
}
