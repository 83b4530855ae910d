package workbook

import (
	"fmt"
	"slices"
	"strings"

	"handback/checks"
	"handback/report"
	"handback/report/grid"
)

// Looks of a sheet of checks: 8 points, the least that is read on paper, and little room.
var (
	faceTight   = grid.Look{Size: 8, Border: "hair", Snug: true}
	faceCheck   = grid.Look{Size: 9, Bold: true, Fill: "D9D9D9", Middle: true}
	faceAttempt = grid.Look{Size: 8, Border: "under", Snug: true}
)

// tight makes a box of a table one of a sheet of checks.
func tight(b grid.Box) grid.Box {
	b.Look.Size, b.Look.Snug = faceTight.Size, true
	return b
}

// input makes a box one that a person may fill in. On paper a light grey tells it from
// what is worked out: heavy frames around most cells would hide the verdicts.
func input(b grid.Box, takes grid.Accepts) grid.Box {
	border := b.Look.Border
	b = b.Input(takes)
	b.Look.Border, b.Look.Fill = border, "EDEDED"
	return b
}

func right(b grid.Box) grid.Box {
	b.Look.Align = "right"
	return b
}

// group lays out one sheet with all checks of a group, numbered on from first, and
// gives the number of the next. What is printed tells each reading and value once; how
// it was typed, by which entry, and why a verdict is so stands beside.
func (b *book) group(s, working *grid.Sheet, g report.Group, first int) int {
	s.Tight, s.Repeat, s.Printed = true, 2, colPrinted
	s.Widths = groupWidths
	s.Add(grid.Across(1, colSpread, b.Label("Test sheet: %s", b.Label(g.Name)), grid.Look{Size: 11, Bold: true}), grid.Across(colLow, colPrinted, b.Label("job %s", b.doc.Job), grid.Look{Size: 9, Bold: true, Align: "right"}))
	heads := make([]grid.Box, 0, len(groupHeads))
	for col, name := range groupHeads {
		if name != "" {
			heads = append(heads, tight(grid.At(col+1, name, grid.FaceColumn)))
		}
	}
	s.Beside(s.Add(heads[:colPrinted]...), heads[colPrinted:]...)
	for i, p := range g.Checks {
		s.Block()
		s.Gap(3)
		b.check(s, working, p, first+i)
	}
	b.besideReasons(s, g)
	return first + len(g.Checks)
}

func (b *book) check(s, working *grid.Sheet, p report.CheckPage, n int) {
	where := ""
	if p.At != "" {
		where = ", " + p.At
	}
	row := s.Add(grid.Across(1, colSee, fmt.Sprintf("%d   %s%s (%s)", n, p.Title, where, p.ID), faceCheck), tight(grid.Verdict(colVerdict, colVerdict, p.Verdict)).As(grid.Named("check", p.ID)))
	b.layout.Checks[p.ID] = grid.Cell{Sheet: s.Name, Row: row, Col: colVerdict}
	s.Beside(row, grid.At(colTyped, b.Label("to its result"), grid.FaceSmall))
	tell(s, "", report.OnlyIfMore(p.State, p.Verdict.String()))
	tell(s, b.Label("procedure")+": ", p.Follows)
	tell(s, b.Label("note")+": ", p.Note)
	if len(p.Attempts) == 0 {
		tell(s, "", report.JoinWords(b.Label("no reading was taken"), p.Why))
	}
	for i, a := range p.Attempts {
		if i > 0 { // the first belongs to the heading above it
			s.Block()
		}
		b.attempt(s, working, p, a)
	}
}

// tell is a line of words over the whole width; nothing is laid out for no words.
func tell(s *grid.Sheet, label, words string) {
	if words != "" {
		s.Add(grid.Across(1, colPrinted, label+words, grid.FaceSmall))
	}
}

func (b *book) attempt(s, working *grid.Sheet, p report.CheckPage, a report.AttemptPage) {
	t := &table{b: b, s: s, p: p, a: a, first: len(s.Rows) + 1}
	t.head()
	if a.Stop != "" {
		s.Add(grid.At(1, b.Label("STOP"), grid.FaceStop), grid.Across(2, colPrinted, a.Stop, grid.FaceStop))
	}
	t.against()
	t.words()
	if a.WorksOut() {
		t.w = b.working(working, p, a)
		b.layout.Workings[t.spot("")] = t.w
	}
	t.numbers()
	if t.w != nil && !t.w.reachesOut() {
		b.linkWorking(t.w, p, a)
	}
	t.told()
	for _, c := range a.Cautions {
		if !slices.Contains(p.Cautions, c) {
			tell(s, b.Label("CAUTION")+": ", c)
		}
	}
	changed := func(col int) string {
		return grid.Cell{Sheet: s.Name, Row: t.first, Col: col}.Ref() + ":" + grid.Cell{Sheet: s.Name, Row: len(s.Rows), Col: col}.Name()
	}
	b.layout.Inputs[t.spot("")] = changed(colChanged) + "," + changed(colChanged+second)
}

// head says who took an attempt when and with what, and its verdict. The instrument is
// an answer too.
func (t *table) head() {
	a, words := t.a, []string{}
	if len(t.p.Attempts) > 1 {
		words = append(words, t.s.Label("attempt %d of %d", a.Number, len(t.p.Attempts)))
	}
	words = append(words, a.By, a.When)
	if e := t.entries(); e != "" {
		words = append(words, e)
	}
	if a.Until != "" {
		words = append(words, t.s.Label("valid until %s", shortMoment(a.Until, a.When)))
	}
	text := strings.Join(words, ", ")
	if !a.Judged {
		text += "; " + t.s.Label("begun, not complete: it was not judged")
	}
	if a.Repeat != "" {
		text += "; " + t.s.Label("repeats because: %s", a.Repeat)
	}
	boxes, right := []grid.Box{}, colSee
	if r := t.tool(); r != nil {
		right = colLow
		with := faceAttempt
		with.Format, with.Align = inFormat(t.s.Label("with")+" ")+"@", "right"
		boxes = append(boxes, input(grid.Across(colHigh, colSee, r.Word, with).As(grid.Named("reading", t.p.ID, a.Number, r.Key)), t.accepts(*r)))
	}
	row := t.s.Add(append(boxes, grid.Across(1, right, text, faceAttempt), tight(grid.Verdict(colVerdict, colVerdict, a.Verdict)).As(grid.Named("attempt", t.p.ID, a.Number)))...)
	c := grid.Cell{Sheet: t.s.Name, Row: row, Col: colVerdict}
	t.b.layout.Attempts[t.spot("")] = c
	if r := t.tool(); r != nil {
		t.answered(*r, c.In(colHigh))
	}
	remark := report.JoinWords(a.Rule, a.Until)
	if remark != "" && t.tool() == nil {
		t.s.Beside(row, grid.At(colRemark, remark, faceTight))
	} else if remark != "" {
		t.s.Beside(row, grid.At(colSource, remark, faceTight))
	}
}

// shortMoment leaves the date and the offset of a moment out where another has the same.
func shortMoment(m, other string) string {
	if len(m) == len(other) && len(m) > 19 && m[:10] == other[:10] && m[19:] == other[19:] {
		return m[11:19]
	}
	return m
}

// entries name those that gave the answers of an attempt and judged it.
func (t *table) entries() string {
	a := t.a
	least, most := a.Entry, a.Entry
	for _, r := range a.Readings {
		if r.Entry > 0 && (least == 0 || r.Entry < least) {
			least = r.Entry
		}
		most = max(most, r.Entry)
	}
	switch {
	case most == 0:
		return ""
	case least == most:
		return t.s.Label("entry %d", most)
	}
	return t.s.Label("entries %d to %d", least, most)
}

// longestTool is how many letters of an instrument's id the line of an attempt has room for.
const longestTool = 12

// tool is the instrument in the line of an attempt: the first that it names.
func (t *table) tool() *report.AnswerLine {
	for i, r := range t.a.Readings {
		if r.Sort == checks.MeterUsed && r.Chosen != "" && len(r.Chosen) <= longestTool {
			return &t.a.Readings[i]
		}
	}
	return nil
}
