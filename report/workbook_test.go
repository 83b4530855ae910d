package report

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
	"handback/records"
)

// made lays a document out and reads it back with raw values: what is in the
// cells, not what they show.
func made(t testing.TB, d *Document) (data []byte, f *excelize.File, l Layout) {
	t.Helper()
	b, err := layOut(d)
	if err != nil {
		t.Fatal(err)
	}
	if data, err = b.bytes(); err != nil {
		t.Fatal(err)
	}
	if f, err = excelize.OpenReader(bytes.NewReader(data), excelize.Options{RawCellValue: true}); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { f.Close() })
	return data, f, b.layout
}

func cellOf(t testing.TB, f *excelize.File, c Cell) string {
	t.Helper()
	v, err := f.GetCellValue(c.Sheet, c.Name())
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// holdsNumber checks that a cell is a number, not text, and equals x to the 15 digits
// that a spreadsheet keeps.
func holdsNumber(t *testing.T, f *excelize.File, c Cell, x float64) {
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

func holdsText(t *testing.T, f *excelize.File, c Cell, want string) {
	t.Helper()
	if got := cellOf(t, f, c); got != want {
		t.Errorf("%s holds %q, want %q", c.Ref(), got, want)
	}
}

func TestWorkbook_holds_every_number(t *testing.T) {
	for name, story := range map[string]func(testing.TB) *rig{"told": told, "nasty": nasty} {
		t.Run(name, func(t *testing.T) {
			r := story(t)
			d := r.document(r.now.Add(time.Hour))
			_, f, l := made(t, d)
			readings, derived := 0, 0
			for _, p := range d.Pages() {
				holdsText(t, f, l.Results[p.ID], strings.ToUpper(p.Verdict.String()))
				holdsText(t, f, l.Checks[p.ID], strings.ToUpper(p.Verdict.String()))
				for _, a := range p.Attempts {
					holdsText(t, f, l.Attempts[Spot{p.ID, a.Number, ""}], strings.ToUpper(a.Verdict.String()))
					for _, x := range a.Readings {
						if x.Number {
							readings++
							readingStands(t, f, l.Readings[Spot{p.ID, a.Number, x.Key}], x)
						}
					}
					for _, x := range a.Derived {
						derived++
						derivedStands(t, f, l.Derived[Spot{p.ID, a.Number, x.Key}], x)
					}
				}
			}
			if readings < 10 || derived < 10 {
				t.Errorf("%d readings, %d derived values: the story has more", readings, derived)
			}
			head, rest := overallParts(d.Overall)
			holdsText(t, f, l.Overall, head)
			holdsText(t, f, Cell{l.Overall.Sheet, l.Overall.Row + 1, l.Overall.Col}, rest)
		})
	}
}

func readingStands(t *testing.T, f *excelize.File, c Cell, x Reading) {
	t.Helper()
	holdsNumber(t, f, c, x.Value)
	holdsNumber(t, f, c.In(colEntry), float64(x.Entry))
	holdsText(t, f, c.In(colName), x.Label)
	holdsText(t, f, c.In(colTyped), x.Typed)
	holdsText(t, f, c.In(colUnit), x.Unit)
	holdsText(t, f, c.In(colMeter), x.Meter)
	if x.Expect != nil {
		holdsNumber(t, f, c.In(colLow), checks.FromBase(x.Expect.Low, x.Unit))
		holdsNumber(t, f, c.In(colHigh), checks.FromBase(x.Expect.High, x.Unit))
		holdsText(t, f, c.In(colSource), x.Expect.Source)
	}
}

func derivedStands(t *testing.T, f *excelize.File, c Cell, x checks.Derived) {
	t.Helper()
	holdsNumber(t, f, c, x.Value)
	holdsText(t, f, c.In(colName), x.Name)
	if finite(x.U) {
		holdsNumber(t, f, c.In(colSpread), x.U)
	}
	if x.Limit == nil {
		holdsText(t, f, c.In(colVerdict), "shown, not judged")
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

// parts are the files inside a workbook.
func parts(t testing.TB, data []byte) map[string][]byte {
	t.Helper()
	z, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		t.Fatal(err)
	}
	out := map[string][]byte{}
	for _, f := range z.File {
		r, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		content, err := io.ReadAll(r)
		if err != nil {
			t.Fatal(err)
		}
		if _, twice := out[f.Name]; twice {
			t.Errorf("%s stands twice", f.Name)
		}
		out[f.Name] = content
	}
	return out
}

func TestWorkbook_parts_are_well_formed_and_in_order(t *testing.T) {
	r := nasty(t)
	data, _, _ := made(t, r.document(r.now))
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
	for name, content := range parts(t, data) {
		if name == dataPart {
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
	if app := string(parts(t, data)["docProps/app.xml"]); !strings.Contains(app, "<Application>handback</Application>") {
		t.Errorf("application properties: %s", app)
	}
	core := string(parts(t, data)["docProps/core.xml"])
	if !strings.Contains(core, "<cp:lastModifiedBy>handback</cp:lastModifiedBy>") || !strings.Contains(core, ">2026-03-02T07:13:00Z</dcterms:modified>") {
		t.Errorf("core properties: %s", core)
	}
}

// childWorkbook: path of a book, job, plan file. Writes the job's workbook to stdout.
func childWorkbook(args []string) error {
	book, err := records.Open(ctx, args[0])
	if err != nil {
		return err
	}
	defer book.Close()
	data, err := os.ReadFile(args[2])
	if err != nil {
		return err
	}
	plan, err := checks.LoadPlan("pump.yaml", data)
	if err != nil {
		return err
	}
	entries, err := book.Entries(ctx, args[1])
	if err != nil {
		return err
	}
	j, err := Fold(plan, entries)
	if err != nil {
		return err
	}
	d, err := NewDocument(j, dawn.Add(2*time.Hour))
	if err != nil {
		return err
	}
	out, err := Workbook(d)
	if err != nil {
		return err
	}
	_, err = os.Stdout.Write(out)
	return err
}

func init() { children["workbook"] = childWorkbook }

func TestWorkbook_same_bytes_in_two_processes(t *testing.T) {
	r := told(t)
	here, err := Workbook(r.document(dawn.Add(2 * time.Hour)))
	if err != nil {
		t.Fatal(err)
	}
	for range 3 {
		out, err := child(t, "workbook", r.book.Path(), r.id, "testdata/pump.yaml").Output()
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(here, out) {
			t.Fatalf("%d bytes here, %d there, and they differ", len(here), len(out))
		}
	}
}

func TestWorkbook_shows_decimals_that_tell(t *testing.T) {
	d := told(t).document(dawn)
	b, err := layOut(d)
	if err != nil {
		t.Fatal(err)
	}
	data, err := b.bytes()
	if err != nil {
		t.Fatal(err)
	}
	f, err := excelize.OpenReader(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	for c, want := range map[Cell]string{
		b.layout.Readings[Spot{"hv", 1, "value"}]:                         "11.20",
		b.layout.Readings[Spot{"volts", 2, "l1l2"}]:                       "440.9",
		b.layout.Derived[Spot{"volts", 2, "predicted"}]:                   "440.9",
		b.layout.Derived[Spot{"volts", 2, "band_l1l2"}].In(colLow):        "400",
		b.layout.Derived[Spot{"earth-ref", 1, "value_value"}].In(colHigh): "5",
	} {
		holdsText(t, f, c, want)
	}
}

// A grey copy must still tell verdicts apart, so each has a border of its own, and
// every fill is a grey.
func TestVerdictLooks_differ_without_colour(t *testing.T) {
	seen := map[string]checks.Verdict{}
	for i := range checks.Verdicts() {
		v := checks.Verdict(i)
		l := verdictLook(v)
		if other, twice := seen[l.border]; twice || borders[l.border] == 0 || !l.bold {
			t.Errorf("%s: border %q (as %s), bold %v", v, l.border, other, l.bold)
		}
		seen[l.border] = v
		if l.fill != "" && (l.fill[:2] != l.fill[2:4] || l.fill[:2] != l.fill[4:]) {
			t.Errorf("%s: fill %s is no grey", v, l.fill)
		}
		if (l.fill == "000000") != l.white {
			t.Errorf("%s: fill %q with white letters %v", v, l.fill, l.white)
		}
	}
}

func TestExpected_stands_in_the_unit_of_the_reading(t *testing.T) {
	got := expected(Reading{Unit: "kV", Expect: &checks.Expect{Low: 10500, High: 11500, Source: "plan"}})
	if got[0].value != 10.5 || got[1].value != 11.5 || got[2].value != "plan" {
		t.Errorf("expected %v to %v by %v, want 10.5 to 11.5 by plan", got[0].value, got[1].value, got[2].value)
	}
}

// What goes on in rows below stands there alone: nothing beside it is said twice.
func TestWorkbook_continuations_repeat_nothing(t *testing.T) {
	r := nasty(t)
	d := r.document(r.now)
	_, f, _ := made(t, d)
	rows, err := f.GetRows("Entries")
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, row := range rows[2:] {
		if len(row) > 0 && row[0] != "" {
			got = append(got, row[0])
		}
	}
	if len(rows)-2 <= len(d.Log) {
		t.Fatalf("%d rows for %d entries: the story has texts longer than a row", len(rows)-2, len(d.Log))
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
	d := told(t).document(dawn)
	page := d.Groups[0].Checks[:1]
	d.Groups = nil
	given := []string{"cover", "Results", "Entries", "a/b:c*d?[e]\\", "", "'quoted'", strings.Repeat("long ", 12), strings.Repeat("long ", 12), "Live", "LIVE"}
	for i, name := range given {
		p := page[0]
		p.ID = fmt.Sprint("check-", i) // its cells have names
		d.Groups = append(d.Groups, Group{name, []CheckPage{p}})
	}
	_, f, _ := made(t, d)
	want := []string{"Cover", "Results", "Flags", "cover 2", "Results 2", "Entries 2", "a b c d  e", "Checks", "quoted",
		"long long long long long long l", "long long long long long long 2", "Live", "LIVE 2", "Instruments", "Entries"}
	if diff := cmp.Diff(want, f.GetSheetList()); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
}

func TestCell_Ref(t *testing.T) {
	if got, want := (Cell{"Eva's checks", 12, 28}).Ref(), "'Eva''s checks'!AB12"; got != want {
		t.Errorf("%s, want %s", got, want)
	}
}

// wide is a document of n sheets of checks with 80 readings and 80 derived values
// each.
func wide(t testing.TB, n int) *Document {
	d := told(t).document(dawn)
	var source CheckPage
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
	source.Attempts = []AttemptPage{a}
	d.Groups = nil
	for i := range n {
		d.Groups = append(d.Groups, Group{fmt.Sprintf("Group %d", i+1), []CheckPage{source}})
	}
	return d
}

// BenchmarkWorkbook is twelve sheets of 160 rows and ten columns, beside the cover
// and the lists.
func BenchmarkWorkbook(b *testing.B) {
	d := wide(b, 12)
	for b.Loop() {
		if _, err := Workbook(d); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkWorkbook_hundred is a job of a hundred checks and more: the base of every
// kind five times over, with all its formulas.
func BenchmarkWorkbook_hundred(b *testing.B) {
	d := hundred(b)
	for b.Loop() {
		if _, err := Workbook(d); err != nil {
			b.Fatal(err)
		}
	}
}
