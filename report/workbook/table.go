package workbook

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"handback/checks"
	"handback/report"
	"handback/report/grid"
)

// table lays an attempt out: answers in words two a line, then a line for every reading
// and every value that is worked out. A value that is no more than a reading, judged,
// shares its line.
type table struct {
	b     *book
	s     *grid.Sheet
	p     report.CheckPage
	a     report.AttemptPage
	w     *working // nil where nothing is worked out
	first int      // row
	by    []string // sources of limits and expectations, in the order of their letters
	notes []string // what became of readings, in the order of their numbers
}

func (t *table) spot(key string) spot { return spot{t.p.ID, t.a.Number, key} }

// against says what did not pass, before anything else. The words and verdicts are those
// of the reasons beside.
func (t *table) against() {
	for i, r := range t.a.Reasons {
		if r.Verdict == checks.Pass {
			continue
		}
		look := faceTight
		look.Bold = true
		row := t.s.Add(grid.Across(1, colSee, r.Words, look), tight(grid.Verdict(colVerdict, colVerdict, r.Verdict)))
		if row == len(t.s.Rows) { // else its words take several rows
			t.b.shown = append(t.b.shown, shownReason{t.spot(""), i, grid.Cell{Sheet: t.s.Name, Row: row, Col: 1}})
		}
	}
}

// What half a line has room for, in letters.
const (
	halfLabel = 60
	halfWord  = 34
)

// words lays out the answers in words.
func (t *table) words() {
	tool := t.tool()
	var half []report.AnswerLine
	flush := func() {
		if len(half) > 0 {
			t.line(half...)
		}
		half = nil
	}
	for _, r := range t.a.Readings {
		if r.Number || tool != nil && r.Key == tool.Key {
			continue
		}
		if utf8.RuneCountInString(r.Word) > halfWord || utf8.RuneCountInString(r.Label) > halfLabel {
			flush()
			t.wide(r)
			continue
		}
		if half = append(half, r); len(half) == 2 {
			flush()
		}
	}
	flush()
}

// line lays out one answer or two in a row.
func (t *table) line(half ...report.AnswerLine) {
	boxes := []grid.Box{grid.At(colName, half[0].Label, faceTight), t.word(half[0], colValue, colUnit)}
	if len(half) > 1 {
		boxes = append(boxes, grid.Across(colSpread, colHigh, half[1].Label, faceTight), t.word(half[1], colSee, colVerdict))
	}
	c := grid.Cell{Sheet: t.s.Name, Row: t.s.Add(boxes...), Col: colValue}
	t.answered(half[0], c)
	if len(half) > 1 {
		t.answered(half[1], c.In(colSee))
	}
}

// wide lays out an answer of many words in a row of its own.
func (t *table) wide(r report.AnswerLine) {
	row := t.s.Add(grid.At(colName, r.Label, faceTight), t.word(r, colValue, colPrinted))
	t.answered(r, grid.Cell{Sheet: t.s.Name, Row: row, Col: colValue})
}

func (t *table) word(r report.AnswerLine, from, to int) grid.Box {
	return input(grid.Across(from, to, r.Word, faceTight).As(grid.Named("reading", t.p.ID, t.a.Number, r.Key)), t.accepts(r))
}

// answered puts beside the row of an answer in words how it was typed, by which entry,
// and whether it was changed since.
func (t *table) answered(r report.AnswerLine, c grid.Cell) {
	t.b.layout.Words[t.spot(r.Key)] = c
	along, remark := 0, colRemark
	if changedOf(c).Col > colChanged {
		along, remark = second, colRemark2
	}
	boxes := []grid.Box{grid.Whole(colEntry+along, r.Entry), t.changed(colChanged + along), grid.At(remark, r.Remark, faceTight)}
	if r.Word != r.Typed {
		boxes = append(boxes, grid.At(colTyped+along, r.Typed, faceTight).As(grid.Named("typed", t.p.ID, t.a.Number, r.Key)))
	}
	t.beside(c.Row, boxes...)
	if r.Happened != "" {
		t.note(r.Label + ": " + r.Happened)
	}
}

func (t *table) beside(row int, boxes ...grid.Box) {
	for i := range boxes {
		boxes[i] = tight(boxes[i])
	}
	t.s.Beside(row, boxes...)
}

// changed counts 1 where an answer is no longer the recorded one, see recordRow.
func (t *table) changed(col int) grid.Box { return changedMark(col, t.s.Label("changed")) }

// item is a line of numbers: a reading, a value, or a value that is a reading judged.
type item struct {
	r *report.AnswerLine
	d *checks.Derived
	i int // of d among the values
}

// items are the lines of numbers, those that do not pass first.
func (t *table) items() []item {
	var out []item
	shared := map[int]bool{}
	for i, r := range t.a.Readings {
		if !r.Number {
			continue
		}
		it := item{r: &t.a.Readings[i]}
		for n, d := range t.a.Derived {
			if !shared[n] && isReading(d, r) && (it.d == nil || it.d.Limit == nil && d.Limit != nil) {
				it.d, it.i = &t.a.Derived[n], n
			}
		}
		if it.d != nil {
			shared[it.i] = true
		}
		out = append(out, it)
	}
	for n := range t.a.Derived {
		if !shared[n] {
			out = append(out, item{d: &t.a.Derived[n], i: n})
		}
	}
	rank := func(it item) int {
		if it.d != nil && it.d.Limit != nil && it.d.Verdict != checks.Pass {
			return 0
		}
		return 1
	}
	slices.SortStableFunc(out, func(a, b item) int { return cmp.Compare(rank(a), rank(b)) })
	return out
}

// isReading tells whether a value is a reading as it stands, with nothing worked out.
func isReading(d checks.Derived, r report.AnswerLine) bool {
	on := d.Expr.Readings()
	return len(on) == 1 && on[0] == r.Key && report.UnitWords(d.Unit) == report.UnitWords(r.Unit) && d.Bound == r.Bound && near(d.Value, r.Value)
}

// torn is how many lines of numbers stay with their heading at the end of a page.
const torn = 4

// numbers lays out the lines of numbers.
func (t *table) numbers() {
	items, done := t.items(), false // the reading stands in the row before
	for i, it := range items {
		if i == torn && len(items) > torn+2 {
			t.s.Flow()
		}
		switch {
		case it.r == nil:
			t.value(it)
		case done:
			done = false
		case it.plain() && i+1 < len(items) && items[i+1].plain():
			t.two(*it.r, *items[i+1].r)
			done = true
		default:
			t.reading(it)
		}
	}
}

// plain tells whether there is no more to a reading than its value.
func (it item) plain() bool {
	return it.r != nil && it.d == nil && it.r.Expect == nil && it.r.Happened == "" && utf8.RuneCountInString(it.r.Label) <= halfLabel
}

// two lays out two plain readings in a row.
func (t *table) two(a, b report.AnswerLine) {
	value := readingValue(b)
	value.Col, value.Span = colSee, colVerdict-colSee+1
	if b.Unit != "" && value.Look.Format != "" {
		value.Look.Format += grid.Quoted(" " + report.UnitWords(b.Unit))
	}
	row := t.s.Add(grid.At(colName, a.Label, faceTight), t.read(a, readingValue(a)), grid.At(colUnit, report.UnitWords(a.Unit), faceTight), grid.Across(colSpread, colHigh, b.Label, faceTight), t.read(b, value))
	c := grid.Cell{Sheet: t.s.Name, Row: row, Col: colValue}
	t.typed(a, c)
	t.typed(b, c.In(colSee))
	t.beside(row, grid.At(colMeter, a.Meter, faceTight), grid.At(colRemark2, b.Meter, faceTight))
}

// read is the cell of a reading.
func (t *table) read(r report.AnswerLine, value grid.Box) grid.Box {
	return input(tight(value).As(grid.Named("reading", t.p.ID, t.a.Number, r.Key)), t.accepts(r))
}

// typed keeps the cell of a reading, and puts beside its row how it was typed, by which
// entry, and whether it was changed since.
func (t *table) typed(r report.AnswerLine, c grid.Cell) {
	t.b.layout.Readings[t.spot(r.Key)] = c
	along := changedOf(c).Col - colChanged
	t.beside(c.Row, grid.At(colTyped+along, r.Typed, faceTight).As(grid.Named("typed", t.p.ID, t.a.Number, r.Key)), grid.Whole(colEntry+along, r.Entry), t.changed(colChanged+along))
}

// changedOf is the cell that tells whether the answer at a cell was changed.
func changedOf(c grid.Cell) grid.Cell {
	if c.Col == colSee {
		return c.In(colChanged + second)
	}
	return c.In(colChanged)
}

// reading lays out a reading, with the limit it is held against or what was expected.
func (t *table) reading(it item) {
	r, d := *it.r, it.d
	boxes := []grid.Box{grid.At(colName, r.Label, faceTight), t.read(r, readingValue(r)),
		grid.At(colUnit, report.UnitWords(r.Unit), faceTight)}
	see, side, expect := t.noteOf(r), []grid.Box{}, expected(r)
	switch {
	case d != nil:
		boxes = append(boxes, t.judged(d)...)
		if d.Limit != nil {
			see = t.letter(d.Limit.Source) + see
		}
		worked := grid.Number(colWorked, d.Value, decimalsOf(d), grid.NoOutcome).As(grid.Named("value", t.p.ID, t.a.Number, d.Key))
		for i := range expect {
			expect[i].Col += colExpectLow - colLow
		}
		side = append(append(append(side, worked), t.chance(d)...), expect...)
	case r.Expect != nil:
		boxes = append(boxes, grid.At(colSpread, nil, faceTight), tight(expect[0]), tight(expect[1]), grid.At(colVerdict, nil, faceTight))
		see = t.letter(t.s.Label("expected: %s", r.Expect.Source)) + see
	default:
		boxes = append(boxes, grid.Across(colSpread, colHigh, nil, faceTight), grid.At(colVerdict, nil, faceTight))
	}
	row := t.s.Add(append(boxes, t.see(see))...)
	c := grid.Cell{Sheet: t.s.Name, Row: row, Col: colValue}
	t.typed(r, c)
	source := ""
	if r.Expect != nil {
		source = r.Expect.Source
	}
	if d != nil && d.Limit != nil {
		source = d.Limit.Source
	}
	t.beside(row, append(side, grid.At(colMeter, r.Meter, faceTight), grid.At(colSource, source, faceTight), grid.At(colRemark, r.Remark, faceTight))...)
	if d != nil {
		t.worked(c.In(colWorked), it)
	}
}

// value lays out a value that is worked out.
func (t *table) value(it item) {
	d := it.d
	see := ""
	if d.Limit != nil {
		see = t.letter(d.Limit.Source)
	}
	boxes := append([]grid.Box{grid.At(colName, d.Name, faceTight), grid.At(colUnit, report.UnitWords(d.Unit), faceTight),
		tight(grid.Number(colValue, d.Value, decimalsOf(d), grid.NoOutcome)).As(grid.Named("value", t.p.ID, t.a.Number, d.Key))}, t.judged(d)...)
	row := t.s.Add(append(boxes, t.see(see))...)
	if d.Limit != nil {
		t.beside(row, append(t.chance(d), grid.At(colSource, d.Limit.Source, faceTight))...)
	}
	t.worked(grid.Cell{Sheet: t.s.Name, Row: row, Col: colValue}, it)
}

// worked puts formulas into the row of a value.
func (t *table) worked(c grid.Cell, it item) {
	t.b.layout.Derived[t.spot(it.d.Key)] = c
	if t.w != nil {
		workOut(t.s, c, *it.d, t.w.values[it.i])
	}
}

// letter is a source's among those of the table.
func (t *table) letter(source string) string {
	i := slices.Index(t.by, source)
	if i < 0 {
		i, t.by = len(t.by), append(t.by, source)
	}
	return letterOf(i)
}

// letterOf counts a to z, then aa to az and on.
func letterOf(i int) string {
	if i < 26 {
		return string(rune('a' + i))
	}
	return letterOf(i/26-1) + letterOf(i%26)
}

// note is the number of what became of a reading among those of the table.
func (t *table) note(words string) string {
	i := slices.Index(t.notes, words)
	if i < 0 {
		i, t.notes = len(t.notes), append(t.notes, words)
	}
	return strconv.Itoa(i + 1)
}

func (t *table) noteOf(r report.AnswerLine) string {
	if r.Happened == "" {
		return ""
	}
	return " " + t.note(r.Happened)
}

func (t *table) see(words string) grid.Box {
	look := faceTight
	look.Align = "center"
	return grid.At(colSee, strings.TrimSpace(words), look)
}

// told says below the table what its letters and numbers stand for.
func (t *table) told() {
	var all []string
	for i, source := range t.by {
		all = append(all, letterOf(i)+": "+source)
	}
	for i, words := range t.notes {
		all = append(all, fmt.Sprintf("%d: %s", i+1, words))
	}
	tell(t.s, "", strings.Join(all, "; "))
}
