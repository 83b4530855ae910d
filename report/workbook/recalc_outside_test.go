package workbook

import (
	"maps"
	"slices"
	"strings"
	"testing"
	"time"

	"handback/checks"
	"handback/report"
	"handback/report/grid"
	"handback/testdata/outside"
	"handback/testdata/recalc"
	"handback/testdata/rig"
)

// LibreOffice works every formula of the stories and of every case of every kind out
// to what stands in the cell: values and uncertainties to 1e-9, verdicts, results and
// the words on the certificate. A wrong result that is planted is found, and a changed
// reading changes the verdict.
func TestOutside_LibreOffice_works_out_the_same(t *testing.T) {
	outside.Long(t)
	outside.Tool(t, "soffice")
	docs := caseDocuments(t)
	for name, story := range map[string]func(testing.TB) *rig.Rig{"told": rig.Told, "nasty": rig.Nasty} {
		r := story(t)
		docs[name] = r.Document(r.Now.Add(time.Hour))
	}
	books, layouts := map[string][]byte{}, map[string]layout{}
	for name, d := range docs {
		books[name], _, layouts[name] = made(t, d)
	}
	same := slices.Collect(maps.Keys(books))
	plant(t, books, layouts["told"])
	change(t, books, layouts)
	anew, err := recalc.Run(t.TempDir(), books)
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range same {
		t.Run(name, func(t *testing.T) {
			differences, formulas := differ(t, books[name], anew[name])
			for _, d := range differences[:min(8, len(differences))] {
				t.Error(d)
			}
			if len(differences) > 8 || formulas < 50 {
				t.Errorf("%d of %d formulas differ", len(differences), formulas)
			}
			everyVerdict(t, books[name], docs[name], layouts[name])
		})
	}
	t.Run("planted", func(t *testing.T) { planted(t, books["planted"], anew["planted"], layouts["told"]) })
	t.Run("changed", func(t *testing.T) { changed(t, anew, layouts, docs) })
}

func differ(t *testing.T, stored, anew []byte) ([]string, int) {
	t.Helper()
	differences, formulas, err := recalc.Differences(stored, anew)
	if err != nil {
		t.Fatal(err)
	}
	return differences, formulas
}

// everyVerdict checks that verdicts and what is worked out are formulas wherever the
// attempt still stands as it was judged.
func everyVerdict(t *testing.T, data []byte, d *report.Document, l layout) {
	sheets, err := recalc.Read(data)
	if err != nil {
		t.Fatal(err)
	}
	want := func(c grid.Cell, what string) {
		if sheets[c.Sheet][c.Name()].Formula == "" {
			t.Errorf("%s of %s is no formula", what, c.Ref())
		}
	}
	want(l.Overall, "the verdict of the job")
	for _, p := range d.Pages() {
		want(l.Results[p.ID], "the result")
		for _, a := range p.Attempts {
			if a.Finding == nil {
				continue
			}
			want(l.Checks[p.ID], "the verdict")
			want(l.Attempts[spot{p.ID, a.Number, ""}], "the verdict")
			for _, x := range a.Derived {
				c := l.Derived[spot{p.ID, a.Number, x.Key}]
				want(c, "the value")
				want(c.In(colSpread), "the uncertainty")
				if x.Limit == nil {
					continue
				}
				want(c.In(colVerdict), "the verdict")
				if x.Limit.Source == "" {
					t.Errorf("the limit of %s, %s, has no origin", p.ID, x.Key)
				}
			}
		}
	}
}

// rewritten is a workbook with some of its cells' values changed in the file alone.
func rewritten(t *testing.T, data []byte, values map[grid.Cell]string) []byte {
	t.Helper()
	cells := map[rig.CellAt]string{}
	for c, value := range values {
		cells[rig.CellAt{Sheet: c.Sheet, Cell: c.Name()}] = value
	}
	return rig.Rewritten(t, data, cells)
}

// plant puts wrong results into a workbook, as a mistake in our arithmetic would.
func plant(t *testing.T, books map[string][]byte, l layout) {
	c := l.Derived[spot{"volts", 2, "predicted"}]
	books["planted"] = rewritten(t, books["told"], map[grid.Cell]string{c: "440.8727", c.In(colSpread): "1.9", l.Results["volts"]: "FAIL"})
}

func planted(t *testing.T, stored, anew []byte, l layout) {
	differences, _ := differ(t, stored, anew)
	c := l.Derived[spot{"volts", 2, "predicted"}]
	for _, at := range []grid.Cell{c, c.In(colSpread), l.Results["volts"]} {
		if !slices.ContainsFunc(differences, func(d string) bool { return strings.Contains(d, at.Ref()) }) {
			t.Errorf("the wrong result at %s was not found", at.Ref())
		}
	}
	if len(differences) != 3 {
		t.Errorf("three results were planted, %d differ: %q", len(differences), differences)
	}
}

// change makes workbooks in which somebody has changed a reading.
func change(t *testing.T, books map[string][]byte, l map[string]layout) {
	books["volts"] = rewritten(t, books["told"], map[grid.Cell]string{l["told"].Readings[spot{"volts", 2, "l1l2"}]: "480"})
	books["statement"] = rewritten(t, books["told"], map[grid.Cell]string{l["told"].Words[spot{"isolated", 1, "s1"}]: "no"})
	books["limit"] = rewritten(t, books["told"], map[grid.Cell]string{l["told"].Derived[spot{"hv", 1, "value_value"}].In(colHigh): "11000"})
	books["solved"] = rewritten(t, books["load-share"], map[grid.Cell]string{l["load-share"].Readings[spot{"k0-share", 1, "t2_i1"}]: "400"})
}

func changed(t *testing.T, anew map[string][]byte, l map[string]layout, docs map[string]*report.Document) {
	books := map[string]map[string]recalc.Sheet{}
	at := func(book string, c grid.Cell) string {
		if books[book] == nil {
			sheets, err := recalc.Read(anew[book])
			if err != nil {
				t.Fatal(err)
			}
			books[book] = sheets
		}
		return books[book][c.Sheet][c.Name()].Value
	}
	told := l["told"]
	for _, c := range []struct {
		book, check string
		cells       map[grid.Cell]string
	}{
		{"volts", "volts", map[grid.Cell]string{told.Derived[spot{"volts", 2, "band_l1l2"}].In(colVerdict): "FAIL", told.Attempts[spot{"volts", 2, ""}]: "FAIL"}},
		{"statement", "isolated", map[grid.Cell]string{told.Attempts[spot{"isolated", 1, ""}]: "FAIL"}},
		{"limit", "hv", map[grid.Cell]string{told.Derived[spot{"hv", 1, "value_value"}].In(colVerdict): "FAIL"}},
	} {
		c.cells[told.Checks[c.check]], c.cells[told.Results[c.check]] = "FAIL", "FAIL"
		c.cells[told.Results[c.check].In(colStands)] = "open"
		for cell, want := range c.cells {
			if got := at(c.book, cell); got != want {
				t.Errorf("%s changed: %s shows %q, want %q", c.book, cell.Ref(), got, want)
			}
		}
		rest := grid.Cell{Sheet: told.Overall.Sheet, Row: told.Overall.Row + 1, Col: told.Overall.Col}
		if was, is := at("told", rest), at(c.book, rest); was == is || at(c.book, told.Overall) != "WHAT-IF: 1 cell differs from the record" {
			t.Errorf("%s changed: the certificate says %q, %q as before", c.book, at(c.book, told.Overall), is)
		}
	}
	share, k0 := l["load-share"].Checks["k0-share"], againWith(docs["load-share"], "k0-share", "t2_i1", 400)
	for was, want := range map[string]checks.Verdict{"load-share": checks.Pass, "solved": checks.Judge(k0).Verdict} {
		if got := at(was, share); got != grid.WordOf(want) {
			t.Errorf("%s: %s, want %s: of one reading changed the verdict is known", was, got, grid.WordOf(want))
		}
	}
}

// againWith is what the newest attempt of a check is judged from with another number read.
func againWith(d *report.Document, check, field string, x float64) checks.Input {
	for _, p := range d.Pages() {
		if p.ID == check {
			in := *p.Attempts[len(p.Attempts)-1].Again
			in.Answers = maps.Clone(in.Answers)
			a := in.Answers[field]
			a.Value = x
			in.Answers[field] = a
			return in
		}
	}
	return checks.Input{}
}
