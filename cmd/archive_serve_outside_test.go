package cmd

import (
	"bufio"
	"bytes"
	"context"
	"html"
	"io"
	"net/http"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"handback/cmd/session"
	"handback/testdata/outside"
)

// serving plays command lines until the last, which serves, and gives its address.
func serving(t *testing.T, archive string, before ...[]string) string {
	t.Helper()
	var said bytes.Buffer
	read, write := io.Pipe()
	env := session.Env{In: strings.NewReader(""), Out: &said, Err: &said, Now: func() time.Time { return time.Date(2026, 5, 13, 8, 10, 0, 0, time.UTC) },
		Random: strings.NewReader(strings.Repeat("chance", 20)), Program: "handback " + session.Version, Archive: archive}
	for _, args := range before {
		if status := Main(args, env); status != exitDone {
			t.Fatalf("%q ends with status %d:\n%s", args, status, said.String())
		}
	}
	ctx, end := context.WithCancel(t.Context())
	ended := make(chan int)
	env.Out, env.Err = write, io.Discard
	go func() {
		status := run(ctx, []string{"archive", "serve", "--listen", "127.0.0.1:0", "--name", "archive.example"}, env)
		write.Close()
		ended <- status
	}()
	t.Cleanup(func() {
		end()
		if status := <-ended; status != exitDone {
			t.Errorf("serving ends with status %d", status)
		}
	})
	line, err := bufio.NewReader(read).ReadString('\n')
	if err != nil {
		t.Fatal(err)
	}
	return strings.TrimSpace(line)
}

// servedDemo serves an archive with the job of the demo.
func servedDemo(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	demo, arc := filepath.Join(dir, "demo"), filepath.Join(dir, "arc")
	return serving(t, arc, []string{"demo", "-o", demo}, []string{"--book", filepath.Join(demo, "book.db"), "pack", "t2-return-1", "-o", filepath.Join(dir, "demo.zip")},
		[]string{"archive", "new"}, []string{"archive", "add", filepath.Join(dir, "demo.zip")})
}

// The archive is looked at over the wire: found, shown, and nothing is left behind that
// could be asked for.
func TestArchiveServe(t *testing.T) {
	at := servedDemo(t)
	for path, want := range map[string]string{"": "t2-return-1", "?text=pump": "Jobs found", "job/t2-return-1": "handover of", "state/t2-return-1/handover": "handover-data-sha256"} {
		got, err := http.Get(at + path)
		if err != nil {
			t.Fatal(err)
		}
		body, err := io.ReadAll(got.Body)
		if got.Body.Close(); err != nil || got.StatusCode != 200 || !strings.Contains(string(body), want) {
			t.Errorf("%s: %d, no %q: %.500s", path, got.StatusCode, want, body)
		}
	}
	picture, err := http.Get(strings.Replace(at+trendLink(t, at), "/trend?", "/trend.svg?", 1))
	if err != nil || picture.StatusCode != 200 || !strings.HasPrefix(picture.Header.Get("Content-Type"), "image/svg+xml") {
		t.Errorf("picture: %+v: %v", picture, err)
	}
	got, err := http.Post(at, "text/plain", strings.NewReader("x"))
	if err != nil || got.StatusCode != 405 {
		t.Errorf("POST: %v, %v", got, err)
	}
}

// A real browser shows every page without a complaint, and axe-core finds nothing wrong
// in light and in dark.
func TestOutside_archive_in_a_browser(t *testing.T) {
	outside.Long(t)
	outside.Tool(t, "chromium")
	at := servedDemo(t)
	for path, want := range map[string]string{"": "t2-return-1", "?text=no+such+thing&open=yes": "No job of the archive", "?from=soon": "is no day", "job/t2-return-1": "Accepted under concession", "state/t2-return-1/handover": "What the verdicts mean", "nowhere": "no page at this address", "trend": "over the years"} {
		if path == "trend" {
			path = trendLink(t, at)
		}
		dom, said := outside.Browse(t, at+path, "--dump-dom")
		complaint := strings.Contains(said, "CONSOLE") && want != "is no day" && path != "nowhere" // which are errors
		if !strings.Contains(dom, want) || complaint {
			t.Errorf("%s: no %q: %.500s\n%.2000s", path, want, dom, said)
		}
		if path != "" && path != "job/t2-return-1" { // made of the same, and the handover is looked at elsewhere
			continue
		}
		for name, flag := range map[string]string{"light": "--blink-settings=preferredColorScheme=1", "dark": "--blink-settings=preferredColorScheme=0"} {
			if found := axe(t, styled(t, at, path), flag); len(found) > 0 {
				t.Errorf("%s, %s: %s", path, name, strings.Join(found, "\n"))
			}
		}
	}
}

// trendLink is the first address of a trend on the page of the demo's job.
func trendLink(t *testing.T, at string) string {
	t.Helper()
	got, err := http.Get(at + "job/t2-return-1")
	if err != nil {
		t.Fatal(err)
	}
	defer got.Body.Close()
	body, err := io.ReadAll(got.Body)
	_, rest, ok := strings.Cut(string(body), `href="/trend?`)
	link, _, _ := strings.Cut(rest, `"`)
	if err != nil || !ok {
		t.Fatalf("no trend on the page: %v", err)
	}
	return "trend?" + html.UnescapeString(link)
}

// styled is a page with its style in it, as a file shows it.
func styled(t *testing.T, at, path string) string {
	t.Helper()
	read := func(address string) string {
		got, err := http.Get(address)
		if err != nil {
			t.Fatal(err)
		}
		defer got.Body.Close()
		body, err := io.ReadAll(got.Body)
		if err != nil {
			t.Fatal(err)
		}
		return string(body)
	}
	const link = `<link rel="stylesheet" href="/style.css"/>`
	page := read(at + path)
	if !strings.Contains(page, link) {
		t.Fatalf("%s has no style: %.500s", path, page)
	}
	return strings.Replace(page, link, "<style>"+read(at+"style.css")+"</style>", 1)
}
