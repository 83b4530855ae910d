package fieldsheet

import (
	"encoding/json"
	"fmt"
	"maps"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/xuri/excelize/v2"

	"handback/report"
	"handback/report/files"
	"handback/testdata/outside"
	"handback/testdata/rig"
)

// typedIn is what each program is made to type, and what must come back.
var (
	typedIn   = map[string]string{"ir/+repeat": "with a tester in date", "ir/p1": "0.850 GΩ", "ir/p2": ">1,2 GΩ", "hv/value": "11.20", "volts/l2l3": "441.20", "earth-ref/meter": "dmm", "tidy/+note": "=1+1 <b>&"}
	comesBack = map[string]string{"ir/2/p1": "0.850 GΩ → 850000000Ω", "ir/2/p2": ">1,2 GΩ → >1200000000Ω", "hv/1/value": "11.20 → 11200V", "volts/1/l2l3": "441.20 → 441.2V", "earth-ref/1/meter": "dmm → dmm"}
)

// back demands what a saved sheet gives.
func back(r *rig.Rig, t *testing.T, path string, want map[string]string) *Proposal {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	p, errs := takeBack(r, data, Options{})
	for _, e := range errs {
		t.Error(e)
	}
	if p == nil {
		t.FailNow()
	}
	if diff := cmp.Diff(want, understood(p)); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
	return p
}

func comesBackSame(r *rig.Rig, t *testing.T, path string) {
	t.Helper()
	for _, c := range back(r, t, path, comesBack).Checks {
		if c.Check.ID == "tidy" && strings.Join(c.Notes, "") != typedIn["tidy/+note"] || c.Check.ID == "ir" && c.Why != typedIn["ir/+repeat"] {
			t.Errorf("%+v", c)
		}
	}
}

// places gives sheet, cell and text of what is typed, for the programs.
func places(r *rig.Rig, t *testing.T, data []byte) [][3]string {
	cells := inputsOf(t, r, data)
	var out [][3]string
	for _, key := range slices.Sorted(maps.Keys(typedIn)) {
		out = append(out, [3]string{cells[key].Sheet, cells[key].Name(), typedIn[key]})
	}
	return out
}

// A filled sheet that LibreOffice saved again, once and twice, comes back the same;
// its locks and lists are still there.
func TestOutside_fieldSheet_LibreOffice(t *testing.T) {
	outside.Long(t)
	outside.Tool(t, "soffice")
	r := fresh(t)
	values := map[string]any{}
	for k, v := range typedIn {
		values[k] = v
	}
	first, again, twice := t.TempDir(), t.TempDir(), t.TempDir()
	if err := files.Write(filepath.Join(first, "s.xlsx"), filledIn(t, r, sheetOf(t, r), values), files.Over{Force: true}); err != nil {
		t.Fatal(err)
	}
	rig.Office(t, again, "xlsx", filepath.Join(first, "s.xlsx"))
	rig.Office(t, twice, "xlsx", filepath.Join(again, "s.xlsx"))
	comesBackSame(r, t, filepath.Join(again, "s.xlsx"))
	comesBackSame(r, t, filepath.Join(twice, "s.xlsx"))
	f, err := excelize.OpenFile(filepath.Join(twice, "s.xlsx"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	odd := rig.Nasty(t)
	if err := files.Write(filepath.Join(first, "odd.xlsx"), filledIn(t, odd, sheetOf(t, odd), map[string]any{"tidy/s1": "no"}), files.Over{Force: true}); err != nil {
		t.Fatal(err)
	}
	rig.Office(t, again, "xlsx", filepath.Join(first, "odd.xlsx"))
	back(odd, t, filepath.Join(again, "odd.xlsx"), map[string]string{"tidy/1/s1": "no → no"})
	rules, err := f.GetDataValidations("tidy")
	if err != nil {
		t.Fatal(err)
	}
	lists, prompts := 0, 0
	for _, rule := range rules {
		if rule.Type == "list" && rule.Formula1 != "" {
			lists++
		}
		if rule.Prompt != nil && *rule.Prompt != "" {
			prompts++
		}
	}
	if lists < 2 || prompts < 3 {
		t.Errorf("%d lists and %d prompts are left of %d rules", lists, prompts, len(rules))
	}
	if visible, err := f.GetSheetVisible(markerSheet); err != nil || visible {
		t.Errorf("the marker is visible: %v, %v", visible, err)
	}
}

// Printed, every form is there with its page number, job and plan; what is hidden
// is not printed.
func TestOutside_fieldSheet_printed(t *testing.T) {
	outside.Long(t)
	outside.Tool(t, "soffice")
	pdftotext := outside.Tool(t, "pdftotext")
	r := fresh(t)
	dir := t.TempDir()
	path := filepath.Join(dir, "s.xlsx")
	if err := files.Write(path, sheetOf(t, r), files.Over{Force: true}); err != nil {
		t.Fatal(err)
	}
	rig.Office(t, dir, "pdf", path)
	out, err := exec.Command(pdftotext, "-layout", filepath.Join(dir, "s.pdf"), "-").Output()
	if err != nil {
		t.Fatal(err)
	}
	pages := strings.Split(strings.TrimSuffix(string(out), "\f"), "\f")
	if len(pages) != 6 {
		t.Errorf("%d pages, want the guide and five forms", len(pages))
	}
	for i, page := range pages {
		for _, text := range []string{fmt.Sprintf("page %d of %d", i+1, len(pages)), "job " + r.ID, "plan SHA-256 " + report.ShortHash(r.Job().PlanHash)} {
			if !strings.Contains(page, text) {
				t.Errorf("page %d lacks %q", i+1, text)
			}
		}
	}
	for _, text := range []string{"CAUTION", "HOLD energise", "signature", "L2-L3", "expected", "why it is taken again", "insulation at 1 kV d.c.: at least"} {
		if !strings.Contains(string(out), text) {
			t.Errorf("%q is not printed", text)
		}
	}
}

// openpyxl (general-purpose, Python) opens the sheet, types into it and saves it.
func TestOutside_fieldSheet_openpyxl(t *testing.T) {
	outside.Long(t)
	const python = "/usr/bin/python3"
	if out, err := exec.Command(python, "-c", "import openpyxl").CombinedOutput(); err != nil {
		outside.Missing(t, "openpyxl", string(out))
	}
	r := fresh(t)
	data := sheetOf(t, r)
	dir := t.TempDir()
	edit := `
import json, sys, openpyxl
book = openpyxl.load_workbook(sys.argv[1])
for sheet, cell, text in json.loads(sys.argv[2]):
    at = book[sheet][cell]
    assert at.protection.locked is False, cell
    assert book[sheet].protection.sheet, sheet
    at.value = text
    at.data_type = "s"
book.save(sys.argv[3])
`
	editedBy(r, t, dir, data, exec.Command(python, "-c", edit))
}

// exceljs (general-purpose, JavaScript) does the same.
func TestOutside_fieldSheet_exceljs(t *testing.T) {
	outside.Long(t)
	r := fresh(t)
	data := sheetOf(t, r)
	dir := t.TempDir()
	run := outside.Npm(t, "exceljs@4.4.0")
	edit := `
const book = new (require("exceljs").Workbook)();
const [from, cells, to] = process.argv.slice(1);
book.xlsx.readFile(from).then(() => {
  for (const [sheet, cell, text] of JSON.parse(cells)) book.getWorksheet(sheet).getCell(cell).value = text;
  return book.xlsx.writeFile(to);
}).catch(e => { console.error(e); process.exit(1); });
`
	editedBy(r, t, dir, data, run(edit))
}

// editedBy lets a program fill the sheet in and reads what it saved.
func editedBy(r *rig.Rig, t *testing.T, dir string, data []byte, c *exec.Cmd) {
	t.Helper()
	cells, err := json.Marshal(places(r, t, data))
	if err != nil {
		t.Fatal(err)
	}
	from, to := filepath.Join(dir, "from.xlsx"), filepath.Join(dir, "to.xlsx")
	if err := files.Write(from, data, files.Over{Force: true}); err != nil {
		t.Fatal(err)
	}
	c.Args = append(c.Args, from, string(cells), to)
	if out, err := c.CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	comesBackSame(r, t, to)
}
