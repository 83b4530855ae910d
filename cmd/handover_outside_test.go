package cmd

import (
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

// What the demo hands over says all that a report must, and prints on no more paper than
// somebody reads.
func TestOutside_demo_handover(t *testing.T) {
	outside.Long(t)
	dir := played(t, theDemo)
	book := filepath.Join(dir, "handover.xlsx")
	t.Run("what a report must carry", func(t *testing.T) { mustCarry(t, book) })
	t.Run("pages", func(t *testing.T) { fewPages(t, book) })
}

// reportItems are what ISO/IEC 17025:2017, 7.8.2.1 and 7.8.6.2, ask of a report of tests,
// each with texts of the demo's plan, or of the certificate, that say it.
var reportItems = []struct {
	item  string
	texts []string
}{
	{"7.8.2.1 a) title", []string{"Handover certificate"}},
	{"b) name and address of who tested", []string{"Fenmark Services; Unit 25, Kiln Yard, Fenmark"}},
	{"c) where it was done", []string{"Tarnholt pumping station, main LV board; Pump Road 38, Tarnholt"}},
	{"d) identification, and a clear end", []string{"TH-LV-0638", "revision C", "t2-return-1", "End of the certificate of job t2-return-1", "End of the printed handover of job t2-return-1"}},
	{"e) customer and contact", []string{"Tarnholt Water; 46 Weir Lane, Tarnholt; Ines Colvane, plant office, extension 484"}},
	{"f) method", []string{"MS-26-084, revision A", "Each kind of check as the sheet Method says"}},
	{"g) the item, unambiguous, and its condition", []string{"Serial number BCW-21413", "Asset number TH-TR-26", "Vector group Dyn1", "Tap before the work 1", "Off-circuit taps of T2 moved from position 1 to 3"}},
	{"h), i) dates of the work", []string{"2026-04-07 07:12:00 +01:00", "2026-04-07 14:01:00 +01:00", "Mira Sandrell, 2026-04-07 09:55:00 +01:00, entries 84 to 86"}},
	{"j) date of issue", []string{"date of issue"}},
	{"k) sampling", []string{"Nothing was sampled"}},
	{"l) only to the items tested", []string{"The results relate to the plant named above alone"}},
	{"m) results with units", []string{"−0.87 ± 0.82 %", "±2 %", "6550 ± 43 V", "6490 to 6760 V"}},
	{"n) additions, deviations, exclusions", []string{"1 concession, 1 repeated attempt", "accepted by Jonas Averbek", "repeats because"}},
	{"o) who authorises", []string{"Checked", "Jonas Averbek, engineer, Fenmark Services", "Ines Colvane, owner, Tarnholt Water"}},
	{"p) results of others", []string{"What comes from others"}},
	{"7.8.6.2 a) to which results it applies", []string{"A verdict is stated for every result that has a limit"}},
	{"b) which specification is met or not", []string{"at most 0.8 %", "FAIL", "owner's standard for the pump drives", "IEC 60038"}},
	{"c) decision rule", []string{"limits are drawn in by the expanded uncertainty", "ILAC-G8:09/2019"}},
}

// mustCarry looks for each item in the printed areas of a workbook, and for what
// identifies it on every page.
func mustCarry(t *testing.T, book string) {
	f, err := excelize.OpenFile(book)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	var all strings.Builder
	sheets := 0
	for _, n := range f.GetDefinedName() {
		if n.Name != "_xlnm.Print_Area" {
			continue
		}
		words := wordsIn(t, f, n.Scope, n.RefersTo)
		if words == "" {
			continue
		}
		sheets++
		all.WriteString(words)
		foot, err := f.GetHeaderFooter(n.Scope)
		if err != nil || !strings.Contains(foot.OddFooter, "job t2-return-1, record ") || !strings.Contains(foot.OddFooter, "page &P of &N") {
			t.Errorf("at the foot of %s stands %+v, %v", n.Scope, foot, err)
		}
	}
	if sheets < 4 {
		t.Errorf("%d sheets are printed: certificate, two of tests and log are wanted", sheets)
	}
	for _, x := range reportItems {
		for _, text := range x.texts {
			if !strings.Contains(all.String(), text) {
				t.Errorf("%s: nothing that is printed says %q", x.item, text)
			}
		}
	}
}

var areaShape = regexp.MustCompile(`\$([A-Z]+)\$([0-9]+):\$([A-Z]+)\$([0-9]+)$`)

// wordsIn are the cells of an area, a line each.
func wordsIn(t *testing.T, f *excelize.File, sheet, area string) string {
	t.Helper()
	m := areaShape.FindStringSubmatch(area)
	if m == nil {
		t.Fatalf("the printed area of %s is %q", sheet, area)
	}
	last, err := excelize.ColumnNameToNumber(m[3])
	if err != nil {
		t.Fatal(err)
	}
	first, _ := strconv.Atoi(m[2])
	end, _ := strconv.Atoi(m[4])
	rows, err := f.GetRows(sheet)
	if err != nil {
		t.Fatal(err)
	}
	var b strings.Builder
	for i, row := range rows {
		if i+1 < first || i+1 > end {
			continue
		}
		for _, cell := range row[:min(last, len(row))] {
			if cell != "" {
				b.WriteString(cell + "\n")
			}
		}
	}
	return b.String()
}

// What is wanted of the demo on paper (our choice; A4).
const (
	mostPaper    = 12
	leastFilled  = 1.0 / 3
	leastLetters = 8.0 // points
)

// fewPages has LibreOffice print a workbook: few pages, none nearly empty but the last of
// a sheet, and no letter smaller than 8 points.
func fewPages(t *testing.T, book string) {
	outside.Tool(t, "soffice")
	text, draw := outside.Tool(t, "pdftotext"), outside.Tool(t, "pdftoppm")
	dir := t.TempDir()
	run := func(name string, args ...string) []byte {
		t.Helper()
		c := exec.Command(name, args...)
		c.Env = append(os.Environ(), "HOME="+dir)
		out, err := c.CombinedOutput()
		if err != nil {
			t.Fatalf("%s: %v\n%s", name, err, out)
		}
		return out
	}
	run("soffice", "--headless", "--convert-to", "pdf", "--outdir", dir, book)
	pdf := filepath.Join(dir, "handover.pdf")
	pages := strings.Split(strings.TrimSuffix(string(run(text, "-layout", pdf, "-")), "\f"), "\f")
	if len(pages) > mostPaper || len(pages) < 6 {
		t.Errorf("%d pages, at most %d are wanted", len(pages), mostPaper)
	}
	run(draw, "-gray", "-r", "20", pdf, filepath.Join(dir, "page"))
	drawn, err := filepath.Glob(filepath.Join(dir, "page-*.pgm"))
	if err != nil || len(drawn) != len(pages) {
		t.Fatalf("%d pages drawn, %d written: %v", len(drawn), len(pages), err)
	}
	slices.Sort(drawn)
	for i, path := range drawn {
		if lastOfSheet := i+1 == len(pages) || sheetOf(pages[i]) != sheetOf(pages[i+1]); lastOfSheet {
			continue
		}
		if full := filled(t, path); full < leastFilled {
			t.Errorf("page %d is %.0f %% full", i+1, 100*full)
		}
	}
	smallLetters(t, string(run(text, "-bbox", pdf, "-")))
}

// sheetOf is the middle of a page's foot: the sheet it belongs to.
func sheetOf(page string) string {
	lines := strings.Split(strings.TrimSpace(page), "\n")
	parts := regexp.MustCompile(` {3,}`).Split(strings.TrimSpace(lines[len(lines)-1]), -1)
	if len(parts) < 3 {
		return ""
	}
	return parts[1]
}

var wordBox = regexp.MustCompile(`<word xMin="[0-9.]+" yMin="([0-9.]+)" xMax="[0-9.]+" yMax="([0-9.]+)">([^<]*)</word>`)

// boxed is how high a box pdftotext draws about letters of size 1: 10.39 points for the
// foot of a page, which is set in 8 (measured).
const boxed = 10.39 / 8

// smallLetters finds words that are set smaller than the least size.
func smallLetters(t *testing.T, boxes string) {
	t.Helper()
	words := wordBox.FindAllStringSubmatch(boxes, -1)
	if len(words) < 1000 {
		t.Fatalf("%d words: they were not read", len(words))
	}
	for _, m := range words {
		top, _ := strconv.ParseFloat(m[1], 64)
		bottom, _ := strconv.ParseFloat(m[2], 64)
		if size := (bottom - top) / boxed; size < 0.98*leastLetters {
			t.Errorf("%q is printed in %.1f points, at least %.0f are wanted", m[3], size, leastLetters)
			return
		}
	}
}
