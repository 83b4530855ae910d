package grid

import (
	"bytes"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/xuri/excelize/v2"

	"handback/testdata/resaved"
)

// longList is one that no rule holds.
var longList = []string{"in service", strings.Repeat("w", 300)}

// sampler is a book with everything that a sheet can be told: cells to fill in, links,
// columns that are not printed, a sheet that is not, a heading with a formula.
func sampler(t testing.TB) *Book {
	t.Helper()
	b := NewBook("sampler", "sampler", time.Date(2026, 3, 31, 14, 0, 0, 0, time.UTC))
	front, annex := b.Sheet("What's read"), b.Sheet("Annex")
	front.Widths, front.Printed, front.Repeat = []float64{30, 12, 12, 12}, 3, 1
	head := At(1, "as recorded", FaceLabel)
	head.Formula = `IF(B2=432.6,"as recorded","WHAT-IF")`
	front.Add(head)
	front.Add(At(1, "volts", FaceCell), Number(2, 432.6, 1, "").Input(Accepts{Number: true, Low: 0, High: 1000, Title: "L1-L2", Hint: "in V", Refusal: "a number up to 1000"}), At(4, "inner", FaceCell))
	front.Add(At(1, "more volts", FaceCell), Number(2, 430.2, 1, "").Input(Accepts{Number: true, Low: 0, High: 1000, Title: "L1-L2", Hint: "in V", Refusal: "a number up to 1000"}))
	front.Add(At(1, "turns", FaceCell), Number(2, 7, 0, "").Input(Accepts{Number: true, Low: math.NaN()}))
	front.Add(At(1, "live", FaceCell), Across(2, 3, "live", FaceCell).Input(Accepts{Words: []string{"live", "not live"}}))
	front.Add(At(1, "state", FaceCell), At(2, "in service", FaceCell).Input(Accepts{Words: longList, Warns: true}))
	front.Add(At(1, "time", FaceCell), At(2, "14:05", FaceCell).Input(Accepts{Digit: true}))
	for i := range 120 {
		front.Add(At(1, "row", FaceCell), Whole(2, i+1))
	}
	annex.Widths, annex.Unprinted, annex.Repeat = []float64{30}, true, 1
	row := annex.Add(At(1, "nobody prints this", FaceCell))
	b.Sheets = []*Sheet{front, annex}
	b.Link(Cell{front.Name, 1, 1}, Cell{annex.Name, row, 1})
	b.Link(Cell{front.Name, 2, 1}, Cell{annex.Name, row, 1})
	b.Link(Cell{annex.Name, row, 1}, Cell{front.Name, 2, 1})
	return b
}

func openedBook(t testing.TB, b *Book) *excelize.File {
	t.Helper()
	data, err := b.Bytes()
	if err != nil {
		t.Fatal(err)
	}
	f, err := excelize.OpenReader(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { f.Close() })
	return f
}

// Every sheet is protected without a password; exactly the cells to fill in are open, and
// framed as no other cell is.
func TestInputs_alone_are_open(t *testing.T) {
	b := sampler(t)
	inputs := b.Inputs()
	f := openedBook(t, b)
	if len(inputs) != 6 {
		t.Errorf("inputs %v", inputs)
	}
	for _, s := range b.Sheets {
		p, err := f.GetSheetProtection(s.Name)
		if err != nil || p.Password != "" || p.AlgorithmName != "" || !p.SelectUnlockedCells || p.FormatCells {
			t.Errorf("%s: protection %+v, %v", s.Name, p, err)
		}
		for row := range s.Rows {
			for col := range s.Widths {
				c := Cell{s.Name, row + 1, col + 1}
				id, err := f.GetCellStyle(s.Name, c.Name())
				if err != nil {
					t.Fatal(err)
				}
				style, err := f.GetStyle(id)
				if err != nil {
					t.Fatal(err)
				}
				isInput := slices.Contains(inputs, c) || c == inputs[3].In(3) // which is two cells wide
				open := style.Protection != nil && !style.Protection.Locked
				framed := len(style.Border) == 4 && style.Border[0].Style == borders[FrameInput]
				if open != isInput || framed != isInput {
					t.Errorf("%s: open %v, framed %v, to fill in %v", c.Ref(), open, framed, isInput)
				}
			}
		}
	}
}

// Cells that accept the same share a rule; a list that no rule holds stands on a hidden
// sheet.
func TestInputs_accept(t *testing.T) {
	f := openedBook(t, sampler(t))
	rules, err := f.GetDataValidations("What's read")
	if err != nil {
		t.Fatal(err)
	}
	type rule struct{ At, Type, Low, High, Style string }
	var got []rule
	for _, r := range rules {
		style := ""
		if r.ErrorStyle != nil {
			style = *r.ErrorStyle
		}
		got = append(got, rule{r.Sqref, r.Type, r.Formula1, r.Formula2, style})
	}
	want := []rule{
		{"B2 B3", "decimal", "0", "1000", "stop"},
		{"B4", "decimal", "-1E+30", "1E+30", "stop"},
		{"B5", "list", `"live,not live"`, "", "stop"},
		{"B6", "list", "'Lists'!$A$1:$A$2", "", "warning"},
		{"B7", "custom", `SUMPRODUCT(--ISNUMBER(VALUE(MID(B7,ROW($1:$40),1))))>0`, "", "stop"},
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("rules (-want +got):\n%s", diff)
	}
	visible, err := f.GetSheetVisible(ListsSheet)
	if second, _ := f.GetCellValue(ListsSheet, "A2"); err != nil || visible || second != longList[1] {
		t.Errorf("lists: visible %v, %v, %q", visible, err, second)
	}
}

func TestLinks_lead_there_and_back(t *testing.T) {
	f := openedBook(t, sampler(t))
	for at, want := range map[Cell]string{{"What's read", 1, 1}: "'Annex'!A1", {"What's read", 2, 1}: "'Annex'!A1", {"Annex", 1, 1}: "'What''s read'!A2"} {
		leads, to, err := f.GetCellHyperLink(at.Sheet, at.Name())
		if err != nil || !leads || to != want {
			t.Errorf("%s leads to %q, want %q: %v", at.Ref(), to, want, err)
		}
	}
}

// A strict reader takes all of it: parts declared and linked, elements, rows and cells in
// the order of the standard.
func TestBytes_sound(t *testing.T) {
	data, err := sampler(t).Bytes()
	if err != nil {
		t.Fatal(err)
	}
	for _, fault := range resaved.Unsound(t, data) {
		t.Error(fault)
	}
	swapped := bytes.NewBuffer(nil)
	z := &SteadyZip{Into: swapped, Parts: map[string]*bytes.Buffer{}}
	p, err := OpenParts(data)
	if err != nil {
		t.Fatal(err)
	}
	for name, part := range p {
		if name == "xl/worksheets/sheet1.xml" {
			part = bytes.Replace(bytes.Replace(part, []byte("hyperlinks>"), []byte("pageSetup>"), 2), []byte(`r="B3"`), []byte(`r="A3"`), 1)
		}
		if name != "docProps/app.xml" {
			z.Parts[name] = bytes.NewBuffer(part)
		}
	}
	z.Core = p[CorePart]
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	if faults := resaved.Unsound(t, swapped.Bytes()); len(faults) < 4 {
		t.Errorf("a swapped element, a cell that stands twice and a part that is not there are told as %q", faults)
	}
}
