package report

import (
	"math"
	"strings"

	"handback/checks"
)

// linkReading puts into a row of workings the cell that the reading stands in on the
// sheet of its check. Where that has been put right since, the value as it was
// judged stays.
func (b *book) linkReading(s *sheet, at Cell, r checks.Row, p CheckPage, a AttemptPage) {
	c, unit, ok := b.readingCell(r.Key, r.Value, p.ID, a.Number)
	if !ok {
		s.boxAt(at.In(workKind)).value = "as it stood when judged"
		return
	}
	ref := c.Ref()
	if unit != "" {
		ref = checks.ToBaseFormula(ref, unit)
	}
	s.boxAt(at).formula = ref
}

// readingCell finds where a reading of an attempt, or of an earlier check, stands
// with the value given in its base unit.
func (b *book) readingCell(key string, base float64, check string, attempt int) (c Cell, unit string, ok bool) {
	if earlier, field, past := strings.Cut(key, "/"); past {
		check, attempt, key = earlier, 0, field
	}
	for _, p := range b.doc.Pages() {
		if p.ID != check {
			continue
		}
		for i := len(p.Attempts) - 1; i >= 0; i-- {
			n := p.Attempts[i].Number
			if attempt != 0 && n != attempt {
				continue
			}
			for _, r := range p.Attempts[i].Readings {
				if r.Key == key && r.Number && near(inBase(r), base) {
					return b.layout.Readings[Spot{check, n, key}], r.Unit, true
				}
			}
		}
	}
	return Cell{}, "", false
}

// inBase is a reading in its base unit; a count has none.
func inBase(r Reading) float64 {
	if r.Unit == "" {
		return r.Value
	}
	return checks.ToBase(r.Value, r.Unit)
}

func near(x, y float64) bool { return math.Abs(x-y) <= 1e-12*math.Abs(y) }

// answerCell finds the cell of an answer of an attempt, or of an earlier check where
// it still holds the word that was judged.
func (b *book) answerCell(key, was, check string, attempt int) (Cell, bool) {
	if earlier, field, past := strings.Cut(key, "/"); past {
		for _, p := range b.doc.Pages() {
			for _, a := range p.Attempts {
				if p.ID != earlier {
					continue
				}
				for _, r := range a.Readings {
					if r.Key == field && r.Word == was {
						return b.layout.Words[Spot{earlier, a.Number, field}], true
					}
				}
			}
		}
		return Cell{}, false
	}
	spot := Spot{check, attempt, key}
	if c, ok := b.layout.Readings[spot]; ok {
		return c, true
	}
	c, ok := b.layout.Words[spot]
	return c, ok
}
