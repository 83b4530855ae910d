package page

import (
	"image"
	"image/png"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"handback/report"
	"handback/report/files"
	"handback/testdata/outside"
)

// Chromium shows every page without a complaint, reads all its words, follows the
// system's light or dark, and prints all of it on A4.
func TestOutside_Chromium_shows_the_page(t *testing.T) {
	outside.Long(t)
	outside.Tool(t, "chromium")
	all := stories(t)
	for _, name := range []string{"told", "nasty", "hostile", "a year on"} {
		t.Run(name, func(t *testing.T) {
			d := all[name]
			data, err := Make(d)
			if err != nil {
				t.Fatal(err)
			}
			dir := t.TempDir()
			page := filepath.Join(dir, "handover.html")
			if err := files.Write(page, data, files.Over{Force: true}); err != nil {
				t.Fatal(err)
			}
			dom, said := outside.Browse(t, page, "--dump-dom")
			if strings.Contains(said, "CONSOLE") {
				t.Errorf("the browser complains: %.2000s", said)
			}
			sameAsWritten(t, string(data), dom)
			printedPage(t, page, d)
			if name == "told" {
				lightAndDark(t, page)
			}
		})
	}
}

var (
	tags  = regexp.MustCompile(`(?s)<style.*?</style>|<[^>]*>`)
	marks = strings.NewReplacer("&#34;", `"`, "&quot;", `"`, "&#39;", "'", "&#43;", "+", "&lt;", "<", "&gt;", ">", "&nbsp;", " ", "&amp;", "&")
)

// sameAsWritten holds the words the browser read against those written.
func sameAsWritten(t *testing.T, written, read string) {
	t.Helper()
	words := func(s string) string { return report.OneLine(marks.Replace(tags.ReplaceAllString(s, " "))) }
	a, b := words(written), words(read)
	if len(a) < 2000 || a != b {
		at := 0
		for at < min(len(a), len(b)) && a[at] == b[at] {
			at++
		}
		t.Errorf("the browser reads other words from sign %d of %d on: %.120q, written %.120q", at, len(a), b[at:], a[at:])
	}
}

// printedPage prints to PDF and looks for every check, verdict and signature line.
func printedPage(t *testing.T, page string, d *report.Document) {
	t.Helper()
	pdftotext := outside.Tool(t, "pdftotext")
	file := page + ".pdf"
	outside.Browse(t, page, "--no-pdf-header-footer", "--print-to-pdf="+file)
	out, err := exec.Command(pdftotext, "-layout", file, "-").Output()
	if err != nil {
		t.Fatal(err)
	}
	sheets := strings.Split(strings.TrimRight(string(out), "\f"), "\f")
	text := report.OneLine(strings.Join(sheets, " "))
	for i, sheet := range sheets {
		foot := "page " + strconv.Itoa(i+1) + " of " + strconv.Itoa(len(sheets))
		if !strings.Contains(report.OneLine(sheet), foot) || !strings.Contains(sheet, "job "+d.Job+", record "+report.ShortHash(d.Head)) {
			t.Errorf("sheet %d does not say %q and the record", i+1, foot)
		}
	}
	want := []string{"What the verdicts mean", "signature", d.Head}
	for _, p := range d.Pages() {
		want = append(want, strings.ToUpper(p.Verdict.String()))
	}
	for _, p := range d.People {
		want = append(want, p.Name)
	}
	for _, w := range want {
		if !strings.Contains(text, w) {
			t.Errorf("not printed: %q", w)
		}
	}
	size, err := exec.Command(outside.Tool(t, "pdfinfo"), file).Output()
	if err != nil || !strings.Contains(string(size), "(A4)") {
		t.Errorf("not printed on A4: %v %s", err, size)
	}
}

// lightAndDark looks at the ground of two pictures of the screen.
func lightAndDark(t *testing.T, page string) {
	t.Helper()
	shot := func(name string, flags ...string) image.Image {
		file := page + "." + name + ".png"
		outside.Browse(t, page, append(flags, "--screenshot="+file)...)
		f, err := os.Open(file)
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close()
		m, err := png.Decode(f)
		if err != nil {
			t.Fatal(err)
		}
		return m
	}
	ground := func(m image.Image) uint32 {
		r, g, b, _ := m.At(2, 2).RGBA()
		return (r + g + b) / 3 >> 8
	}
	if light := ground(shot("light", "--window-size=1100,900", "--blink-settings=preferredColorScheme=1")); light < 240 {
		t.Errorf("the light page has a ground of %d of 255", light)
	}
	if dark := ground(shot("dark", "--window-size=1100,900", "--blink-settings=preferredColorScheme=0")); dark > 50 {
		t.Errorf("the dark page has a ground of %d of 255", dark)
	}
}
