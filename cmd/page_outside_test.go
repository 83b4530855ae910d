package cmd

import (
	"bytes"
	"encoding/json"
	"fmt"
	"html"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"handback/cmd/session"
	"handback/testdata/outside"
)

// mostPagePrint is what the demo's page may print at most.
const mostPagePrint = 14

// The demo's page and that of a job with failures, stops and no end: as a narrow screen
// shows them, as they print, and as axe-core finds them.
func TestOutside_page_in_a_browser(t *testing.T) {
	outside.Long(t)
	outside.Tool(t, "chromium")
	pages := pagesOfDemo(t)
	for name, made := range pages {
		t.Run(name+", 360 px wide", func(t *testing.T) { fitsNarrow(t, made) })
		t.Run(name+", axe-core", func(t *testing.T) { axeFindsNothing(t, made) })
	}
	t.Run("demo, printed", func(t *testing.T) { printsInFew(t, pages["demo"]) })
	t.Run("axe-core finds what is wrong", func(t *testing.T) {
		if found := axe(t, strings.Replace(pages["demo"], "</main>", `<img src="data:,"></main>`, 1)); !strings.Contains(strings.Join(found, " "), "image-alt") {
			t.Errorf("a picture without words is not found: %q", found)
		}
	})
}

// pagesOfDemo are the page of the demo, and that of a second job of its plan in which a
// conductor is live, a proof is void and volts are out.
func pagesOfDemo(t *testing.T) map[string]string {
	t.Helper()
	dir := played(t, theDemo)
	var out bytes.Buffer
	env := session.Env{In: strings.NewReader(""), Out: &out, Err: &out, Now: func() time.Time { return time.Date(2026, 5, 13, 8, 10, 0, 0, time.UTC) },
		Random: strings.NewReader(strings.Repeat("chance", 20)), Program: "handback " + session.Version}
	run := func(args ...string) {
		t.Helper()
		if status := Main(args, env); status != exitDone {
			t.Fatalf("%q ends with status %d:\n%s", args, status, out.String())
		}
	}
	of := func(args ...string) { run(append([]string{"--book", filepath.Join(dir, "book.db")}, args...)...) }
	bad, file := "t2-return-2", filepath.Join(dir, "bad.html")
	of("open", filepath.Join(dir, "plan.yaml"), "--by", "mira")
	for _, step := range strings.Fields("stop off-inc2 out-inc2 lock-inc2 key-out on-tie off-q2 lock-q2 key-es2") {
		of("done", bad, step)
	}
	of("enter", bad, "dead-hv", "tester=det-hv", "source=prove-1", "before=live", "before_at=now", "l1e=not live", "l2e=not live", "l3e=not live", "points_at=now", "after=not live", "after_at=now")
	of("enter", bad, "dead-lv", "tester=det-lv", "source=prove-1", "before=live", "before_at=now", "before_volts=230", "l1e=228", "l2e=0.3", "l3e=0.4", "ne=0.1",
		"l1l2=229", "l2l3=0.2", "l3l1=230", "l1n=228", "l2n=0.2", "l3n=0.3", "points_at=now", "after=live", "after_at=now", "after_volts=231", "--keep", "typed in one go")
	of("enter", bad, "hv", "meter=hvm-2", "value=11.21 kV", "--past-hold", "read on the panel meter")
	of("handover", bad, "-o", filepath.Join(dir, "bad.xlsx"), "--page", file)
	pages := map[string]string{}
	for name, path := range map[string]string{"demo": filepath.Join(dir, "handover.html"), "failed job": file} {
		data, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		pages[name] = string(data)
	}
	for _, want := range []string{"STOP", "mark void", "mark fail", "mark missing", "Earlier jobs on this plant"} {
		if !strings.Contains(pages["failed job"], want) {
			t.Errorf("the failed job's page has no %q", want)
		}
	}
	return pages
}

var policy = regexp.MustCompile(`<meta http-equiv="Content-Security-Policy"[^>]*/>`)

// scripted is a copy of a page that runs a script when it is shown, every annex open. The
// page itself forbids scripts and has none.
func scripted(t *testing.T, made, script string) string {
	t.Helper()
	if !policy.MatchString(made) || strings.Contains(made, "<script") {
		t.Fatal("the page does not forbid scripts, or has one")
	}
	open := `addEventListener("load", function () { document.querySelectorAll("details").forEach(function (d) { d.open = true }); `
	return strings.Replace(policy.ReplaceAllString(made, ""), "</body>", "<script>"+open+script+" })</script></body>", 1)
}

func put(t *testing.T, dir, name, content string) string {
	t.Helper()
	path := filepath.Join(dir, name)
	if err := os.WriteFile(path, []byte(content), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

// fitsNarrow shows the page in a frame of 360 px, with every annex open. A picture alone may
// scroll, within itself.
func fitsNarrow(t *testing.T, made string) {
	dir := t.TempDir()
	put(t, dir, "page.html", scripted(t, made, `parent.postMessage(innerWidth + " " + document.documentElement.scrollWidth + " " + document.querySelectorAll("td").length + " " + `+squeezed+`, "*")`))
	frame := put(t, dir, "frame.html", `<!DOCTYPE html><iframe src="page.html" style="width:360px;height:800px;border:0"></iframe><pre></pre>
<script>onmessage = function (e) { document.querySelector("pre").textContent = e.data }</script>`)
	out, _ := outside.Browse(t, frame, "--virtual-time-budget=10000", "--dump-dom")
	var wide, scroll, cells, narrow int
	_, said, _ := strings.Cut(out, "<pre>")
	if _, err := fmt.Sscan(strings.ReplaceAll(said, "<", " <"), &wide, &scroll, &cells, &narrow); err != nil {
		t.Fatalf("the frame says nothing: %v: %.200s", err, said)
	}
	if wide != 360 || scroll > wide || cells < 100 || narrow > 0 {
		t.Errorf("at %d px the page is %d px wide, with %d cells, and %d pieces of text stand in a column too narrow to read", wide, scroll, cells, narrow)
	}
}

// squeezed counts text that runs down the page a few letters a line.
const squeezed = `Array.from(document.querySelectorAll("caption, tbody th, td, dt, dd, p, li")).filter(function (e) {
	var r = e.getBoundingClientRect(); return r.width > 1 && r.width < 60 && r.height > 90 }).length`

// axeFindsNothing looks at the page in light, in dark, and as the printer gets it.
func axeFindsNothing(t *testing.T, made string) {
	printed := strings.NewReplacer("@media print {", "@media all {", "@media screen and (max-width", "@media not all and (max-width").Replace(made)
	if printed == made {
		t.Fatal("the page has no rules for the printer")
	}
	for name, c := range map[string]struct{ page, flag string }{
		"light": {made, "--blink-settings=preferredColorScheme=1"}, "dark": {made, "--blink-settings=preferredColorScheme=0"}, "print": {printed, "--blink-settings=preferredColorScheme=1"},
	} {
		if found := axe(t, c.page, c.flag); len(found) > 0 {
			t.Errorf("%s: %s", name, strings.Join(found, "\n"))
		}
	}
}

// axe are the serious and critical findings of axe-core.
func axe(t *testing.T, made string, flags ...string) []string {
	t.Helper()
	dir := t.TempDir()
	put(t, dir, "axe.js", string(outside.NpmFile(t, "axe-core@4.14.1", "axe.min.js")))
	run := `axe.run(document).then(function (r) { var p = document.createElement("pre"); p.id = "axe-says"; p.textContent = JSON.stringify({ violations: r.violations, passes: r.passes.length }); document.body.appendChild(p) })`
	made = strings.Replace(scripted(t, made, run), "</head>", `<script src="axe.js"></script></head>`, 1)
	out, _ := outside.Browse(t, put(t, dir, "page.html", made), append(flags, "--virtual-time-budget=60000", "--dump-dom")...)
	_, said, _ := strings.Cut(out, `<pre id="axe-says">`)
	said, _, _ = strings.Cut(said, "</pre>")
	var r struct {
		Passes     int
		Violations []struct {
			ID, Impact, Help string
			Nodes            []struct{ HTML string }
		}
	}
	if err := json.Unmarshal([]byte(html.UnescapeString(said)), &r); err != nil || r.Passes < 20 {
		t.Fatalf("axe-core says nothing of use, %d rules passed: %v: %.200s", r.Passes, err, said)
	}
	var found []string
	for _, v := range r.Violations {
		if v.Impact == "serious" || v.Impact == "critical" {
			found = append(found, fmt.Sprintf("%s (%s): %s, %d times, as at %.200s", v.ID, v.Impact, v.Help, len(v.Nodes), v.Nodes[0].HTML))
		}
	}
	return found
}

// printsInFew prints the page and demands few sheets, in the order of the screen, each but
// the last a third full at least, and none of the annexes.
func printsInFew(t *testing.T, made string) {
	dir := t.TempDir()
	pdf := filepath.Join(dir, "page.pdf")
	outside.Browse(t, put(t, dir, "page.html", made), "--no-pdf-header-footer", "--print-to-pdf="+pdf)
	text, err := exec.Command(outside.Tool(t, "pdftotext"), "-layout", pdf, "-").Output()
	if err != nil {
		t.Fatal(err)
	}
	n, printed := strings.Count(string(text), "\f"), "\n"+strings.ReplaceAll(string(text), "\f", "\n")
	if n > mostPagePrint {
		t.Errorf("%d pages are printed, at most %d are wanted", n, mostPagePrint)
	}
	from := 0
	for _, word := range []string{"READY", "\nResults\n", "\nStops:", "\nHold points: ", "\nConcessions\n", "\nInstruments\n", "\nSignatures\n", "\nWhat the verdicts mean\n", "\nDead checks\n", "\nLive checks\n", "\nLog\n", "\nSteps\n", "\nFlags:"} {
		at := strings.Index(printed[from:], word)
		if at < 0 {
			t.Errorf("%q is not printed, or not in its place", word)
			continue
		}
		from += at
	}
	for _, word := range []string{"Annexes", "kind by kind", "SHA-256 of the entry", "how judged"} {
		if strings.Contains(printed, word) {
			t.Errorf("%q is printed: annexes are not", word)
		}
	}
	if out, err := exec.Command(outside.Tool(t, "pdftoppm"), "-r", "20", "-gray", pdf, filepath.Join(dir, "sheet")).CombinedOutput(); err != nil {
		t.Fatalf("pdftoppm: %v: %s", err, out)
	}
	sheets, err := filepath.Glob(filepath.Join(dir, "sheet-*.pgm"))
	if err != nil || len(sheets) != n {
		t.Fatalf("%d pictures of %d sheets: %v", len(sheets), n, err)
	}
	for i, sheet := range sheets {
		if share := filled(t, sheet); share < 1.0/3 && i < n-1 {
			t.Errorf("sheet %d is filled to %.0f %%", i+1, 100*share)
		}
	}
}

// filled is how far down a sheet anything is drawn, its foot apart, as a share of the sheet.
func filled(t *testing.T, sheet string) float64 {
	t.Helper()
	data, err := os.ReadFile(sheet)
	if err != nil {
		t.Fatal(err)
	}
	var wide, high, most int
	if _, err := fmt.Fscanf(bytes.NewReader(data), "P5\n%d %d\n%d\n", &wide, &high, &most); err != nil || most != 255 {
		t.Fatalf("%s is no picture of grey: %v", sheet, err)
	}
	points := data[len(data)-wide*high:]
	foot := high * 280 / 297 // the footer stands in the lowest 17 mm
	for y := foot - 1; y >= 0; y-- {
		for _, p := range points[y*wide : (y+1)*wide] {
			if p < 200 {
				return float64(y+1) / float64(foot)
			}
		}
	}
	return 0
}
