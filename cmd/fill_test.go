package cmd

import (
	"fmt"
	"path/filepath"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
	"github.com/xuri/excelize/v2"
)

// fill SHEET FILLED CHECK/KEY=VALUE…: type values into the cells of a field sheet
// and save it under another name. A value formula:F is the formula F.
func fill(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 3 {
		ts.Fatalf("usage: fill SHEET FILLED CHECK/KEY=VALUE…")
	}
	ts.Check(fillSheet(ts.MkAbs(args[0]), ts.MkAbs(args[1]), args[2:]...))
}

// typein FILE SHEET!CELL TEXT: type into a cell of a workbook.
func typeIn(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 3 {
		ts.Fatalf("usage: typein FILE SHEET!CELL TEXT")
	}
	path := ts.MkAbs(args[0])
	f, err := excelize.OpenFile(path)
	ts.Check(err)
	defer f.Close()
	sheet, cell, _ := strings.Cut(args[1], "!")
	ts.Check(f.SetCellStr(sheet, cell, args[2]))
	ts.Check(f.SaveAs(path))
}

// fillSheet types into a field sheet as a person with a spreadsheet would.
func fillSheet(from, to string, pairs ...string) error {
	f, err := excelize.OpenFile(from)
	if err != nil {
		return err
	}
	defer f.Close()
	rows, err := f.GetRows("handback")
	if err != nil {
		return err
	}
	cells := map[string][2]string{}
	for _, r := range rows {
		if len(r) == 6 && r[0] == "input" {
			cells[r[3]+"/"+r[5]] = [2]string{r[1], r[2]}
		}
	}
	for _, pair := range pairs {
		key, value, _ := strings.Cut(pair, "=")
		at, ok := cells[key]
		if !ok {
			return fmt.Errorf("the sheet asks no %s", key)
		}
		if formula, is := strings.CutPrefix(value, "formula:"); is {
			err = f.SetCellFormula(at[0], at[1], formula)
		} else {
			err = f.SetCellStr(at[0], at[1], value)
		}
		if err != nil {
			return err
		}
	}
	return f.SaveAs(to)
}

// On a terminal read asks once; only a yes stores.
func TestRead_asksOnce(t *testing.T) {
	book, job := newJob(t, longPlan(2, 3))
	dir := filepath.Dir(book)
	sheet, filled := filepath.Join(dir, "sheet.xlsx"), filepath.Join(dir, "filled.xlsx")
	if out, err := program(book, "handback", "sheet", job, "-o", sheet).CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	if err := fillSheet(sheet, filled, "c1/meter=dmm", "c1/p1=231", "c1/p2=232"); err != nil {
		t.Fatal(err)
	}
	const question = "store all of it? yes, or Enter to leave the record as it is: "
	for _, no := range []string{"", "no", "yes please", "\x04"} {
		c := onTerminal(t, 200, program(book, "handback", "read", job, "filled.xlsx"))
		c.sees("c1, attempt 1: not judged yet, still needed: p3")
		if no == "\x04" { // the end of the input
			c.sees(question)
			c.sends(no)
		} else {
			c.answers(question, no)
		}
		c.sees("nothing was stored")
		c.ends(exitFailed)
		if n := countKept(t, book, job, "c1"); n != 0 {
			t.Fatalf("%q: %d lines are kept", no, n)
		}
	}
	c := onTerminal(t, 200, program(book, "handback", "read", job, "filled.xlsx"))
	c.answers(question, "Yes")
	c.sees("stored")
	c.ends(exitDone)
	if n := countKept(t, book, job, "c1"); n != 1 {
		t.Errorf("%d lines are kept, want all in one", n)
	}
}
