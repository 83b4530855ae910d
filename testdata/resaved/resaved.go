// Package resaved has other programs read a workbook and save it again, for tests that
// ask what comes of it.
package resaved

import (
	"bytes"
	"fmt"
	"html"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"

	"handback/testdata/outside"
)

// Program reads a workbook and saves it again.
type Program struct {
	Name string
	Save func(t *testing.T, data []byte) []byte
}

// Programs know nothing of one another: each reads and writes by code of its own.
var Programs = []Program{
	{"LibreOffice", func(t *testing.T, data []byte) []byte {
		office := outside.Tool(t, "soffice")
		return saved(t, data, func(from, to string) *exec.Cmd {
			return exec.Command(office, "-env:UserInstallation=file://"+filepath.Join(filepath.Dir(to), "profile"), "--headless", "--norestore", "--convert-to", "xlsx", "--outdir", filepath.Dir(to), from)
		})
	}},
	{"openpyxl", func(t *testing.T, data []byte) []byte {
		python := outside.Tool(t, "/usr/bin/python3", "-c", "import openpyxl")
		return saved(t, data, func(from, to string) *exec.Cmd {
			return exec.Command(python, "-c", "import sys, openpyxl\nopenpyxl.load_workbook(sys.argv[1]).save(sys.argv[2])", from, to)
		})
	}},
	{"exceljs", func(t *testing.T, data []byte) []byte {
		run := outside.Npm(t, "exceljs@4.4.0")
		return saved(t, data, func(from, to string) *exec.Cmd {
			return run(`const book = new (require("exceljs").Workbook)(), [from, to] = process.argv.slice(1);
book.xlsx.readFile(from).then(() => book.xlsx.writeFile(to)).catch(e => { console.error(e); process.exit(1); });`, from, to)
		})
	}},
}

// saved runs a program from a file to another.
func saved(t *testing.T, data []byte, program func(from, to string) *exec.Cmd) []byte {
	t.Helper()
	dir := t.TempDir()
	from, to := filepath.Join(dir, "book.xlsx"), filepath.Join(dir, "saved", "book.xlsx")
	err := os.Mkdir(filepath.Dir(to), 0o700)
	if err == nil {
		err = os.WriteFile(from, data, 0o600)
	}
	if err == nil {
		var said []byte
		if said, err = program(from, to).CombinedOutput(); err != nil {
			err = fmt.Errorf("%w: %s", err, said)
		}
	}
	if err == nil {
		data, err = os.ReadFile(to)
	}
	if err != nil {
		t.Fatal(err)
	}
	return data
}

// What a workbook holds, each as lines that are the same when it is kept.
const (
	Values   = "values"   // of cells that no formula works out
	Formulas = "formulas" //
	Results  = "results"  // that formulas came to
	Names    = "names"    // and the printed areas and repeated rows
	Rules    = "rules"    // of what cells accept
	Links    = "links"    //
	Open     = "open"     // cells that are not locked, of sheets that are protected
	Sheets   = "sheets"   // in their order, those hidden marked
	Charts   = "charts"   // how many
	Pictures = "pictures" //
	Data     = "data"     // parts that are no spreadsheet's
)

// Differences are, by what it is of, the lines of a workbook that another one lacks or
// has besides.
func Differences(t *testing.T, before, after []byte) map[string][]string {
	t.Helper()
	was, is, out := lines(t, before), lines(t, after), map[string][]string{}
	for what := range was {
		have := map[string]int{}
		for _, l := range is[what] {
			have[l]++
		}
		for _, l := range was[what] {
			if have[l]--; have[l] < 0 {
				out[what] = append(out[what], "lost "+l)
			}
		}
		for l, n := range have {
			if n > 0 {
				out[what] = append(out[what], "new "+l)
			}
		}
		slices.Sort(out[what])
	}
	return out
}

func lines(t *testing.T, data []byte) map[string][]string {
	t.Helper()
	f, err := excelize.OpenReader(bytes.NewReader(data), excelize.Options{RawCellValue: true})
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	out := map[string][]string{}
	add := func(what, format string, args ...any) { out[what] = append(out[what], fmt.Sprintf(format, args...)) }
	for _, what := range []string{Values, Formulas, Results, Names, Rules, Links, Open, Sheets, Charts, Pictures, Data} {
		out[what] = nil
	}
	for _, n := range f.GetDefinedName() {
		to := strings.ReplaceAll(n.RefersTo, "'", "")
		if strings.HasPrefix(n.Name, "_xlnm.") { // an area of its own sheet, from its own first row
			to = strings.ReplaceAll(to, "$", "")
		}
		add(Names, "%s of %s: %s", strings.ToLower(n.Name), n.Scope, to)
	}
	for i, sheet := range f.GetSheetList() {
		visible, err := f.GetSheetVisible(sheet)
		if err != nil {
			t.Fatal(err)
		}
		add(Sheets, "%d %s, visible %v", i, sheet, visible)
		cells(t, f, sheet, add)
	}
	drawn := map[string]bool{} // by content: one program writes a picture twice
	f.Pkg.Range(func(key, content any) bool {
		switch name := key.(string); {
		case strings.HasPrefix(name, "xl/charts/chart"):
			add(Charts, "a chart")
		case strings.HasPrefix(name, "xl/media/"):
			if data, ok := content.([]byte); ok && !drawn[string(data)] {
				drawn[string(data)] = true
				add(Pictures, "a picture")
			}
		case !strings.HasPrefix(name, "xl/") && strings.HasSuffix(name, ".json"):
			add(Data, "%s", name)
		}
		return true
	})
	return out
}

// cells adds what the cells of a sheet hold.
func cells(t *testing.T, f *excelize.File, sheet string, add func(what, format string, args ...any)) {
	t.Helper()
	rules, err := f.GetDataValidations(sheet)
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range rules {
		if r.Type == "" || r.Type == "none" { // it refuses nothing
			continue
		}
		what := r.Type + " " + plain(r.Formula1)
		if r.Type == "decimal" {
			what += " to " + plain(r.Formula2)
		}
		for _, at := range each(t, r.Sqref) {
			add(Rules, "'%s'!%s %s", sheet, at, what)
		}
	}
	protection, err := f.GetSheetProtection(sheet)
	if err != nil {
		t.Fatal(err)
	}
	add(Open, "'%s' password %q, selectable %v", sheet, protection.Password+protection.AlgorithmName, protection.SelectUnlockedCells)
	rows, err := f.GetRows(sheet)
	if err != nil {
		t.Fatal(err)
	}
	for i, row := range rows {
		for j, value := range row {
			at, err := excelize.CoordinatesToCellName(j+1, i+1)
			if err != nil {
				t.Fatal(err)
			}
			cell(t, f, sheet, at, value, add)
		}
	}
}

// cell adds what a cell holds.
func cell(t *testing.T, f *excelize.File, sheet, at, value string, add func(what, format string, args ...any)) {
	t.Helper()
	formula, err := f.GetCellFormula(sheet, at)
	if err != nil {
		t.Fatal(err)
	}
	what := Values
	if formula != "" {
		add(Formulas, "'%s'!%s %s", sheet, at, plain(formula))
		what = Results
	}
	switch {
	case value != "":
		add(what, "'%s'!%s %s", sheet, at, shortened(value, 15))
	case formula == "":
		return
	}
	leads, to, err := f.GetCellHyperLink(sheet, at)
	if err != nil {
		t.Fatal(err)
	}
	if leads {
		add(Links, "'%s'!%s to %s", sheet, at, strings.ReplaceAll(to, "'", ""))
	}
	number, err := f.GetCellStyle(sheet, at)
	if err != nil {
		t.Fatal(err)
	}
	style, err := f.GetStyle(number)
	if err != nil {
		t.Fatal(err)
	}
	if style.Protection != nil && !style.Protection.Locked {
		add(Open, "'%s'!%s", sheet, at)
	}
}

// each is every cell of some areas.
func each(t *testing.T, areas string) (out []string) {
	for _, area := range strings.Fields(areas) {
		from, to, long := strings.Cut(area, ":")
		if !long {
			to = from
		}
		left, top, err := excelize.CellNameToCoordinates(from)
		right, bottom, err2 := excelize.CellNameToCoordinates(to)
		if err != nil || err2 != nil {
			t.Fatalf("a rule of %s: %v, %v", area, err, err2)
		}
		for row := top; row <= bottom; row++ {
			for col := left; col <= right; col++ {
				at, err := excelize.CoordinatesToCellName(col, row)
				if err != nil {
					t.Fatal(err)
				}
				out = append(out, at)
			}
		}
	}
	return out
}

// plain is a formula without what programs write in more than one way: quotes around
// the names of sheets, powers of ten, TRUE as a value and as a function.
func plain(formula string) string {
	return number.ReplaceAllStringFunc(oneWay.Replace(html.UnescapeString(formula)), func(found string) string {
		digits := strings.IndexAny(found, "0123456789")
		return found[:digits] + shortened(found[digits:], 10) // programs write 15 digits, LibreOffice 11 of a small number in a formula
	})
}

var oneWay = strings.NewReplacer("'", "", "TRUE()", "TRUE", "FALSE()", "FALSE")

var number = regexp.MustCompile(`(^|[^A-Za-z0-9.$_])[0-9]+(\.[0-9]+)?([Ee][+-]?[0-9]+)?`)

// shortened writes a number with so many digits, anything else as it is.
func shortened(value string, digits int) string {
	x, err := strconv.ParseFloat(value, 64)
	if err != nil {
		return strings.ReplaceAll(value, "\r\n", "\n")
	}
	return strconv.FormatFloat(x, 'g', digits, 64)
}
