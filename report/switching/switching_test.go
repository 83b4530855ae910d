package switching_test

import (
	"bytes"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	_ "handback/checks/kinds" // every kind registers itself
	"handback/checks/plan"
	"handback/report/grid"
	"handback/report/switching"
)

func stepsPlan(t *testing.T) *plan.Plan {
	t.Helper()
	text, err := os.ReadFile("../../testdata/scripts/shared/steps.yaml")
	if err != nil {
		t.Fatal(err)
	}
	p, err := plan.Load("steps.yaml", text)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// The sheet says what the text says: every line of the one stands in the other, in order, each step has its own row with
// its section, lock, key and document, and the cells to fill are empty.
func TestWorkbook(t *testing.T) {
	p := stepsPlan(t)
	made := time.Date(2026, 5, 12, 9, 0, 0, 0, time.UTC)
	data, err := switching.Workbook(p, made)
	if err != nil {
		t.Fatal(err)
	}
	if again, err := switching.Workbook(p, made); err != nil || !bytes.Equal(data, again) {
		t.Errorf("two workbooks of one plan differ: %v", err)
	}
	cells := cellsOf(t, data)
	var whole strings.Builder
	for _, row := range cells {
		whole.WriteString(strings.Join(row, " ") + "\n")
	}
	for i, it := range p.Items() {
		r := slices.IndexFunc(cells, func(row []string) bool { return row[0] == strconv.Itoa(i+1) })
		if r < 0 {
			t.Errorf("item %d has no row", i+1)
			continue
		}
		row := cells[r]
		if it.Check != nil {
			if !strings.Contains(row[1], it.Check.ID) || row[3] != "result" {
				t.Errorf("check %s is laid out as %q", it.Check.ID, row)
			}
			continue
		}
		s := it.Does()
		if row[1] != s.Action || row[2] != s.Section {
			t.Errorf("step %s is laid out as %q", s.ID, row)
		}
		for _, with := range []string{s.Lock, s.Key, s.Document} {
			if !strings.Contains(row[3], with) {
				t.Errorf("step %s is laid out without %s: %q", s.ID, with, row)
			}
		}
		if row[4]+row[5]+row[7] != "" || (row[6] != "") != s.Confirm {
			t.Errorf("step %s is filled in: %q", s.ID, row)
		}
		if it.Hold != nil && !strings.Contains(cells[r-1][1], "HOLD: do not proceed until passed: "+strings.Join(it.Hold.Needs, ", ")) {
			t.Errorf("hold %s is announced by %q", s.ID, cells[r-1])
		}
	}
	facts := 0
	for i := range p.Items() {
		for _, fact := range switching.Facts(p, i+1) {
			facts++
			if !strings.Contains(whole.String(), fact) {
				t.Errorf("the sheet does not say %q", fact)
			}
		}
	}
	for _, words := range []string{"instructed done confirmed time", switching.Caution, switching.Summary(p), "drawing: TN-E-014 C"} {
		if !strings.Contains(whole.String(), words) {
			t.Errorf("the sheet does not say %q", words)
		}
	}
	if facts < 10 {
		t.Errorf("%d facts", facts)
	}
}

// cellsOf are the cells of a workbook's only sheet, eight a row.
func cellsOf(t *testing.T, data []byte) [][]string {
	t.Helper()
	parts, err := grid.OpenParts(data)
	if err != nil {
		t.Fatal(err)
	}
	book, err := grid.ReadBook(parts)
	if err != nil {
		t.Fatal(err)
	}
	var out [][]string
	for c, cell := range book.Cells {
		for len(out) < c.Row {
			out = append(out, make([]string, 8))
		}
		out[c.Row-1][c.Col-1] = cell.Text
		if cell.Number {
			out[c.Row-1][c.Col-1] = strconv.FormatFloat(cell.X, 'f', -1, 64)
		}
	}
	return out
}
