package seal

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"

	"handback/report"
	"handback/report/grid"
	"handback/testdata/outside"
	"handback/testdata/recalc"
	"handback/testdata/rig"
)

// agrees holds a workbook that another program saved against its record: nothing in it
// is wrong, and what was left out is said.
func agrees(t *testing.T, program string, data []byte, j *report.Job) {
	t.Helper()
	x := ExamineWorkbook(data, j)
	known := j.RuleFaults() // of a story that no command would write
	faults := slices.DeleteFunc(x.Faults, func(f string) bool { return slices.Contains(known, f) })
	for _, f := range faults[:min(8, len(faults))] {
		t.Errorf("%s: %s", program, f)
	}
	missed, shown := strings.Join(x.Missed, "\n"), strings.Join(x.Shown, "\n")
	carries := strings.Contains(shown, "its handover data are those of the record")
	if carries == strings.Contains(missed, "its handover data: a program that saved it left them out") || !strings.Contains(missed, "cells without a name") {
		t.Errorf("%s: not compared %q, shown %q", program, x.Missed, x.Shown)
	}
	if !strings.Contains(shown, "named cells with readings, values and verdicts on ") {
		t.Errorf("%s: shown %q", program, x.Shown)
	}
	if unworked := strings.Contains(missed, "left out what the formulas come to"); unworked != x.Partly || x.Partly != (program == "openpyxl") {
		t.Errorf("%s: not compared %q", program, x.Missed)
	}
}

// openpyxl (general-purpose, Python) adds a sheet, a column and colours. It keeps no
// result of a formula, and that is said; once LibreOffice has worked them out, the
// workbook shows the record as before. A reading that was changed is found, with the
// verdicts that hang on it.
func TestOutside_openpyxl_edits(t *testing.T) {
	outside.Long(t)
	const python = "/usr/bin/python3"
	if out, err := exec.Command(python, "-c", "import openpyxl").CombinedOutput(); err != nil {
		outside.Missing(t, "openpyxl", string(out))
	}
	j := rig.Told(t).Job()
	data, names := handedWorkbook(t, j)
	dir := t.TempDir()
	path := func(name string) string { return filepath.Join(dir, name) }
	if err := os.WriteFile(path("from.xlsx"), data, 0o600); err != nil {
		t.Fatal(err)
	}
	at := names[slices.IndexFunc(names, func(n grid.NamedCell) bool { return n.Name == "handback_reading__volts__2__l1l2" })].At
	edit := `
import sys, openpyxl
from openpyxl.styles import PatternFill
book = openpyxl.load_workbook(sys.argv[1])
book.create_sheet("Of the office", 0)["A1"] = "checked on the 3rd"
for sheet in book.worksheets:
    for row in sheet.iter_rows():
        for cell in row:
            cell.fill = PatternFill("solid", fgColor="FFEEAA")
results = book["Certificate"]
results.cell(row=2, column=20, value="seen by the office")
for row in range(3, 9):
    results.cell(row=row, column=20, value="yes")
book.save(sys.argv[2])
book[sys.argv[4]][sys.argv[5]] = 480
book.save(sys.argv[3])
`
	c := exec.Command(python, "-c", edit, path("from.xlsx"), path("edited.xlsx"), path("changed.xlsx"), at.Sheet, at.Name())
	if out, err := c.CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	edited, err := os.ReadFile(path("edited.xlsx"))
	if err != nil {
		t.Fatal(err)
	}
	agrees(t, "openpyxl", edited, j)
	if !testing.Short() {
		outside.Tool(t, "soffice")
		anew, err := recalc.Run(dir, map[string][]byte{"edited-anew": edited})
		if err != nil {
			t.Fatal(err)
		}
		agrees(t, "LibreOffice", anew["edited-anew"], j)
	}
	changed, err := os.ReadFile(path("changed.xlsx"))
	if err != nil {
		t.Fatal(err)
	}
	if x := ExamineWorkbook(changed, j); len(x.Faults) != 1 || !strings.Contains(x.Faults[0], at.Place()+` (handback_reading__volts__2__l1l2) holds "480", the record gives 440.9`) {
		t.Errorf("%q", x.Faults)
	}
}

// LibreOffice works everything out anew and saves it; what it leaves out is said.
func TestOutside_LibreOffice_saves(t *testing.T) {
	outside.Long(t)
	outside.Tool(t, "soffice")
	books, jobs := map[string][]byte{}, map[string]*report.Job{}
	for name, story := range map[string]func(testing.TB) *rig.Rig{"told": rig.Told, "nasty": rig.Nasty} {
		jobs[name] = story(t).Job()
		books[name], _ = handedWorkbook(t, jobs[name])
	}
	anew, err := recalc.Run(t.TempDir(), books)
	if err != nil {
		t.Fatal(err)
	}
	agrees(t, "LibreOffice", anew["told"], jobs["told"])
	agrees(t, "LibreOffice", anew["nasty"], jobs["nasty"])
}

// The library that we write with inserts a column and a row, and takes the names along.
func TestExamineWorkbook_columnsInserted(t *testing.T) {
	j := rig.Told(t).Job()
	data, _ := handedWorkbook(t, j)
	f, err := excelize.OpenReader(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	for _, sheet := range []string{"Certificate", "Flags"} {
		if err := f.InsertCols(sheet, "B", 1); err != nil {
			t.Fatal(err)
		}
		if err := f.InsertRows(sheet, 3, 2); err != nil {
			t.Fatal(err)
		}
	}
	if err := f.SetSheetName("Certificate", "At a glance"); err != nil {
		t.Fatal(err)
	}
	var out bytes.Buffer
	if err := f.Write(&out); err != nil {
		t.Fatal(err)
	}
	agrees(t, "excelize", out.Bytes(), j)
}

// exceljs (general-purpose, JavaScript) opens a handover with charts, finds a cell by its
// name, and saves it: what it saved is compared as any other.
func TestOutside_handover_exceljs(t *testing.T) {
	outside.Long(t)
	dir, run := t.TempDir(), outside.Npm(t, "exceljs@4.4.0")
	j := rig.Told(t).Job()
	data, _ := handedWorkbook(t, j)
	from, to := filepath.Join(dir, "from.xlsx"), filepath.Join(dir, "to.xlsx")
	if err := os.WriteFile(from, data, 0o600); err != nil {
		t.Fatal(err)
	}
	open := `
const book = new (require("exceljs").Workbook)();
const [from, to] = process.argv.slice(1);
book.xlsx.readFile(from).then(() => {
  const at = book.definedNames.getRanges("handback_verdict").ranges[0];
  const value = book.getWorksheet("Certificate").getCell("A5").value;
  console.log(at, value.result);
  book.addWorksheet("Of the office").getCell("A1").value = "seen";
  return book.xlsx.writeFile(to);
}).catch(e => { console.error(e); process.exit(1); });
`
	out, err := run(open, from, to).CombinedOutput()
	if err != nil || strings.TrimSpace(string(out)) != "Certificate!$A$5 NOT READY" {
		t.Fatalf("%v: %s", err, out)
	}
	saved, err := os.ReadFile(to)
	if err != nil {
		t.Fatal(err)
	}
	agrees(t, "exceljs", saved, j)
}
