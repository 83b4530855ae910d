package report

import (
	"archive/zip"
	"bytes"
	"fmt"
	"maps"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"handback/checks"
	"handback/testdata/outside"
	"handback/testdata/recalc"
)

// LibreOffice works every formula of the stories and of every case of every kind out
// to what stands in the cell: values and uncertainties to 1e-9, verdicts, results and
// the words on the cover. A wrong result that is planted is found, and a changed
// reading changes the verdict.
func TestOutside_LibreOffice_works_out_the_same(t *testing.T) {
	if testing.Short() {
		t.Skip("takes seconds: not in a short run")
	}
	outside.Tool(t, "soffice")
	docs := caseDocuments(t)
	for name, story := range map[string]func(testing.TB) *rig{"told": told, "nasty": nasty} {
		r := story(t)
		docs[name] = r.document(r.now.Add(time.Hour))
	}
	books, layouts := map[string][]byte{}, map[string]Layout{}
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
	t.Run("changed", func(t *testing.T) { changed(t, anew, layouts) })
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
func everyVerdict(t *testing.T, data []byte, d *Document, l Layout) {
	sheets, err := recalc.Read(data)
	if err != nil {
		t.Fatal(err)
	}
	want := func(c Cell, what string) {
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
			want(l.Attempts[Spot{p.ID, a.Number, ""}], "the verdict")
			for _, x := range a.Derived {
				c := l.Derived[Spot{p.ID, a.Number, x.Key}]
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
func rewritten(t *testing.T, data []byte, values map[Cell]string) []byte {
	t.Helper()
	sheets := map[string]string{}
	for i, name := range strings.Fields(sheetParts(t, data)) {
		sheets[strings.ReplaceAll(name, "_", " ")] = fmt.Sprintf("xl/worksheets/sheet%d.xml", i+1)
	}
	files := parts(t, data)
	for c, value := range values {
		part := sheets[c.Sheet]
		old := regexp.MustCompile(`<c r="` + c.Name() + `"[^>]*>.*?</c>`).Find(files[part])
		is := regexp.MustCompile(`(<v>|<t[^>]*>)[^<]*(</v>|</t>)`).ReplaceAll(old, []byte("${1}"+value+"${2}"))
		if old == nil || bytes.Equal(old, is) {
			t.Fatalf("%s holds %s, which cannot be changed to %s", c.Ref(), old, value)
		}
		files[part] = bytes.Replace(files[part], old, is, 1)
	}
	var out bytes.Buffer
	z := zip.NewWriter(&out)
	for _, name := range sortedKeys(files) {
		w, err := z.Create(name)
		if err == nil {
			_, err = w.Write(files[name])
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

// sheetParts lists the sheets in the order of their files, spaces as underscores.
func sheetParts(t *testing.T, data []byte) string {
	var names []string
	for _, m := range regexp.MustCompile(`<sheet name="([^"]*)"`).FindAllSubmatch(parts(t, data)["xl/workbook.xml"], -1) {
		names = append(names, strings.ReplaceAll(string(m[1]), " ", "_"))
	}
	return strings.Join(names, " ")
}

// plant puts wrong results into a workbook, as a mistake in our arithmetic would.
func plant(t *testing.T, books map[string][]byte, l Layout) {
	c := l.Derived[Spot{"volts", 2, "predicted"}]
	books["planted"] = rewritten(t, books["told"], map[Cell]string{c: "440.8727", c.In(colSpread): "1.9", l.Results["volts"]: "FAIL"})
}

func planted(t *testing.T, stored, anew []byte, l Layout) {
	differences, _ := differ(t, stored, anew)
	c := l.Derived[Spot{"volts", 2, "predicted"}]
	for _, at := range []Cell{c, c.In(colSpread), l.Results["volts"]} {
		if !slices.ContainsFunc(differences, func(d string) bool { return strings.Contains(d, at.Ref()) }) {
			t.Errorf("the wrong result at %s was not found", at.Ref())
		}
	}
	if len(differences) != 3 {
		t.Errorf("three results were planted, %d differ: %q", len(differences), differences)
	}
}

// change makes workbooks in which somebody has changed a reading.
func change(t *testing.T, books map[string][]byte, l map[string]Layout) {
	books["volts"] = rewritten(t, books["told"], map[Cell]string{l["told"].Readings[Spot{"volts", 2, "l1l2"}]: "480"})
	books["statement"] = rewritten(t, books["told"], map[Cell]string{l["told"].Words[Spot{"isolated", 1, "s1"}]: "no"})
	books["limit"] = rewritten(t, books["told"], map[Cell]string{l["told"].Derived[Spot{"hv", 1, "value_value"}].In(colHigh): "11000"})
	books["solved"] = rewritten(t, books["load-share"], map[Cell]string{l["load-share"].Readings[Spot{"k0-share", 1, "t2_i1"}]: "400"})
}

func changed(t *testing.T, anew map[string][]byte, l map[string]Layout) {
	books := map[string]map[string]recalc.Sheet{}
	at := func(book string, c Cell) string {
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
		cells       map[Cell]string
	}{
		{"volts", "volts", map[Cell]string{told.Derived[Spot{"volts", 2, "band_l1l2"}].In(colVerdict): "FAIL", told.Attempts[Spot{"volts", 2, ""}]: "FAIL"}},
		{"statement", "isolated", map[Cell]string{told.Attempts[Spot{"isolated", 1, ""}]: "FAIL"}},
		{"limit", "hv", map[Cell]string{told.Derived[Spot{"hv", 1, "value_value"}].In(colVerdict): "FAIL"}},
	} {
		c.cells[told.Checks[c.check]], c.cells[told.Results[c.check]] = "FAIL", "FAIL"
		c.cells[told.Results[c.check].In(colStands)] = "open"
		for cell, want := range c.cells {
			if got := at(c.book, cell); got != want {
				t.Errorf("%s changed: %s shows %q, want %q", c.book, cell.Ref(), got, want)
			}
		}
		rest := Cell{told.Overall.Sheet, told.Overall.Row + 1, told.Overall.Col}
		if was, is := at("told", rest), at(c.book, rest); was == is || at(c.book, told.Overall) != "NOT READY" {
			t.Errorf("%s changed: the cover says %q, %q as before", c.book, at(c.book, told.Overall), is)
		}
		if !strings.Contains(fmt.Sprint(books[c.book]["Cover"]), "CHANGED: 1 check comes to another verdict") {
			t.Errorf("%s changed: the cover does not say so", c.book)
		}
	}
	share := l["load-share"]
	for was, want := range map[string]string{"load-share": wordOf(checks.Pass), "solved": wordOf(checks.Inconclusive)} {
		if got := at(was, share.Checks["k0-share"]); got != want {
			t.Errorf("%s: %s, want %s: what handback worked out of a reading does not count once that is changed", was, got, want)
		}
	}
}
