package workbook

import (
	"cmp"
	"slices"
	"strconv"
	"strings"

	"handback/checks"
	"handback/checks/alone"
	"handback/checks/calc"
	"handback/report"
	"handback/report/grid"
)

// What every sheet says at its head as long as nothing was changed, and beside a verdict
// that something was.
const (
	asRecorded    = "as recorded"
	reasonChanged = "changed: the recorded reason no longer applies"
)

// mostDiffering is how many changed cells the certificate lists: in place of what it
// states, which does not hold then (our choice).
const mostDiffering = 20

// Sheet begins a sheet with a row that says whether the workbook is as recorded.
func (b *book) Sheet(name string) *grid.Sheet {
	s := b.Book.Sheet(name)
	row := s.Add(grid.At(1, b.Label(asRecorded), grid.Look{Size: 8, Bold: true, Flat: true}))
	s.Rows[row-1].Height = 10
	return s
}

// record holds every cell that may be changed against what was recorded, and lets
// everything that is said of a verdict hang on it.
func (b *book) record(s *grid.Sheet) {
	l := b.register()
	l.s = s
	b.recordSheet(l)
	for _, p := range b.pages {
		for _, a := range p.Attempts {
			b.followAnswers(l, p, a)
		}
		if a := p.Newest(); a != nil {
			at := b.layout.Results[p.ID]
			b.whileRecorded(at.In(colWhy), at, p.Verdict, l.changed(spot{p.ID, a.Number, ""}, true))
		}
	}
	b.whatIf(l)
}

// recHeads name the columns of the sheet.
var recHeads = []string{recCheck - 1: "check, attempt", recWhat - 1: "what", recPlace - 1: "cell", recValue - 1: "recorded", recNow - 1: "now", recDiffers - 1: "differs",
	recRunning - 1: "so far", recAlone - 1: "verdict if this alone is changed", recSeconds - 1: "seconds later"}

// recordSheet lays the sheet out.
func (b *book) recordSheet(l *ledger) {
	s := l.s
	b.annex(s, "Recorded: every cell that may be changed, and what stood in it", 18, 42, 26, 24, 24, 8, 8, 18, 16)
	row := s.Add(grid.Across(1, recNow, "", grid.FaceSmall), grid.At(recDiffers, b.Label("cells"), grid.FaceLabel), grid.At(recRunning, 0, grid.FaceCell))
	state := grid.Cell{Sheet: s.Name, Row: row, Col: 1}
	var heads []grid.Box
	for col, name := range recHeads {
		heads = append(heads, grid.At(col+1, b.Label(name), grid.Look{}))
	}
	s.Columns(heads...)
	first := len(s.Rows) + 1
	l.first = first
	for _, p := range b.pages {
		for _, a := range p.Attempts {
			of := spot{p.ID, a.Number, ""}
			for _, x := range b.answersOf(l, p, a) {
				l.of[of].answered = l.of[of].answered || x.alone != nil
				b.recordRow(l, x, heldAnswers)
			}
			b.recordRest(l, of)
		}
	}
	b.recordRest(l, spot{})
	inputs := "SUM(" + grid.Cell{Sheet: s.Name, Row: first, Col: recDiffers}.Name() + ":" + grid.Cell{Sheet: s.Name, Row: max(first, len(s.Rows)), Col: recDiffers}.Name() + ")"
	for _, p := range b.pages { // a verdict put over its formula
		c := b.layout.Results[p.ID]
		x := &recorded{of: spot{Check: p.ID}, what: b.Label("verdict on the certificate"), cell: c, value: grid.WordOf(p.Verdict)}
		running := b.recordRow(l, x, heldSorts)
		b.Later(x.at.In(recRunning), "IF("+inputs+">0,"+x.at.In(recRunning).Up(1).Name()+","+running+")", "")
	}
	count := state.In(recRunning)
	l.count, l.state = count.Ref(), state.Ref()
	if last := len(s.Rows); last >= first {
		b.Later(count, grid.Cell{Sheet: s.Name, Row: last, Col: recRunning}.Name(), "")
	}
	head, _ := overallParts(b.doc.Overall)
	b.Later(state, "IF("+count.Name()+"=0,"+grid.Quoted(b.Label(asRecorded))+","+grid.Quoted("WHAT-IF: ")+"&"+l.cells(b)+"&"+grid.Quoted(b.Label("; recorded: %s", head))+")", b.Label(asRecorded))
}

// recordRest lays out what an attempt hangs on beside its answers.
func (b *book) recordRest(l *ledger, of spot) {
	for i, cells := range [][]grid.Cell{l.of[of].others, l.of[of].limits} {
		for _, c := range cells {
			x := &recorded{of: of, cell: c}
			x.value, x.what = b.heldBy(c)
			b.recordRow(l, x, heldOthers+i)
		}
	}
}

// recordRow lays out a row of it, of a sort of what is held, and gives what counts how
// many differ down to there.
func (b *book) recordRow(l *ledger, x *recorded, sort int) (running string) {
	of := x.of.Check
	if x.of.Attempt > 0 {
		of += ", " + strconv.Itoa(x.of.Attempt)
	}
	look := grid.FaceCell
	if _, number := x.value.(float64); number {
		look.Align = "right"
	}
	look.Flat = true
	flag := grid.FaceCell
	flag.Flat, flag.Align = true, "right"
	boxes := []grid.Box{grid.At(recCheck, of, grid.FaceCell), grid.At(recWhat, x.what, grid.FaceCell), grid.At(recPlace, x.cell.Place(), grid.FaceCell), grid.At(recValue, x.value, look),
		grid.At(recNow, x.value, look), grid.At(recDiffers, 0, flag), grid.At(recRunning, 0, flag)}
	if x.alone != nil {
		boxes = append(boxes, grid.At(recAlone, "", grid.FaceCell))
	}
	if !x.time.IsZero() {
		boxes = append(boxes, grid.At(recSeconds, 0, flag))
	}
	x.at = grid.Cell{Sheet: l.s.Name, Row: l.s.Add(boxes...), Col: recDiffers}
	ref, now := x.cell.Ref(), x.at.In(recNow).Name()
	late := func(col int, formula string) { b.Later(x.at.In(col), formula, "") }
	late(recNow, "IF("+ref+`="","",`+ref+")")
	late(recDiffers, differs(ref, x.value))
	if x.mark != nil {
		late(recDiffers, x.mark.Ref())
		b.Later(*x.mark, differs(x.cell.Name(), x.value), "")
	}
	if sort < heldSorts {
		rows := &l.of[x.of].rows[sort]
		rows.first, rows.last = cmp.Or(rows.first, x.at.Row), x.at.Row
	}
	running = x.at.Name()
	if x.at.Row > l.first {
		running = x.at.In(recRunning).Up(1).Name() + "+" + running
	}
	late(recRunning, running)
	if !x.time.IsZero() {
		late(recSeconds, secondsFormula(now, x.time))
	}
	if x.alone == nil {
		return running
	}
	f := x.alone.Formula(func(cell string) string {
		if cell == alone.Seconds {
			return x.at.In(recSeconds).Name()
		}
		return now
	})
	if len(f) > longestFormula {
		f = grid.Quoted(checks.Unreached)
	}
	late(recAlone, "IF("+x.at.Name()+"=0,\"\","+f+")")
	return running
}

// longestFormula is what a formula may be long, with room to spare: 8192 characters
// (ECMA-376, part 1, 18.17.2).
const longestFormula = 8000

// area is where the cells of a sort that an attempt hangs on are told, "" for none.
func (l *ledger) area(of spot, sort, col int) string {
	h := l.of[of]
	if h == nil || h.rows[sort].first == 0 {
		return ""
	}
	rows := h.rows[sort]
	return grid.Cell{Sheet: l.s.Name, Row: rows.first, Col: col}.Ref() + ":" + grid.Cell{Sheet: l.s.Name, Row: rows.last, Col: col}.Name()
}

// changed counts what differs of what an attempt rests on, limits among it or not.
func (l *ledger) changed(of spot, limits bool) string {
	areas := []string{l.area(of, heldAnswers, recDiffers), l.area(of, heldOthers, recDiffers)}
	if limits {
		areas = append(areas, l.area(of, heldLimits, recDiffers))
	}
	return sumOf(areas)
}

func sumOf(areas []string) string {
	areas = slices.DeleteFunc(areas, func(s string) bool { return s == "" })
	if len(areas) == 0 {
		return "0"
	}
	return "SUM(" + strings.Join(areas, ",") + ")"
}

// Cells of the choice of an attempt's verdict, with those of WorstOf.
const (
	cellAnswers = "answers" // how many were changed
	cellRest    = "rest"    // how much else was
	cellAlone   = "alone"   // the verdict by the one answer that was
)

// attemptBy chooses the verdict of an attempt of n reasons: when one answer alone was
// changed it is what the check was judged to come to then, unless a formula shows worse;
// otherwise what its reasons come to.
func attemptBy(n int, known, passed bool) calc.Choice {
	worst := checks.WorstOf(n)
	if !known {
		return worst
	}
	var by calc.Choice = calc.AsShown(cellAlone)
	if passed {
		var worse calc.Any
		for _, v := range []checks.Verdict{checks.Fail, checks.Missing, checks.Void} {
			worse = append(worse, calc.Count{Area: checks.CellVerdicts, Word: v.Shown(), Exactly: -1})
		}
		by = calc.If{Test: calc.All{calc.Shows{Cell: cellAlone, Word: checks.Pass.Shown()}, worse}, Then: worst, Else: by}
	}
	return calc.If{Test: calc.All{calc.Equals{Cell: cellAnswers, Number: 1}, calc.Equals{Cell: cellRest}}, Then: by, Else: worst}
}

// followAnswers lets the verdict of an attempt and the words of its reasons hang on what
// was changed.
func (b *book) followAnswers(l *ledger, p report.CheckPage, a report.AttemptPage) {
	of := spot{p.ID, a.Number, ""}
	at, cells, answers := b.layout.Attempts[of], b.layout.Reasons[of], l.area(of, heldAnswers, recDiffers)
	rest := []string{l.area(of, heldOthers, recDiffers)}
	if a.Again != nil {
		for _, id := range alone.Uses(*a.Again) {
			if x := b.page(id).Newest(); x != nil {
				rest = append(rest, l.area(spot{id, x.Number, ""}, heldAnswers, recDiffers))
			}
		}
	}
	changed := sumOf(append(slices.Clone(rest), answers))
	switch {
	case a.Finding != nil && len(cells) > 0:
		refs := map[string]string{checks.CellChanged: changed, checks.CellVerdicts: cells[0].Name() + ":" + cells[len(cells)-1].Name(),
			cellAnswers: sumOf([]string{answers}), cellRest: sumOf(append(rest, l.area(of, heldLimits, recDiffers))),
			cellAlone: "INDEX(" + l.area(of, heldAnswers, recAlone) + ",MATCH(1," + answers + ",0))"}
		b.Later(at, attemptBy(len(cells), l.of[of].answered, a.Verdict == checks.Pass).Formula(func(cell string) string { return refs[cell] }), "")
	case a.Judged:
		b.Later(at, "IF("+changed+"=0,"+grid.VerdictText(a.Verdict)+","+grid.Quoted(checks.Unreached)+")", "")
	}
	for i, c := range cells {
		b.whileRecorded(c.In(colReasonWords), c, a.Reasons[i].Verdict, l.changed(of, true))
	}
}

// whileRecorded shows words beside a verdict only while both are those of the record.
func (b *book) whileRecorded(words, verdict grid.Cell, was checks.Verdict, changed string) {
	box := b.At(words.Sheet).BoxAt(words)
	text, ok := box.Value.(string)
	if !ok || text == "" {
		return
	}
	b.Later(words, "IF(AND("+verdict.Name()+"="+grid.VerdictText(was)+","+changed+"=0),"+literal(report.Plain(text))+","+grid.Quoted(b.Label(reasonChanged))+")", "")
}

// whatIf turns the cover and the head of every sheet once a cell differs.
func (b *book) whatIf(l *ledger) {
	for _, s := range b.Sheets {
		s.Repeat++
		b.Later(grid.Cell{Sheet: s.Name, Row: 1, Col: 1}, l.state, "")
	}
	unless := func(c grid.Cell, then string) {
		box := b.At(c.Sheet).BoxAt(c)
		is := box.Formula
		if text, ok := box.Value.(string); ok && is == "" {
			is = literal(report.Plain(text))
		}
		b.Later(c, "IF("+l.count+">0,"+then+","+is+")", "")
	}
	unless(b.layout.Overall, grid.Quoted("WHAT-IF: ")+"&"+l.cells(b))
	head, _ := overallParts(b.doc.Overall)
	unless(b.layout.Rest, grid.Quoted(b.Label("recorded: %s; no verdict counts before every cell is as recorded again", head)))
	next := 1
	for i, c := range b.layout.Stated {
		if i == 0 {
			unless(c, l.cells(b)+"&"+grid.Quoted(b.Label(", all on the sheet Recorded; the first %d:", mostDiffering)))
			continue
		}
		unless(c, `""`)
		lines := int(b.At(c.Sheet).Rows[c.Row-1].Height / (faceCertText.Size * 1.22))
		last := min(mostDiffering, next+(3*lines+1)/2-1) // three in two lines of print
		unless(c.In(certTitle), b.differing(l, next, last))
		next = last + 1
	}
}

// cells is how many cells differ, in words.
func (l *ledger) cells(b *book) string {
	return plural(l.count, b.Label("cell differs from the record"), b.Label("cells differ from the record"))
}

// differing lists some of the cells that differ with both values, none where from is
// beyond to.
func (b *book) differing(l *ledger, from, to int) string {
	col := func(n int) string {
		first, last := grid.Cell{Sheet: l.s.Name, Row: l.first, Col: n}, grid.Cell{Sheet: l.s.Name, Row: len(l.s.Rows), Col: n}
		return first.Ref() + ":" + last.Name()
	}
	var parts []string
	for k := from; k <= to; k++ {
		n := strconv.Itoa(k)
		at := func(c int) string { return "INDEX(" + col(c) + ",MATCH(" + n + "," + col(recRunning) + ",0))" }
		parts = append(parts, "IF("+l.count+"<"+n+`,"",`+at(recCheck)+"&"+grid.Quoted(": ")+"&"+at(recWhat)+"&"+grid.Quoted(": ")+"&"+at(recValue)+"&"+grid.Quoted(" → ")+"&"+at(recNow)+"&"+grid.Quoted("; ")+")")
	}
	if len(parts) == 0 {
		return `""`
	}
	return strings.Join(parts, "&")
}
