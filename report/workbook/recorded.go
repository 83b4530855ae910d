package workbook

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"strings"
	"sync"
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
	s       *grid.Sheet
	first   int                  // row of the first cell
	probes  int                  // that may still be made
	answers map[spot][]*recorded // by attempt
	others  map[spot][]*recorded // what else a verdict of it was worked out from
	limits  map[spot][]*recorded // what formulas compare with: verdicts follow it
	count   string               // how many cells differ
	state   string               // what the cover says then
}

// mostProbes bounds the time that a workbook takes: jobs of some fifty checks stay below
// it (our choice).
const mostProbes = 40_000

// answersOf registers the answers of an attempt.
func (b *book) answersOf(l *ledger, p report.CheckPage, a report.AttemptPage) (out []*recorded) {
	fields := []checks.Field{}
	if a.Again != nil && a.Finding != nil && checks.VerdictOf(*a.Again) == a.Verdict {
		fields = a.Again.Form()
	}
	for _, r := range a.Readings {
		spot := spot{p.ID, a.Number, r.Key}
		c, number := b.layout.Readings[spot]
		if !number {
			c = b.layout.Words[spot]
		}
		x := &recorded{of: attemptOf(spot), what: r.Label, cell: c, mark: new(changedOf(c))}
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

func attemptOf(s spot) spot { return spot{s.Check, s.Attempt, ""} }

// register finds every cell that may be changed: the answers, and whatever else a formula
// reads that no formula fills.
func (b *book) register() *ledger {
	l := &ledger{probes: mostProbes, answers: map[spot][]*recorded{}, others: map[spot][]*recorded{}, limits: map[spot][]*recorded{}}
	seen := map[grid.Cell]bool{}
	for _, p := range b.doc.Pages() {
		for _, a := range p.Attempts {
			of := spot{p.ID, a.Number, ""}
			l.answers[of], seen[b.layout.Attempts[of]] = b.answersOf(l, p, a), true
			for _, x := range l.answers[of] {
				seen[x.cell], seen[*x.mark] = true, true
			}
			for _, c := range b.layout.Reasons[of] { // its words are to hang on it
				seen[c.In(colReasonWords)] = true
			}
		}
	}
	boxes := b.boxes()
	owners, limits := b.owners()
	for _, s := range b.Sheets {
		for i, row := range s.Rows {
			for _, box := range row.Boxes {
				for _, c := range b.reads(grid.Cell{Sheet: s.Name, Row: i + 1, Col: box.Col}, box) {
					at, ok := boxes[c]
					if seen[c] || !ok || at.Formula != "" || b.Late[c].Formula != "" {
						continue
					}
					seen[c] = true
					of, is := owners(c), l.others
					if limits[c] {
						is = l.limits
					}
					is[of] = append(is[of], &recorded{of: of, what: b.labelOf(c), cell: c})
				}
			}
		}
	}
	for _, is := range []map[spot][]*recorded{l.answers, l.others, l.limits} {
		for of := range is {
			for _, x := range is[of] {
				x.value = heldBy(boxes[x.cell])
			}
		}
	}
	return l
}

// heldBy is what a box comes to hold in the file.
func heldBy(box *grid.Box) any {
	switch v := box.Value.(type) {
	case string:
		return report.Plain(v)
	case int:
		return float64(v)
	}
	return box.Value
}

// boxes are those of all sheets by their cells.
func (b *book) boxes() map[grid.Cell]*grid.Box {
	out := map[grid.Cell]*grid.Box{}
	for _, s := range b.Sheets {
		for i := range s.Rows {
			for n := range s.Rows[i].Boxes {
				box := &s.Rows[i].Boxes[n]
				out[grid.Cell{Sheet: s.Name, Row: i + 1, Col: box.Col}] = box
			}
		}
	}
	return out
}

// labelOf is what the row of a cell begins with.
func (b *book) labelOf(c grid.Cell) string {
	s := b.Sheets[slices.IndexFunc(b.Sheets, func(s *grid.Sheet) bool { return s.Name == c.Sheet })]
	for _, box := range s.Rows[c.Row-1].Boxes {
		if text, ok := box.Value.(string); ok && box.Col < c.Col {
			return report.CutRunes(report.OneLine(text), 80)
		}
	}
	return c.Place()
}

// owners tell which attempt a cell belongs to, and limits the cells of limits.
func (b *book) owners() (of func(grid.Cell) spot, limits map[grid.Cell]bool) {
	limits = map[grid.Cell]bool{}
	rows := map[grid.Cell]spot{} // by column 0
	for at, c := range b.layout.Derived {
		rows[c.In(0)] = attemptOf(at)
		limits[c.In(colLow)], limits[c.In(colHigh)] = true, true
	}
	for at, cells := range b.layout.Reasons {
		for _, c := range cells {
			rows[c.In(0)] = at
		}
	}
	type start struct {
		cell grid.Cell
		of   spot
	}
	var starts []start
	for at, w := range b.layout.Workings {
		first := grid.Cell{Sheet: w.s.Name, Row: math.MaxInt}
		for _, c := range append(slices.Clone(w.rows), w.values...) {
			first.Row = min(first.Row, c.Row)
		}
		starts = append(starts, start{first, at})
	}
	slices.SortFunc(starts, func(a, b start) int { return grid.CompareCells(a.cell, b.cell) })
	return func(c grid.Cell) (out spot) {
		if at, ok := rows[c.In(0)]; ok {
			return at
		}
		for _, s := range starts {
			if s.cell.Sheet == c.Sheet && s.cell.Row <= c.Row {
				out = s.of
			}
		}
		return out
	}, limits
}

var (
	constantText = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`"(?:[^"]|"")*"`) })
	cellRead     = sync.OnceValue(func() *regexp.Regexp {
		return regexp.MustCompile(`(?:'((?:[^']|'')+)'!)?\$?\b([A-Z]{1,3})\$?([0-9]+)(?::\$?([A-Z]{1,3})\$?([0-9]+))?\b`)
	})
)

// reads are the cells that the formula of a box looks at.
func (b *book) reads(c grid.Cell, box grid.Box) (out []grid.Cell) {
	formula := box.Formula
	if l, ok := b.Late[c]; ok {
		formula = l.Formula
	}
	if formula == "" {
		return nil
	}
	for _, m := range cellRead().FindAllStringSubmatch(constantText().ReplaceAllString(formula, ""), -1) {
		sheet := c.Sheet
		if m[1] != "" {
			sheet = strings.ReplaceAll(m[1], "''", "'")
		}
		first, ok := grid.CellNamed(sheet, m[2]+m[3])
		if !ok {
			continue
		}
		last := first
		if m[4] != "" {
			last, _ = grid.CellNamed(sheet, m[4]+m[5])
		}
		for row := first.Row; row <= last.Row; row++ {
			for col := first.Col; col <= last.Col; col++ {
				out = append(out, grid.Cell{Sheet: sheet, Row: row, Col: col})
			}
		}
	}
	return out
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
