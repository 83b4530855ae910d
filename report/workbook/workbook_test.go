package workbook

import (
	"archive/zip"
	"bytes"
	"encoding/json"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/xuri/excelize/v2"

	"handback/checks"
	"handback/checks/plan"
	"handback/checks/quantity"
	"handback/records"
	"handback/report"
	"handback/report/grid"
	"handback/testdata/rig"
)

// made lays a document out and reads it back with raw values: what is in the
// cells, not what they show.
func made(t testing.TB, d *report.Document) (data []byte, f *excelize.File, l layout) {
	t.Helper()
	b, err := LayOut(d)
	if err != nil {
		t.Fatal(err)
	}
	if data, err = b.Bytes(); err != nil {
		t.Fatal(err)
	}
	if f, err = excelize.OpenReader(bytes.NewReader(data), excelize.Options{RawCellValue: true}); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { f.Close() })
	return data, f, b.layout
}

func cellOf(t testing.TB, f *excelize.File, c grid.Cell) string {
	t.Helper()
	v, err := f.GetCellValue(c.Sheet, c.Name())
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// holdsNumber checks that a cell is a number, not text, and equals x to the 15 digits
// that a spreadsheet keeps.
func holdsNumber(t *testing.T, f *excelize.File, c grid.Cell, x float64) {
	t.Helper()
	kind, err := f.GetCellType(c.Sheet, c.Name())
	if err != nil {
		t.Fatal(err)
	}
	got, err := strconv.ParseFloat(cellOf(t, f, c), 64)
	if err != nil || kind == excelize.CellTypeInlineString || kind == excelize.CellTypeSharedString || !(math.Abs(got-x) <= 1e-14*math.Abs(x)) {
		t.Errorf("%s holds %q (type %d), want the number %v", c.Ref(), cellOf(t, f, c), kind, x)
	}
}

func holdsText(t *testing.T, f *excelize.File, c grid.Cell, want string) {
	t.Helper()
	if got := cellOf(t, f, c); got != want {
		t.Errorf("%s holds %q, want %q", c.Ref(), got, want)
	}
}

func TestWorkbook_holds_every_number(t *testing.T) {
	for name, story := range map[string]func(testing.TB) *rig.Rig{"told": rig.Told, "nasty": rig.Nasty} {
		t.Run(name, func(t *testing.T) {
			r := story(t)
			d := r.Document(r.Now.Add(time.Hour))
			_, f, l := made(t, d)
			readings, derived := 0, 0
			for _, p := range d.Pages() {
				holdsText(t, f, l.Results[p.ID], strings.ToUpper(p.Verdict.String()))
				holdsText(t, f, l.Checks[p.ID], strings.ToUpper(p.Verdict.String()))
				for _, a := range p.Attempts {
					holdsText(t, f, l.Attempts[spot{p.ID, a.Number, ""}], strings.ToUpper(a.Verdict.String()))
					for _, x := range a.Readings {
						if x.Number {
							readings++
							readingStands(t, f, l.Readings[spot{p.ID, a.Number, x.Key}], x)
						}
					}
					for _, x := range a.Derived {
						derived++
						derivedStands(t, f, l.Derived[spot{p.ID, a.Number, x.Key}], x)
					}
				}
			}
			if readings < 10 || derived < 10 {
				t.Errorf("%d readings, %d derived values: the story has more", readings, derived)
			}
			head, rest := overallParts(d.Overall)
			holdsText(t, f, l.Overall, head)
			holdsText(t, f, grid.Cell{Sheet: l.Overall.Sheet, Row: l.Overall.Row + 1, Col: l.Overall.Col}, rest)
		})
	}
}

func readingStands(t *testing.T, f *excelize.File, c grid.Cell, x report.AnswerLine) {
	t.Helper()
	holdsNumber(t, f, c, x.Value)
	label, along := c.In(colName), changedOf(c).Col-colChanged
	if along > 0 {
		label = c.In(colSpread)
	}
	holdsText(t, f, label, x.Label)
	holdsNumber(t, f, c.In(colEntry+along), float64(x.Entry))
	holdsText(t, f, c.In(colTyped+along), x.Typed)
	if along == 0 {
		holdsText(t, f, c.In(colUnit), x.Unit)
		holdsText(t, f, c.In(colMeter), x.Meter)
	}
	if x.Expect == nil {
		return
	}
	low := c.In(colLow)
	if cellOf(t, f, c.In(colExpectLow)) != "" { // the limit stands there
		low = c.In(colExpectLow)
	}
	holdsNumber(t, f, low, quantity.FromBase(x.Expect.Low, x.Unit))
	holdsNumber(t, f, low.In(low.Col+1), quantity.FromBase(x.Expect.High, x.Unit))
}

func derivedStands(t *testing.T, f *excelize.File, c grid.Cell, x checks.Derived) {
	t.Helper()
	holdsNumber(t, f, c, x.Value)
	if c.Col == colValue {
		holdsText(t, f, c.In(colName), x.Name)
	}
	if quantity.Finite(x.U) {
		holdsNumber(t, f, c.In(colSpread), x.U)
	}
	if x.Limit == nil {
		holdsText(t, f, c.In(colVerdict), "shown")
		return
	}
	for col, side := range map[int]float64{colLow: x.Limit.Low, colHigh: x.Limit.High} {
		if math.IsNaN(side) {
			holdsText(t, f, c.In(col), "none")
		} else {
			holdsNumber(t, f, c.In(col), side)
		}
	}
	holdsText(t, f, c.In(colSource), x.Limit.Source)
	holdsText(t, f, c.In(colVerdict), strings.ToUpper(x.Verdict.String()))
}

func TestWorkbook_parts_are_well_formed_and_in_order(t *testing.T) {
	r := rig.Nasty(t)
	data, _, _ := made(t, r.Document(r.Now))
	z, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, f := range z.File {
		names = append(names, f.Name)
		if !f.Modified.Equal(time.Date(1980, 1, 1, 0, 0, 0, 0, time.UTC)) {
			t.Errorf("%s carries the time %s", f.Name, f.Modified)
		}
	}
	if !slices.IsSorted(names) || !slices.Contains(names, "docProps/core.xml") || !slices.Contains(names, "[Content_Types].xml") {
		t.Errorf("parts %q", names)
	}
	for name, content := range rig.Parts(t, data) {
		if strings.HasPrefix(name, "xl/media/") {
			continue // a picture
		}
		if name == grid.DataPart {
			if !json.Valid(content) {
				t.Errorf("%s is no JSON", name)
			}
			continue
		}
		dec := xml.NewDecoder(bytes.NewReader(content))
		for {
			if _, err := dec.Token(); errors.Is(err, io.EOF) {
				break
			} else if err != nil {
				t.Fatalf("%s: %v", name, err)
			}
		}
	}
	// LibreOffice trusts stored results of the program that is named here too far.
	if app := string(rig.Parts(t, data)["docProps/app.xml"]); !strings.Contains(app, "<Application>handback</Application>") {
		t.Errorf("application properties: %s", app)
	}
	core := string(rig.Parts(t, data)["docProps/core.xml"])
	if !strings.Contains(core, "<cp:lastModifiedBy>handback</cp:lastModifiedBy>") || !strings.Contains(core, ">2026-03-02T07:13:00Z</dcterms:modified>") {
		t.Errorf("core properties: %s", core)
	}
}

// childWorkbook: path of a book, job, plan file. Writes the job's workbook to stdout.
func childWorkbook(args []string) error {
	book, err := records.Open(rig.Ctx, args[0])
	if err != nil {
		return err
	}
	defer book.Close()
	data, err := os.ReadFile(args[2])
	if err != nil {
		return err
	}
	plan, err := plan.Load("pump.yaml", data)
	if err != nil {
		return err
	}
	entries, err := book.Entries(rig.Ctx, args[1])
	if err != nil {
		return err
	}
	j, err := report.Fold(plan, entries)
	if err != nil {
		return err
	}
	d, err := report.NewDocument(j, rig.Dawn.Add(2*time.Hour))
	if err != nil {
		return err
	}
	out, err := Make(d)
	if err != nil {
		return err
	}
	_, err = os.Stdout.Write(out)
	return err
}

func init() { rig.Children["workbook"] = childWorkbook }

func TestWorkbook_same_bytes_in_two_processes(t *testing.T) {
	r := rig.Told(t)
	here, err := Make(r.Document(rig.Dawn.Add(2 * time.Hour)))
	if err != nil {
		t.Fatal(err)
	}
	for range 3 {
		out, err := rig.Child(t, "workbook", r.Book.Path(), r.ID, "../../testdata/rig/testdata/pump.yaml").Output()
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(here, out) {
			t.Fatalf("%d bytes here, %d there, and they differ", len(here), len(out))
		}
	}
}

func TestWorkbook_shows_decimals_that_tell(t *testing.T) {
	d := rig.Told(t).Document(rig.Dawn)
	b, err := LayOut(d)
	if err != nil {
		t.Fatal(err)
	}
	data, err := b.Bytes()
	if err != nil {
		t.Fatal(err)
	}
	f, err := excelize.OpenReader(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	for c, want := range map[grid.Cell]string{
		b.layout.Readings[spot{"hv", 1, "value"}]:                         "11.20",
		b.layout.Readings[spot{"volts", 2, "l1l2"}]:                       "440.9",
		b.layout.Derived[spot{"volts", 2, "predicted"}]:                   "440.9",
		b.layout.Derived[spot{"volts", 2, "band_l1l2"}].In(colLow):        "400",
		b.layout.Derived[spot{"earth-ref", 1, "value_value"}].In(colHigh): "5",
	} {
		holdsText(t, f, c, want)
	}
}

func TestExpected_stands_in_the_unit_of_the_reading(t *testing.T) {
	got := expected(report.AnswerLine{Unit: "kV", Expect: &checks.Expect{Low: 10500, High: 11500, Source: "plan"}})
	if got[0].Value != 10.5 || got[1].Value != 11.5 {
		t.Errorf("expected %v to %v, want 10.5 to 11.5", got[0].Value, got[1].Value)
	}
}

// What goes on in rows below stands there alone: nothing beside it is said twice.
func TestWorkbook_continuations_repeat_nothing(t *testing.T) {
	r := rig.Nasty(t)
	d := r.Document(r.Now)
	_, f, _ := made(t, d)
	rows, err := f.GetRows("Entries")
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, row := range rows[3:] {
		if len(row) > 0 && row[0] != "" {
			got = append(got, row[0])
		}
	}
	if len(rows)-3 <= len(d.Log) {
		t.Fatalf("%d rows for %d entries: the story has texts longer than a row", len(rows)-3, len(d.Log))
	}
	var want []string
	for _, l := range d.Log {
		want = append(want, strconv.Itoa(l.Seq))
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
}

func TestSheetNames(t *testing.T) {
	d := rig.Told(t).Document(rig.Dawn)
	page := d.Groups[0].Checks[:1]
	d.Groups = nil
	given := []string{"certificate", "Results", "Entries", "a/b:c*d?[e]\\", "", "'quoted'", strings.Repeat("long ", 12), strings.Repeat("long ", 12), "Live", "LIVE"}
	for i, name := range given {
		p := page[0]
		p.ID = fmt.Sprint("check-", i) // its cells have names
		d.Groups = append(d.Groups, report.Group{Name: name, Checks: []report.CheckPage{p}})
	}
	_, f, _ := made(t, d)
	want := []string{"Certificate", "certificate 2", "Results", "Entries 2", "a b c d  e", "Checks", "quoted",
		"long long long long long long l", "long long long long long long 2", "Live", "LIVE 2", "Log", "Method", "Limits", "Flags", "Instruments", "Entries", "Plan", "Recorded"}
	if diff := cmp.Diff(want, f.GetSheetList()); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
}

func TestCell_Ref(t *testing.T) {
	if got, want := (grid.Cell{Sheet: "Eva's checks", Row: 12, Col: 28}).Ref(), "'Eva''s checks'!AB12"; got != want {
		t.Errorf("%s, want %s", got, want)
	}
}

// wide is a document of n sheets of checks with 80 readings and 80 derived values
// each.
func wide(t testing.TB, n int) *report.Document {
	d := rig.Told(t).Document(rig.Dawn)
	var source report.CheckPage
	for _, p := range d.Pages() {
		if p.ID == "volts" {
			source = p
		}
	}
	a := source.Attempts[1]
	for len(a.Readings) < 80 {
		a.Readings = append(a.Readings, a.Readings[1])
	}
	for len(a.Derived) < 80 {
		a.Derived = append(a.Derived, a.Derived...)
	}
	a.Derived = a.Derived[:80]
	finding := *a.Finding
	finding.Derived = a.Derived
	a.Finding = &finding
	source.Attempts = []report.AttemptPage{a}
	d.Groups = nil
	for i := range n {
		d.Groups = append(d.Groups, report.Group{Name: fmt.Sprintf("Group %d", i+1), Checks: []report.CheckPage{source}})
	}
	return d
}

// BenchmarkWorkbook is twelve sheets of 160 rows and ten columns, beside the certificate
// and the lists.
func BenchmarkWorkbook(b *testing.B) {
	d := wide(b, 12)
	for b.Loop() {
		if _, err := Make(d); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkWorkbook_hundred is a job of a hundred checks and more: the base of every
// kind five times over, with all its formulas.
func BenchmarkWorkbook_hundred(b *testing.B) {
	d := hundred(b)
	for b.Loop() {
		if _, err := Make(d); err != nil {
			b.Fatal(err)
		}
	}
}
