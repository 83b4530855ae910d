package cmd

import (
	"strings"

	"github.com/rogpeppe/go-internal/testscript"
	"github.com/xuri/excelize/v2"
)

// fill SHEET FILLED CHECK/KEY=VALUE…: type values into the cells of a field sheet,
// as a person with a spreadsheet would, and save it under another name.
func fill(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 3 {
		ts.Fatalf("usage: fill SHEET FILLED CHECK/KEY=VALUE…")
	}
	f, err := excelize.OpenFile(ts.MkAbs(args[0]))
	ts.Check(err)
	defer f.Close()
	rows, err := f.GetRows("handback")
	ts.Check(err)
	cells := map[string][2]string{}
	for _, r := range rows {
		if len(r) == 6 && r[0] == "input" {
			cells[r[3]+"/"+r[5]] = [2]string{r[1], r[2]}
		}
	}
	for _, pair := range args[2:] {
		key, value, _ := strings.Cut(pair, "=")
		at, ok := cells[key]
		if !ok {
			ts.Fatalf("the sheet asks no %s", key)
		}
		ts.Check(f.SetCellStr(at[0], at[1], value))
	}
	ts.Check(f.SaveAs(ts.MkAbs(args[1])))
}
