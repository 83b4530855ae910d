package report

import (
	"bytes"
	"encoding/csv"
	"encoding/xml"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/xuri/excelize/v2"
)

// hardRecalculation makes LibreOffice work every formula out anew when it opens a
// workbook; else it shows the results that stand in the file.
const hardRecalculation = `<?xml version="1.0" encoding="UTF-8"?>
<oor:items xmlns:oor="http://openoffice.org/2001/registry" xmlns:xs="http://www.w3.org/2001/XMLSchema" xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance">
<item oor:path="/org.openoffice.Office.Calc/Formula/Load"><prop oor:name="OOXMLRecalcMode" oor:op="fuse"><value>0</value></prop></item>
</oor:items>`

// recalculate has LibreOffice work out workbooks, named without their ending, and
// save their sheets in dir.
func recalculate(t *testing.T, dir string, books map[string][]byte) {
	t.Helper()
	profile := filepath.Join(dir, "profile", "user")
	if err := os.MkdirAll(profile, 0o700); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(profile, "registrymodifications.xcu"), []byte(hardRecalculation), 0o600); err != nil {
		t.Fatal(err)
	}
	var paths []string
	for _, name := range sortedKeys(books) {
		path := filepath.Join(dir, name+".xlsx")
		if err := os.WriteFile(path, books[name], 0o600); err != nil {
			t.Fatal(err)
		}
		paths = append(paths, path)
	}
	office(t, dir, asCSV, paths...)
}

// saved is one sheet as LibreOffice saved it.
func saved(t *testing.T, dir, book, sheet string) [][]string {
	t.Helper()
	file, err := os.Open(filepath.Join(dir, book+"-"+sheet+".csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	r := csv.NewReader(file)
	r.FieldsPerRecord = -1
	rows, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	return rows
}

func in(rows [][]string, row, col int) string {
	if row < 1 || row > len(rows) || col > len(rows[row-1]) {
		return ""
	}
	return rows[row-1][col-1]
}

// stored is a cell of a workbook's file.
type stored struct {
	Ref     string  `xml:"r,attr"`
	Type    string  `xml:"t,attr"`
	Formula *string `xml:"f"`
	Value   string  `xml:"v"`
	Text    string  `xml:"is>t"`
}

// storedCells reads the cells of every sheet as they stand in the file.
func storedCells(t testing.TB, data []byte) map[string][]stored {
	t.Helper()
	f, err := excelize.OpenReader(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	files := parts(t, data)
	out := map[string][]stored{}
	for i, sheet := range f.GetSheetList() {
		var x struct {
			Rows []struct {
				Cells []stored `xml:"c"`
			} `xml:"sheetData>row"`
		}
		if err := xml.Unmarshal(files[fmt.Sprintf("xl/worksheets/sheet%d.xml", i+1)], &x); err != nil {
			t.Fatal(err)
		}
		for _, r := range x.Rows {
			out[sheet] = append(out[sheet], r.Cells...)
		}
	}
	return out
}

var isError = regexp.MustCompile(`^(#|Err:)`)

// worksOutAlike compares every result that stands in a workbook with what LibreOffice
// works out, to 1e-9. What differs by no more than the rounding of the value it was
// taken of, 1e-12, is alike too: an uncertainty in which two readings' common error
// cancels is 0 in one program and 1e-14 in another. It gives the differences, and how
// many formulas there were.
func worksOutAlike(t *testing.T, dir, book string, data []byte) (differences []string, formulas int) {
	t.Helper()
	for sheet, cells := range storedCells(t, data) {
		theirs := saved(t, dir, book, sheet)
		for _, c := range cells {
			if c.Formula == nil {
				continue
			}
			formulas++
			col, row, err := excelize.CellNameToCoordinates(c.Ref)
			if err != nil {
				t.Fatal(err)
			}
			got := in(theirs, row, col)
			if !alike(c, got, theirs, row) {
				differences = append(differences, fmt.Sprintf("%s '%s'!%s: stored %q, worked out %q from %s", book, sheet, c.Ref, c.Value, got, *c.Formula))
			}
		}
	}
	return differences, formulas
}

func alike(c stored, got string, rows [][]string, row int) bool {
	switch c.Type {
	case "str":
		return got == c.Value
	case "e":
		return isError.MatchString(got)
	}
	share, percent := strings.CutSuffix(got, "%")
	x, errX := strconv.ParseFloat(c.Value, 64)
	y, errY := strconv.ParseFloat(share, 64)
	if errX != nil || errY != nil {
		return false
	}
	if percent { // saved with fewer digits
		return math.Abs(x-y/100) <= 1e-7
	}
	size := 0.0
	for _, r := range []int{row, row - 1} {
		for _, col := range []int{colValue, workValue} {
			if v, err := strconv.ParseFloat(in(rows, r, col), 64); err == nil {
				size = math.Max(size, math.Abs(v))
			}
		}
	}
	if u, err := strconv.ParseFloat(in(rows, row-1, workSpread), 64); err == nil { // how far a value moves, below the U it goes into
		size = math.Max(size, 1e3*u)
	}
	return math.Abs(x-y) <= 1e-9*math.Abs(x) || math.Abs(x-y) <= 1e-12*size || math.Abs(x-y) <= 1e-19 // LibreOffice saves no more decimals
}

func TestOutside_LibreOffice_works_out_the_same(t *testing.T) {
	if testing.Short() {
		t.Skip("takes seconds: not in a short run")
	}
	outside(t, "soffice")
	books := map[string][]byte{}
	for name, story := range map[string]func(testing.TB) *rig{"told": told, "nasty": nasty} {
		r := story(t)
		data, err := Workbook(r.document(r.now.Add(time.Hour)))
		if err != nil {
			t.Fatal(err)
		}
		books[name] = data
	}
	for kind, d := range caseDocuments(t) {
		data, err := Workbook(d)
		if err != nil {
			t.Fatal(err)
		}
		books[kind] = data
	}
	dir := t.TempDir()
	recalculate(t, dir, books)
	for name, data := range books {
		differences, formulas := worksOutAlike(t, dir, name, data)
		for i, d := range differences {
			if i == 8 {
				t.Errorf("and %d more", len(differences)-i)
				break
			}
			t.Error(d)
		}
		t.Logf("%s: %d formulas, %d bytes", name, formulas, len(data))
	}
}
