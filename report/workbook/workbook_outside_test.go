package workbook

import (
	"encoding/csv"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/xuri/excelize/v2"

	"handback/report"
	"handback/report/files"
	"handback/report/grid"
	"handback/testdata/outside"
	"handback/testdata/rig"
)

// asCSV saves every sheet in full precision, the values and not what they show.
const asCSV = "csv:Text - txt - csv (StarCalc):44,34,76,1,,0,false,false,false,false,false,-1"

// Every cell of every sheet as LibreOffice reads it equals what was put there, and
// printed it shows every check, every verdict and no number too wide for its cell.
func TestOutside_LibreOffice_reads_the_workbook(t *testing.T) {
	outside.Long(t)
	outside.Tool(t, "soffice")
	pdftotext := outside.Tool(t, "pdftotext")
	dir := t.TempDir()
	docs := map[string]*report.Document{}
	var books []string
	for name, story := range map[string]func(testing.TB) *rig.Rig{"told": rig.Told, "nasty": rig.Nasty} {
		r := story(t)
		docs[name] = r.Document(r.Now.Add(time.Hour))
		data, err := Make(docs[name])
		if err != nil {
			t.Fatal(err)
		}
		path := filepath.Join(dir, name+".xlsx")
		if err := files.Write(path, data, files.Over{Force: true}); err != nil {
			t.Fatal(err)
		}
		books = append(books, path)
	}
	rig.Office(t, dir, asCSV, books...)
	rig.Office(t, dir, "pdf", books...)
	for name, d := range docs {
		t.Run(name+" cells", func(t *testing.T) { sameCells(t, dir, name) })
		t.Run(name+" printed", func(t *testing.T) { printed(t, pdftotext, filepath.Join(dir, name+".pdf"), d) })
	}
}

func sameCells(t *testing.T, dir, name string) {
	f, err := excelize.OpenFile(filepath.Join(dir, name+".xlsx"), excelize.Options{RawCellValue: true})
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	cells := 0
	for _, sheet := range f.GetSheetList() {
		file, err := os.Open(filepath.Join(dir, name+"-"+sheet+".csv"))
		if err != nil {
			t.Fatal(err)
		}
		r := csv.NewReader(file)
		r.FieldsPerRecord = -1
		theirs, err := r.ReadAll()
		file.Close()
		if err != nil {
			t.Fatal(err)
		}
		ours, err := f.GetRows(sheet)
		if err != nil {
			t.Fatal(err)
		}
		for i, row := range ours {
			for j, want := range row {
				got := ""
				if i < len(theirs) && j < len(theirs[i]) {
					got = theirs[i][j]
				}
				cells++
				if !sameValue(want, got) {
					t.Errorf("%s: %.80q here, %.80q in LibreOffice", grid.Cell{Sheet: sheet, Row: i + 1, Col: j + 1}.Ref(), want, got)
				}
			}
		}
	}
	if cells < 500 {
		t.Errorf("%d cells compared: there are more", cells)
	}
}

// sameValue compares cells: numbers to 1e-14, shares that stand as per cent to 1e-7,
// texts exactly.
func sameValue(want, got string) bool {
	if want == got {
		return true
	}
	x, err := strconv.ParseFloat(want, 64)
	if err != nil {
		return false
	}
	within := 1e-14
	share, isShare := strings.CutSuffix(got, "%")
	y, err := strconv.ParseFloat(share, 64)
	if isShare { // LibreOffice saves these with fewer digits
		y, within = y/100, 1e-7
	}
	return err == nil && math.Abs(x-y) <= math.Max(within*math.Abs(x), 1e-20) // it saves 20 decimals
}

func printed(t *testing.T, pdftotext, pdf string, d *report.Document) {
	out, err := exec.Command(pdftotext, "-layout", pdf, "-").Output()
	if err != nil {
		t.Fatal(err)
	}
	pages := strings.Split(strings.TrimSuffix(string(out), "\f"), "\f")
	whole := strings.Join(strings.Fields(string(out)), "")
	if strings.Contains(whole, "###") {
		t.Error("a number is wider than its cell: ### is printed")
	}
	for _, p := range d.Pages() {
		if !strings.Contains(whole, strings.Join(strings.Fields(p.Title), "")) {
			t.Errorf("the title %q is not printed", p.Title)
		}
	}
	if len(pages) < 4 {
		t.Fatalf("%d pages: there are more sheets", len(pages))
	}
	certificate := ""
	for i, page := range pages {
		foot := fmt.Sprintf("page %d of %d", i+1, len(pages))
		if !strings.Contains(page, foot) || !strings.Contains(page, "job "+d.Job+", record "+report.ShortHash(d.Head)) {
			t.Errorf("page %d lacks %q, the job or the record", i+1, foot)
		}
		if regexp.MustCompile(` Certificate +page `).MatchString(page) {
			certificate += strings.Join(strings.Fields(page), "")
		}
	}
	head, rest := overallParts(d.Overall)
	for _, text := range []string{d.Head, d.PlanHash, d.Digest, "Signatures", strings.Join(strings.Fields(report.Deferral), ""), strings.Join(strings.Fields(head), ""), strings.Join(strings.Fields(rest), ""), "Endofthecertificate"} {
		if !strings.Contains(certificate, text) {
			t.Errorf("the certificate lacks %q", text)
		}
	}
	if !strings.Contains(strings.Join(strings.Fields(pages[0]), ""), strings.Join(strings.Fields(head), "")) {
		t.Error("the first page does not say what the job comes to")
	}
	if !strings.Contains(pages[len(pages)-1], "End of the printed handover") {
		t.Error("the last page does not end the handover")
	}
}
