package report

import (
	"encoding/binary"
	"encoding/csv"
	"errors"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/xuri/excelize/v2"

	"handback/testdata/outside"
)

// office converts the workbooks of dir with LibreOffice, in a profile of its own.
func office(t *testing.T, dir, to string, books ...string) {
	t.Helper()
	c := exec.Command(outside.Tool(t, "soffice"), append([]string{"-env:UserInstallation=file://" + filepath.Join(dir, "profile"),
		"--headless", "--norestore", "--convert-to", to, "--outdir", dir}, books...)...)
	if out, err := c.CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
}

// asCSV saves every sheet in full precision, the values and not what they show.
const asCSV = "csv:Text - txt - csv (StarCalc):44,34,76,1,,0,false,false,false,false,false,-1"

// Every cell of every sheet as LibreOffice reads it equals what was put there, and
// printed it shows every check, every verdict and no number too wide for its cell.
func TestOutside_LibreOffice_reads_the_workbook(t *testing.T) {
	if testing.Short() {
		t.Skip("takes seconds: not in a short run")
	}
	outside.Tool(t, "soffice")
	pdftotext := outside.Tool(t, "pdftotext")
	dir := t.TempDir()
	docs := map[string]*Document{}
	var books []string
	for name, story := range map[string]func(testing.TB) *rig{"told": told, "nasty": nasty} {
		r := story(t)
		docs[name] = r.document(r.now.Add(time.Hour))
		data, err := Workbook(docs[name])
		if err != nil {
			t.Fatal(err)
		}
		path := filepath.Join(dir, name+".xlsx")
		if err := WriteFile(path, data, Over{Force: true}); err != nil {
			t.Fatal(err)
		}
		books = append(books, path)
	}
	office(t, dir, asCSV, books...)
	office(t, dir, "pdf", books...)
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
					t.Errorf("%s: %.80q here, %.80q in LibreOffice", Cell{sheet, i + 1, j + 1}.Ref(), want, got)
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

func printed(t *testing.T, pdftotext, pdf string, d *Document) {
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
	if len(pages) < 6 {
		t.Fatalf("%d pages: there are more sheets", len(pages))
	}
	for i, page := range pages {
		foot := fmt.Sprintf("page %d of %d", i+1, len(pages))
		if !strings.Contains(page, foot) || !strings.Contains(page, "job "+d.Job+", record "+shortHash(d.Head)) {
			t.Errorf("page %d lacks %q, the job or the record", i+1, foot)
		}
	}
	cover := strings.Join(strings.Fields(pages[0]), "")
	head, rest := overallParts(d.Overall)
	for _, text := range []string{d.Head, d.PlanHash, d.Digest, "signature", strings.Join(strings.Fields(Deferral), ""), strings.Join(strings.Fields(head), ""), strings.Join(strings.Fields(rest), "")} {
		if !strings.Contains(cover, text) {
			t.Errorf("the cover's one page lacks %q", text)
		}
	}
	if !strings.Contains(pages[1], "Results at a glance") {
		t.Error("the cover runs over its page")
	}
}

// The widths that row heights rest on agree with a font of the same metrics, read
// from its tables (ISO/IEC 14496-22: head, hhea, hmtx, cmap format 4).
func TestOutside_widths_are_those_of_the_font(t *testing.T) {
	const path = "/usr/share/fonts/truetype/liberation/LiberationSans-Regular.ttf"
	data, err := os.ReadFile(path)
	if errors.Is(err, os.ErrNotExist) {
		outside.Missing(t, "font "+filepath.Base(path), err)
	}
	if err != nil {
		t.Fatal(err)
	}
	f := font{data, map[string]int{}}
	for i := range f.u16(4) {
		record := 12 + 16*i
		f.tables[string(data[record:record+4])] = f.u32(record + 8)
	}
	for i, want := range widths {
		if got := f.advance(t, ' '+i) * 1000 / f.u16(f.tables["head"]+18); got < want-1 || got > want+1 {
			t.Errorf("%q is %d wide in the font, %d here", rune(' '+i), got, want)
		}
	}
}

type font struct {
	data   []byte
	tables map[string]int
}

func (f font) u16(at int) int { return int(binary.BigEndian.Uint16(f.data[at:])) }
func (f font) u32(at int) int { return int(binary.BigEndian.Uint32(f.data[at:])) }

// advance looks a character up in a cmap of format 4 and gives its width in units.
func (f font) advance(t *testing.T, char int) int {
	cmap := f.tables["cmap"]
	for i := range f.u16(cmap + 2) {
		sub := cmap + f.u32(cmap+4+8*i+4)
		if f.u16(sub) != 4 {
			continue
		}
		segments := f.u16(sub+6) / 2
		ends, starts, deltas, offsets := sub+14, sub+16+2*segments, sub+16+4*segments, sub+16+6*segments
		for s := range segments {
			first := f.u16(starts + 2*s)
			if char > f.u16(ends+2*s) || char < first {
				continue
			}
			glyph := char
			if o := f.u16(offsets + 2*s); o != 0 {
				glyph = f.u16(offsets + 2*s + o + 2*(char-first))
			}
			glyph = (glyph + f.u16(deltas+2*s)) & 0xffff
			glyph = min(glyph, f.u16(f.tables["hhea"]+34)-1)
			return f.u16(f.tables["hmtx"] + 4*glyph)
		}
	}
	t.Fatalf("the font has no %q", rune(char))
	return 0
}
