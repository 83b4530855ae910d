package workbook

import (
	"fmt"
	"strings"
	"time"

	"handback/checks"
	"handback/checks/alone"
	"handback/checks/calc"
	"handback/report"
	"handback/report/grid"
)

// Columns of the sheet that holds every input against its record.
const (
	recCheck   = 1
	recWhat    = 2
	recPlace   = 3
	recValue   = 4 // as recorded
	recNow     = 5
	recDiffers = 6
	recRunning = 7 // how many differ down to here
	recAlone   = 8 // what the check comes to when this one alone is changed
	recSeconds = 9 // of a time: how long after the recorded one
)

// recorded is a cell that somebody may change, with what stood there when it was recorded.
type recorded struct {
	of    spot   // the attempt it belongs to, zero for none
	what  string // in words
	cell  grid.Cell
	value any         // text, a number or nil
	mark  *grid.Cell  // of an answer: the cell beside it that tells whether it was changed
	alone calc.Choice // of an answer: the verdict by it alone, nil where nothing tells
	time  time.Time   // of an answer that is one
	at    grid.Cell   // its row here, at recDiffers
}

// ledger is all that a workbook holds against its record.
type ledger struct {
	s      *grid.Sheet
	first  int            // row of the first cell
	probes int            // that may still be made
	of     map[spot]*held // by attempt; what belongs to none under the zero spot
	count  string         // how many cells differ
	state  string         // what the cover says then
}

// held are the cells that an attempt hangs on beside its answers, and where the sheet
// tells of all of them.
type held struct {
	others   []grid.Cell // what else a verdict was worked out from
	limits   []grid.Cell // what formulas compare with: verdicts follow it
	rows     [heldSorts]rowsOf
	answered bool // by some answer alone a verdict is known
}

// Sorts of what is held.
const (
	heldAnswers = iota
	heldOthers
	heldLimits
	heldSorts
)

// rowsOf are rows one below the other, from 0 for none.
type rowsOf struct{ first, last int }

// mostProbes bounds the time that a workbook takes: jobs of some fifty checks stay below
// it (our choice).
const mostProbes = 40_000

// answersOf tells of the answers of an attempt, and which of them decides what alone.
func (b *book) answersOf(l *ledger, p report.CheckPage, a report.AttemptPage) (out []*recorded) {
	fields := []checks.Field{}
	if a.Again != nil && a.Finding != nil && checks.VerdictOf(*a.Again) == a.Verdict {
		fields = a.Again.Form()
	}
	for _, r := range a.Readings {
		c := b.answerAt(spot{p.ID, a.Number, r.Key})
		x := &recorded{of: spot{p.ID, a.Number, ""}, what: r.Label, cell: c, mark: new(changedOf(c))}
		x.value, _ = b.heldBy(c)
		if f, ok := checks.FieldNamed(fields, r.Key); ok && r.Word != "not there" {
			x.alone = alone.Of(*a.Again, f, &l.probes)
			if f.Sort == checks.Instant {
				x.time = a.Again.Answers[r.Key].Time()
			}
		}
		out = append(out, x)
	}
	return out
}

// answerAt is the cell of an answer.
func (b *book) answerAt(of spot) grid.Cell {
	if c, number := b.layout.Readings[of]; number {
		return c
	}
	return b.layout.Words[of]
}

// register finds every cell beside the answers that may be changed: whatever else a
// formula reads that no formula fills.
func (b *book) register() *ledger {
	l := &ledger{probes: mostProbes, of: map[spot]*held{{}: {}}}
	free := b.constants()
	for _, p := range b.pages {
		for _, a := range p.Attempts {
			of := spot{p.ID, a.Number, ""}
			l.of[of] = &held{}
			free.take(b.layout.Attempts[of])
			for _, r := range a.Readings {
				c := b.answerAt(spot{p.ID, a.Number, r.Key})
				free.take(c)
				free.take(changedOf(c))
			}
			for _, c := range b.layout.Reasons[of] { // its words are to hang on it
				free.take(c.In(colReasonWords))
			}
		}
	}
	owned := b.owned()
	for _, s := range b.Sheets {
		for i := range s.Rows {
			for _, formula := range s.Formulas(i + 1) {
				eachRead(s.Name, formula, func(c grid.Cell) {
					if !free.take(c) {
						return
					}
					of, limit := owned.by(c)
					h := l.of[of]
					if limit {
						h.limits = append(h.limits, c)
					} else {
						h.others = append(h.others, c)
					}
				})
			}
		}
	}
	return l
}

// heldBy is what a cell comes to hold in the file, and what its row begins with.
func (b *book) heldBy(c grid.Cell) (any, string) {
	value, label, ok := b.At(c.Sheet).Labelled(c)
	switch v := value.(type) {
	case string:
		value = report.Plain(v)
	case int:
		value = float64(v)
	}
	if !ok {
		return value, c.Place()
	}
	return value, report.CutRunes(report.OneLine(label), 80)
}

// literal is text in a formula: in pieces that a formula may hold, its lines apart, and
// nothing in it that readers take for an escape (_x000D_).
func literal(text string) string {
	const most = 250
	var parts []string
	for n, line := range strings.Split(text, "\n") {
		if n > 0 {
			parts = append(parts, "CHAR(10)")
		}
		for i, piece := range strings.Split(line, "_x") {
			if i > 0 {
				piece = "x" + piece
			}
			if i < strings.Count(line, "_x") {
				piece += "_"
			}
			r := []rune(piece)
			for ; len(r) > most; r = r[most:] {
				parts = append(parts, grid.Quoted(string(r[:most])))
			}
			parts = append(parts, grid.Quoted(string(r)))
		}
	}
	return strings.Join(parts, "&")
}

// differs is 1 where a cell does not hold its recorded value. Numbers are the same to
// 1e-12 of them, and to 1e-18: so much a spreadsheet may lose that saves the workbook.
func differs(ref string, value any) string {
	switch v := value.(type) {
	case float64:
		x := calc.FormulaNumber(v)
		return "IF(COUNT(" + ref + ")=1,IF(ABS(" + ref + "-" + x + ")<=1E-12*ABS(" + x + ")+1E-18,0,1),1)"
	case string:
		return "IF(EXACT(" + ref + "," + literal(v) + "),0,1)"
	}
	return "IF(EXACT(" + ref + `,""),0,1)`
}

// secondsFormula is how long a time in a cell, written as report.StampLayout has it,
// comes after a recorded one; words where it is none.
func secondsFormula(ref string, from time.Time) string {
	part := func(at, n int) string { return fmt.Sprintf("VALUE(MID(%s,%d,%d))", ref, at, n) }
	offset := "IF(MID(" + ref + `,21,1)="-",-1,1)*(` + part(22, 2) + "*3600+" + part(25, 2) + "*60)"
	year, month, day := from.UTC().Date()
	days := fmt.Sprintf("(DATE(%s,%s,%s)-DATE(%d,%d,%d))", part(1, 4), part(6, 2), part(9, 2), year, month, day)
	since := from.UTC().Hour()*3600 + from.UTC().Minute()*60 + from.UTC().Second()
	return fmt.Sprintf(`IFERROR(%s*86400+%s*3600+%s*60+%s-%s-%d,"no time")`, days, part(12, 2), part(15, 2), part(18, 2), offset, since)
}
