package workbook

import (
	"bytes"
	"math"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/xuri/excelize/v2"

	"handback/checks"
	"handback/report"
	"handback/report/grid"
	"handback/testdata/outside"
	"handback/testdata/recalc"
	"handback/testdata/rig"
)

// edits are workbooks in which somebody changed cells, for LibreOffice to work out in
// one go.
type edits struct {
	t     *testing.T
	books map[string][]byte
	anew  map[string]map[string]recalc.Sheet
}

// add makes a book of another with cells changed; what a formula gave stands as given.
func (e *edits) add(name string, data []byte, cells map[grid.Cell]any) {
	e.t.Helper()
	f, err := excelize.OpenReader(bytes.NewReader(data))
	if err != nil {
		e.t.Fatal(err)
	}
	defer f.Close()
	for c, v := range cells {
		if err := f.SetCellValue(c.Sheet, c.Name(), v); err != nil {
			e.t.Fatal(err)
		}
	}
	out, err := f.WriteToBuffer()
	if err != nil {
		e.t.Fatal(err)
	}
	e.books[name] = out.Bytes()
}

func (e *edits) run() {
	e.t.Helper()
	anew, err := recalc.Run(e.t.TempDir(), e.books)
	if err != nil {
		e.t.Fatal(err)
	}
	e.anew = map[string]map[string]recalc.Sheet{}
	for name, data := range anew {
		if e.anew[name], err = recalc.Read(data); err != nil {
			e.t.Fatal(err)
		}
	}
}

func (e *edits) shows(book string, c grid.Cell) string { return e.anew[book][c.Sheet][c.Name()].Value }

// want compares with a number or a text; texts that no formula gives are not read.
func (e *edits) want(book string, c grid.Cell, want any) {
	e.t.Helper()
	got := e.shows(book, c)
	x, err := strconv.ParseFloat(got, 64)
	switch w := want.(type) {
	case string:
		if got != w {
			e.t.Errorf("%s: %s shows %q, want %q", book, c.Ref(), got, w)
		}
	case float64:
		if err != nil || !(math.Abs(x-w) <= 1e-9*math.Abs(w)) {
			e.t.Errorf("%s: %s shows %q, want %v", book, c.Ref(), got, w)
		}
	}
}

// What a workbook shows when somebody edits it, by LibreOffice.
func TestOutside_LibreOffice_edits(t *testing.T) {
	outside.Long(t)
	outside.Tool(t, "soffice")
	r := rig.Told(t)
	d := r.Document(r.Now.Add(time.Hour))
	b, err := LayOut(d)
	if err != nil {
		t.Fatal(err)
	}
	data, _, _ := made(t, d)
	e := &edits{t: t, books: map[string][]byte{"as recorded": data}}
	turns := caseDocuments(t)["rotation"]
	turned, _, l := made(t, turns)
	addBudgetEdits(e, b, data)
	inputs := addEveryInput(e, b, data)
	addTurns(e, turns, l, turned)
	e.run()
	t.Run("budget", func(t *testing.T) { e.t = t; budgetEdits(e, b) })
	t.Run("no flattery", func(t *testing.T) { e.t = t; nothingFlatters(e, b, inputs) })
	t.Run("what follows falls", func(t *testing.T) { e.t = t; followersFall(e, turns, l) })
}

// volts are the cells of the value that these tests edit: on the sheet of its check and
// in its working, where its budget stands in the two rows above.
func volts(t testing.TB, b *book) (value, working grid.Cell) {
	t.Helper()
	for _, p := range b.doc.Pages() {
		for _, a := range p.Attempts {
			for i, d := range a.Derived {
				if p.ID == "volts" && a.Number == 2 && d.Key == "band_l1l2" {
					return b.layout.Derived[spot{"volts", 2, d.Key}], b.layout.Workings[spot{"volts", 2, ""}].values[i]
				}
			}
		}
	}
	t.Fatal("the story has no such value")
	return
}

func addBudgetEdits(e *edits, b *book, data []byte) {
	_, working := volts(e.t, b)
	digits, gain := working.Up(1), working.Up(2)
	reading := b.layout.Readings[spot{"volts", 2, "l1l2"}]
	for name, cells := range map[string]map[grid.Cell]any{
		"half-width":   {digits.In(workHalf): 0.6},
		"sensitivity":  {gain.In(workSens): 8.818},
		"contribution": {gain.In(workPart): 0},
		"poor meter":   {digits.In(workHalf): 60},
		"inside":       {reading: 440.8},
		"beyond":       {reading: 480},
	} {
		e.add(name, data, cells)
	}
}

// 440.9 V by ±(0.5 % + 3 digits of 0.1 V) is ±2.2045 ± 0.3 V: U is their sum, and follows
// the half-widths and contributions that stand in the budget (JCGM 100:2008, 5.1.2,
// 4.3.7). After an edit of the reading it is marked as that of the record and the value
// does not pass, however far inside; it fails where it is beyond. The attempt comes to what
// it is judged to come to by that reading; what does not rest on it stays.
func budgetEdits(e *edits, b *book) {
	value, working := volts(e.t, b)
	digits, gain, root3 := working.Up(1), working.Up(2), math.Sqrt(3)
	attempt := b.layout.Attempts[spot{"volts", 2, ""}]
	other := b.layout.Derived[spot{"volts", 2, "band_l2l3"}].In(colVerdict)
	reading := b.layout.Readings[spot{"volts", 2, "l1l2"}]
	stands := b.layout.Results["volts"].In(colStands)
	for c, want := range map[grid.Cell]any{gain.In(workHalf): 0.5, gain.In(workSens): 4.409, gain.In(workPart): 2.2045 / root3, digits.In(workValue): 440.9, digits.In(workHalf): 0.3,
		digits.In(workStandard): 0.3 / root3, working.In(workStandard): 2.5045 / root3, working.In(workMost): 2.5045, value.In(colSpread): 2.5045,
		working.In(workChanged): 0.0, attempt: "PASS", value.In(colVerdict): "PASS"} {
		e.want("as recorded", c, want)
	}
	e.want("half-width", value.In(colSpread), 2.8045)
	e.want("sensitivity", value.In(colSpread), 4.709)
	e.want("contribution", value.In(colSpread), 0.3)
	e.want("poor meter", value.In(colVerdict), "INCONCLUSIVE")
	e.want("poor meter", attempt, checks.Unreached)
	for book, is := range map[string][3]string{"inside": {checks.Unreached, "PASS", report.StandsClosed}, "beyond": {"FAIL", "FAIL", report.StandsOpen}} {
		for c, want := range map[grid.Cell]any{working.In(workChanged): 1.0, reading.In(colChanged): 1.0, value.In(colSpread): 2.5045, value.In(colChance): grid.NotKnown,
			value.In(colVerdict): is[0], other: "PASS", attempt: is[1], stands: is[2]} {
			e.want(book, c, want)
		}
	}
	if format := b.At(working.Sheet).BoxAt(working.In(workChanged)).Look.Format; format != `"U of the record";;` {
		e.t.Errorf("the mark of an edited reading shows as %q", format)
	}
}

// editedInput is an answer that some book has changed.
type editedInput struct {
	book string
	page report.CheckPage
	of   report.AttemptPage
	cell grid.Cell
}

// addEveryInput edits every answer that was read or chosen, the nth of every attempt in
// the nth book.
func addEveryInput(e *edits, b *book, data []byte) []editedInput {
	var all []editedInput
	cells := map[string]map[grid.Cell]any{}
	for _, p := range b.doc.Pages() {
		for _, a := range p.Attempts {
			n := 0
			for _, r := range a.Readings {
				spot := spot{p.ID, a.Number, r.Key}
				c, value := b.layout.Readings[spot], any(r.Value*1.001+0.001)
				if !r.Number {
					c, value = b.layout.Words[spot], any("something else")
				}
				if r.Chosen == "" && !r.Number || a.Finding == nil {
					continue
				}
				n++
				book := "input " + strconv.Itoa(n)
				if cells[book] == nil {
					cells[book] = map[grid.Cell]any{}
				}
				cells[book][c] = value
				all = append(all, editedInput{book, p, a, c})
			}
		}
	}
	for book := range cells {
		e.add(book, data, cells[book])
	}
	return all
}

// No edit of an answer leaves the cover as it was, nor its attempt passing where nothing
// tells what it would be judged to come to.
func nothingFlatters(e *edits, b *book, inputs []editedInput) {
	for _, in := range inputs {
		if got := e.shows(in.book, b.layout.Overall); !strings.HasPrefix(got, "WHAT-IF: ") {
			e.t.Errorf("%s changed: the cover says %q", in.cell.Ref(), got)
		}
		if in.of.Again != nil {
			continue
		}
		if got := e.shows(in.book, b.layout.Attempts[spot{in.page.ID, in.of.Number, ""}]); got == "" || got == "PASS" {
			e.t.Errorf("%s changed: attempt %d of %s comes to %q", in.cell.Ref(), in.of.Number, in.page.ID, got)
		}
		if in.page.Newest().Number != in.of.Number {
			continue
		}
		if got := e.shows(in.book, b.layout.Results[in.page.ID].In(colStands)); got != report.StandsOpen && got != report.StandsStop {
			e.t.Errorf("%s changed: %s stands as %q", in.cell.Ref(), in.page.ID, got)
		}
	}
	if len(inputs) < 20 {
		e.t.Errorf("%d answers: the story has more", len(inputs))
	}
}

var turnWords = []string{"forward", "reverse"}

// addTurns edits the rotation of every attempt to each word.
func addTurns(e *edits, d *report.Document, l layout, data []byte) {
	for _, turn := range turnWords {
		cells := map[grid.Cell]any{}
		for _, p := range d.Pages() {
			if c, ok := l.Words[spot{p.ID, 1, "rotation"}]; ok {
				cells[c] = turn
			}
		}
		e.add(turn, data, cells)
	}
}

// A reason that follows from others falls with them when the answer that brought it is
// edited to what was wanted.
func followersFall(e *edits, d *report.Document, l layout) {
	fallen := 0
	for _, p := range d.Pages() {
		f := p.Attempts[0].Finding
		if f == nil || f.Stop.None() {
			continue
		}
		for i, basis := range f.Bases {
			if len(basis.After) == 0 {
				continue
			}
			c := l.Reasons[spot{p.ID, 1, ""}][i]
			was, now := e.shows(turnWords[0], c), e.shows(turnWords[1], c)
			if was != "PASS" && now != "PASS" {
				e.t.Errorf("%s: the stop is %q and %q whichever way the rotation is edited", p.ID, was, now)
			}
			fallen++
		}
	}
	if fallen == 0 {
		e.t.Error("no stop follows from a rotation")
	}
}

// What a check stands as on the results follows its verdict as stands tells it,
// whatever closes it.
func TestStandsFormula(t *testing.T) {
	f := excelize.NewFile()
	defer f.Close()
	b := &book{layout: newLayout()}
	c, changed, out := grid.Cell{Sheet: "Sheet1", Row: 1, Col: 1}, grid.Cell{Sheet: "Sheet1", Row: 1, Col: 2}, grid.Cell{Sheet: "Sheet1", Row: 1, Col: 3}
	b.layout.Inputs[spot{"c", 1, ""}] = changed.Ref()
	for hang, same := range map[report.Hang]string{report.HangsOnVerdict: "", report.HangsOnStop: report.StandsStop, report.Accepted: report.StandsAccepted} {
		for i := range checks.Verdicts() {
			was := checks.Verdict(i)
			p := report.CheckPage{ID: "c", Hangs: hang, Verdict: was, Attempts: []report.AttemptPage{{Number: 1, Judged: true, Verdict: was}}}
			for j := range checks.Verdicts() {
				for _, edits := range []int{0, 1} {
					is := checks.Verdict(j)
					want := report.StandsOpen
					switch {
					case was == is && same != "" && !(hang == report.Accepted && edits > 0):
						want = same
					case is == checks.Pass:
						want = report.StandsClosed
					}
					for cell, v := range map[grid.Cell]any{c: grid.WordOf(is), changed: edits} {
						if err := f.SetCellValue("Sheet1", cell.Name(), v); err != nil {
							t.Fatal(err)
						}
					}
					if err := f.SetCellFormula("Sheet1", out.Name(), b.standsFormula(p, c)); err != nil {
						t.Fatal(err)
					}
					if got, err := f.CalcCellValue("Sheet1", out.Name()); err != nil || got != want {
						t.Errorf("hangs as %d on %s, shows %s, %d edits: stands as %s, want %s", hang, was, is, edits, got, want)
					}
					if was == is && edits == 0 && report.Stands(p.Hangs, p.Verdict) != want {
						t.Errorf("hangs as %d on %s: the record says %s, the formula %s", hang, was, report.Stands(p.Hangs, p.Verdict), want)
					}
				}
			}
		}
	}
	if s := b.standsFormula(report.CheckPage{Hangs: report.HangsOnRecord}, c); s != "" {
		t.Errorf("what hangs on the record has the formula %s", s)
	}
}

// An answer of an earlier check stands where the judgement took it from: in the newest
// attempt that had been judged by then, though others before and after hold the same.
func TestLinks_go_to_the_attempt_that_was_used(t *testing.T) {
	b := &book{layout: newLayout(), doc: &report.Document{}}
	earlier := report.CheckPage{ID: "side-a"}
	for i, first := range []int{5, 9, 20} {
		n := i + 1
		earlier.Attempts = append(earlier.Attempts, report.AttemptPage{Number: n, Judged: true, First: first, Entry: first + 30,
			Readings: []report.AnswerLine{{Key: "rotation", Word: "clockwise", Chosen: "clockwise"}, {Key: "volts", Number: true, Value: 400, Unit: "V"}}})
		b.layout.Words[spot{"side-a", n, "rotation"}] = grid.Cell{Sheet: "Live", Row: 10 * n, Col: colValue}
		b.layout.Readings[spot{"side-a", n, "volts"}] = grid.Cell{Sheet: "Live", Row: 10*n + 1, Col: colValue}
	}
	later := report.CheckPage{ID: "side-b", Attempts: []report.AttemptPage{{Number: 1, Judged: true, First: 12, Entry: 12, Readings: []report.AnswerLine{{Key: "rotation", Word: "clockwise"}}}}}
	b.layout.Words[spot{"side-b", 1, "rotation"}] = grid.Cell{Sheet: "Live", Row: 90, Col: colValue}
	b.doc.Groups = []report.Group{{Name: "Live", Checks: []report.CheckPage{earlier, later}}}
	b.number()
	a := later.Attempts[0]
	if c, ok := b.answerCell("side-a/rotation", "clockwise", later, a); !ok || c != (grid.Cell{Sheet: "Live", Row: 20, Col: colValue}) {
		t.Errorf("the word stands at %v (%v), want attempt 2 in row 20", c, ok)
	}
	if c, unit, ok := b.readingCell("side-a/volts", 400, later, a); !ok || unit != "V" || c != (grid.Cell{Sheet: "Live", Row: 21, Col: colValue}) {
		t.Errorf("the reading stands at %v (%v), want attempt 2 in row 21", c, ok)
	}
	if c, ok := b.answerCell("rotation", "clockwise", later, a); !ok || c.Row != 90 {
		t.Errorf("its own word stands at %v (%v), want row 90", c, ok)
	}
	for what, key := range map[string]string{"another word": "side-a/rotation", "a check of no page": "side-c/rotation", "an answer that was not given": "side-a/none"} {
		if c, ok := b.answerCell(key, "anticlockwise", later, a); ok {
			t.Errorf("%s is found at %v", what, c)
		}
	}
	if _, _, ok := b.readingCell("side-a/volts", 401, later, a); ok {
		t.Error("a reading put right since is taken for the one judged")
	}
	a.Entry = 4
	if c, ok := b.answerCell("side-a/rotation", "clockwise", later, a); ok {
		t.Errorf("judged before any of them, it took the word from %v", c)
	}
}
