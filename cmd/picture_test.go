package cmd

import (
	"bytes"
	"image/png"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/xuri/excelize/v2"

	"handback/report/files"
	"handback/testdata/outside"
)

const (
	pictures     = "../testdata/pictures"
	largePicture = 200 << 10
)

// The README's picture shows the cover of the demo's handover as it is now.
// cover.txt holds the words of the cover that was drawn, without its hashes, which
// change with every word of the record. -update draws it anew, with soffice and
// pdftoppm.
func TestCoverPicture(t *testing.T) {
	outside.Long(t)
	dir := played(t, theDemo)
	book := filepath.Join(dir, "handover.xlsx")
	words := coverWords(t, book)
	picture, text := filepath.Join(pictures, "cover.png"), filepath.Join(pictures, "cover.txt")
	if *update {
		draw(t, book, picture)
		if err := files.Write(text, []byte(words), files.Over{Force: true}); err != nil {
			t.Fatal(err)
		}
	}
	drawn, err := os.ReadFile(text)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(string(drawn), words); diff != "" {
		t.Errorf("the cover has changed since its picture was drawn; go test ./cmd -run CoverPicture -update draws it anew (-drawn +now):\n%s", diff)
	}
	data, err := os.ReadFile(picture)
	if err != nil {
		t.Fatal(err)
	}
	if len(data) > largePicture {
		t.Errorf("%s has %d bytes: at most %d are wanted", picture, len(data), largePicture)
	}
	size, err := png.DecodeConfig(bytes.NewReader(data))
	if err != nil || size.Width < 500 || size.Height < size.Width {
		t.Errorf("%s: %v, %d × %d points: a page in portrait is wanted", picture, err, size.Width, size.Height)
	}
}

var longHash = regexp.MustCompile(`[0-9a-f]{64}`)

// coverWords are the cells of the first sheet, one row a line.
func coverWords(t *testing.T, path string) string {
	t.Helper()
	f, err := excelize.OpenFile(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := f.GetRows(f.GetSheetName(0))
	if err != nil {
		t.Fatal(err)
	}
	var b strings.Builder
	for _, row := range rows {
		line := strings.Join(strings.Fields(strings.Join(row, " ")), " ")
		if line != "" {
			b.WriteString(longHash.ReplaceAllString(line, "(hash)") + "\n")
		}
	}
	if b.Len() < 500 {
		t.Fatalf("the cover holds %d bytes of words: it was not read", b.Len())
	}
	return b.String()
}

// draw renders the first page of a workbook.
func draw(t *testing.T, book, picture string) {
	t.Helper()
	dir := t.TempDir()
	run := func(name string, args ...string) {
		t.Helper()
		c := exec.Command(name, args...)
		c.Env = append(os.Environ(), "HOME="+dir)
		if out, err := c.CombinedOutput(); err != nil {
			t.Fatalf("%s: %v\n%s", name, err, out)
		}
	}
	run("soffice", "--headless", "--convert-to", "pdf", "--outdir", dir, book)
	pdf := filepath.Join(dir, strings.TrimSuffix(filepath.Base(book), ".xlsx")+".pdf")
	run("pdftoppm", "-png", "-gray", "-r", "80", "-f", "1", "-l", "1", "-singlefile", pdf, filepath.Join(dir, "cover"))
	data, err := os.ReadFile(filepath.Join(dir, "cover.png"))
	if err != nil {
		t.Fatal(err)
	}
	if err := os.MkdirAll(filepath.Dir(picture), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := files.Write(picture, data, files.Over{Force: true}); err != nil {
		t.Fatal(err)
	}
}
