package grid

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"handback/testdata/outside"
	"handback/testdata/resaved"
	"handback/testdata/rig"
)

// What a sheet can be told goes through other programs and comes back, but for what each
// of them keeps of no workbook.
func TestOutside_resaved(t *testing.T) {
	outside.Long(t)
	data, err := sampler(t).Bytes()
	if err != nil {
		t.Fatal(err)
	}
	want := map[string]map[string][]string{
		"LibreOffice": {},
		"openpyxl":    {resaved.Results: {"lost 'What's read'!A1 as recorded"}},
		"exceljs":     {resaved.Links: {"lost 'Annex'!A1 to Whats read!A2", "lost 'What's read'!A1 to Annex!A1", "lost 'What's read'!A2 to Annex!A1"}},
	}
	for _, p := range resaved.Programs {
		t.Run(p.Name, func(t *testing.T) {
			if diff := cmp.Diff(want[p.Name], resaved.Differences(t, data, p.Save(t, data))); diff != "" {
				t.Errorf("what came back (-want +got):\n%s", diff)
			}
		})
	}
}

// LibreOffice prints the columns that are to be printed, a repeated row with what its
// formula comes to on every page, and no page of a sheet that is not to be printed.
func TestOutside_printed(t *testing.T) {
	outside.Long(t)
	pdftotext := outside.Tool(t, "pdftotext")
	dir := t.TempDir()
	b := sampler(t)
	b.Sheets[0].Change(2, func(x *Box) {
		if x.Col == 2 {
			x.Value = 480.0 // the heading was made for 432.6
		}
	})
	data, err := b.Bytes()
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(dir, "book.xlsx")
	if err := os.WriteFile(path, data, 0o600); err != nil {
		t.Fatal(err)
	}
	rig.Office(t, dir, "pdf", path)
	out, err := exec.Command(pdftotext, "-layout", filepath.Join(dir, "book.pdf"), "-").Output()
	if err != nil {
		t.Fatal(err)
	}
	pages := strings.Split(strings.TrimSuffix(string(out), "\f"), "\f")
	if len(pages) < 2 {
		t.Errorf("%d pages: the rows take more than one", len(pages))
	}
	for i, page := range pages {
		if strings.Count(page, "WHAT-IF") != 1 || strings.Contains(page, "inner") || strings.Contains(page, "nobody prints this") || !strings.Contains(page, "row") {
			t.Errorf("page %d:\n%s", i+1, page)
		}
	}
}
