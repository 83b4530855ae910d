package web

import (
	"context"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"handback/records/archive"
	"handback/records/bag"
)

var day0 = time.Date(2026, 5, 12, 9, 0, 0, 0, time.UTC)

const (
	evil     = `<script>alert(1)</script>"'&`
	handover = `<!DOCTYPE html><html lang="en"><title>t</title><script>document.title = "ran"</script>handed over`
)

// served is an archive with two jobs, one of two states, opened for reading.
func served(t *testing.T) *archive.Archive {
	t.Helper()
	path := filepath.Join(t.TempDir(), "arc")
	a, err := archive.Create(t.Context(), path, nil, day0)
	if err != nil {
		t.Fatal(err)
	}
	take := func(id string, hashes ...string) {
		t.Helper()
		in, err := a.Receive(t.Context(), id+".zip", func(w io.Writer) error {
			z := bag.NewZipSink(w, id)
			page := bag.BagFile{Name: "data/handover.html", Content: func() ([]byte, error) { return []byte(handover), nil }}
			if err := bag.WriteBag(z, bag.BagInfo{Program: "handback test", Job: id, Description: "d", Entries: len(hashes), Head: hashes[len(hashes)-1]}, map[string][]byte{bag.BagNote: []byte("note")}, []bag.BagFile{page}); err != nil {
				return err
			}
			return z.Close()
		})
		if err != nil {
			t.Fatal(err)
		}
		of := archive.Of{Job: hashes[0], Head: hashes[len(hashes)-1]}
		rows := &archive.Rows{
			States:  []archive.State{{Of: of, ID: id, Entries: len(hashes), Title: "Pump " + evil, Site: evil, Standing: "READY", Verdict: "ready", Last: archive.Moment(day0)}},
			Plants:  []archive.Plant{{Of: of, Plant: "t1", Sort: "transformer", Name: evil, Serial: evil}},
			Checks:  []archive.Check{{Of: of, Check: "c", Kind: "rotation", Title: evil, Verdict: "pass", Stands: "closed"}},
			Results: []archive.Result{{Of: of, Check: "c&key=x", Key: "r\"", Name: evil, Low: new(float64), Newest: true}},
			Texts:   []archive.Text{{Of: of, Number: 1, Source: archive.FromTitle, Said: "Pump", Plain: archive.Plainly("Pump")}},
		}
		if _, err := a.Take(t.Context(), day0, archive.Taking{Incoming: in, Rows: rows, Hashes: hashes, List: strings.Repeat("e", 64)}); err != nil {
			t.Fatal(err)
		}
	}
	h := func(c string) string { return strings.Repeat(c, 64) }
	take("pump-1", h("a"))
	take("pump-1", h("a"), h("b"))
	take("weir-1", h("c"))
	if err := a.Close(); err != nil {
		t.Fatal(err)
	}
	if a, err = archive.OpenRead(t.Context(), path); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { a.Close() })
	return a
}

func handler(t *testing.T, hosts ...string) http.Handler {
	t.Helper()
	h, err := Handler(served(t), hosts, course)
	if err != nil {
		t.Fatal(err)
	}
	return h
}

// course stands for what works values out.
func course(_ context.Context, c archive.Course) (Went, error) {
	switch c.Key {
	case "none":
		return Went{}, archive.ErrNoJob
	case "several":
		return Went{}, archive.ErrSeveral
	case "nothing":
		return Went{Title: evil}, nil
	}
	return Went{Title: evil, Picture: "<svg/>", Says: []string{evil, c.Plant + " at " + c.Site}}, nil
}

func ask(h http.Handler, method, host, path string) *httptest.ResponseRecorder {
	r := httptest.NewRequest(method, "http://127.0.0.1"+path, nil)
	r.Host = host
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	return w
}

// Every page says what it should, in text that nothing in a bag can turn into markup.
func TestPages(t *testing.T) {
	h := handler(t)
	head := strings.Repeat("b", 64)
	for path, c := range map[string]struct {
		status int
		want   []string
	}{
		"/":                                     {200, []string{"All jobs", "pump-1", "weir-1", "READY"}},
		"/?text=pump&site=":                     {200, []string{"Jobs found", "pump-1", `value="pump"`}},
		"/?text=nothing+of+the+kind":            {200, []string{"No job of the archive is like that"}},
		"/?kind=rotation&verdict=pass":          {200, []string{"weir-1"}},
		"/?open=yes":                            {200, []string{"No job of the archive", `value="yes" checked`}},
		"/?from=soon":                           {400, []string{"is no day"}},
		"/?drop=table":                          {400, []string{"cannot be asked"}},
		"/?text=a&text=b":                       {400, []string{"asked twice"}},
		"/?text=" + strings.Repeat("x", 201):    {400, []string{"too long"}},
		"/job/pump-1":                           {200, []string{"Job pump-1", "(newest)", "handover of 2 entries", "bag of 1 entries", "rotation", "Identifier <code>aaaa", `href="/trend?check=c%26key%3Dx&amp;key=r%22&amp;plant=&amp;site=%3Cscript`}},
		"/job/" + strings.Repeat("a", 64):       {200, []string{"Job pump-1"}},
		"/job/none":                             {404, []string{"The archive holds no such job"}},
		"/job/..%2f..%2fetc":                    {404, []string{"no such job"}},
		"/state/" + head + "/handover":          {200, []string{"handed over"}},
		"/state/none/handover":                  {404, []string{"no such job"}},
		"/elsewhere":                            {404, []string{"no page at this address"}},
		"/trend?plant=p&check=c&key=r&site=s+t": {200, []string{"over the years", "p at s t", `src="/trend.svg?check=c&amp;key=r&amp;plant=p&amp;site=s&#43;t"`}},
		"/trend?key=none":                       {404, []string{"no such value"}},
		"/trend?key=several":                    {404, []string{"several pieces of plant"}},
		"/trend?key=nothing":                    {200, []string{"over the years"}},
		"/trend.svg?key=r":                      {200, []string{"<svg/>"}},
		"/trend.svg?key=nothing":                {404, []string{"no number to draw"}},
		"/style.css":                            {200, []string{"--paper"}},
	} {
		w := ask(h, "GET", "127.0.0.1:8437", path)
		body := w.Body.String()
		for _, want := range c.want {
			if w.Code != c.status || !strings.Contains(body, want) {
				t.Errorf("%s: %d, no %q in %.3000s", path, w.Code, want, body)
			}
		}
		if !strings.HasSuffix(path, "/handover") && (strings.Contains(body, "<script") || strings.Contains(body, "onload")) {
			t.Errorf("%s: a script got in", path)
		}
		if none := ask(h, "HEAD", "127.0.0.1:8437", path); none.Code != c.status {
			t.Errorf("HEAD %s: %d", path, none.Code)
		}
	}
}

// Every answer forbids scripts, frames, sniffing, keeping and telling others.
func TestHeaders(t *testing.T) {
	h := handler(t)
	for _, path := range []string{"/", "/job/pump-1", "/job/none", "/elsewhere", "/style.css", "/state/pump-1/handover", "/state/pump-1/bag.zip", "/?drop=table", "/trend?key=r", "/trend.svg?key=r", "/trend.svg?key=none"} {
		got := ask(h, "GET", "localhost", path).Header()
		for name, want := range map[string]string{"X-Content-Type-Options": "nosniff", "X-Frame-Options": "DENY", "Referrer-Policy": "no-referrer", "Cache-Control": "no-store",
			"Cross-Origin-Opener-Policy": "same-origin", "Cross-Origin-Resource-Policy": "same-origin"} {
			if got.Get(name) != want {
				t.Errorf("%s: %s is %q", path, name, got.Get(name))
			}
		}
		policy := got.Get("Content-Security-Policy")
		styled := strings.HasSuffix(path, "handover") || path == "/trend.svg?key=r" // what has a style of its own runs in a box
		for _, want := range []string{"default-src 'none'", "frame-ancestors 'none'", "base-uri 'none'"} {
			if !strings.Contains(policy, want) {
				t.Errorf("%s: %q is not in %q", path, want, policy)
			}
		}
		if strings.Contains(policy, "script-src") || strings.Contains(policy, "'unsafe-inline'") != styled || strings.HasPrefix(policy, "sandbox; ") != styled {
			t.Errorf("%s: %q", path, policy)
		}
		if got.Get("Set-Cookie") != "" || got.Get("Content-Type") == "" {
			t.Errorf("%s: %v", path, got)
		}
	}
}

// Nothing can be changed, and no page of another site reaches this one by a name of its own.
func TestTurnedAway(t *testing.T) {
	h := handler(t, "archive.example")
	for _, method := range []string{"POST", "PUT", "DELETE", "PATCH", "OPTIONS", "CONNECT", "TRACE"} {
		if w := ask(h, method, "localhost", "/"); w.Code != 405 || w.Header().Get("Allow") != "GET, HEAD" {
			t.Errorf("%s: %d", method, w.Code)
		}
	}
	for host, want := range map[string]int{"127.0.0.1": 200, "127.0.0.1:8437": 200, "[::1]:8437": 200, "localhost:1": 200, "LOCALHOST": 200, "archive.example": 200, "Archive.Example:443": 200,
		"evil.example": 421, "127.0.0.1.evil.example": 421, "localhost.evil.example:8437": 421, "": 421, "10.0.0.1": 421, "0.0.0.0": 421} {
		if w := ask(h, "GET", host, "/"); w.Code != want {
			t.Errorf("host %q: %d, want %d", host, w.Code, want)
		}
	}
}

// The bag is the very bag; one that was changed is not given.
func TestBag(t *testing.T) {
	a := served(t)
	h, err := Handler(a, nil, course)
	if err != nil {
		t.Fatal(err)
	}
	b, err := a.State(t.Context(), "pump-1")
	if err != nil {
		t.Fatal(err)
	}
	path, _, err := a.File(t.Context(), b)
	if err != nil {
		t.Fatal(err)
	}
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if w := ask(h, "GET", "localhost", "/state/pump-1/bag.zip"); w.Code != 200 || w.Body.String() != string(data) || w.Header().Get("Content-Type") != "application/zip" || !strings.HasPrefix(w.Header().Get("Content-Disposition"), "attachment;") {
		t.Errorf("%d, %d bytes, %v", w.Code, w.Body.Len(), w.Header())
	}
	if err := os.Chmod(path, 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, append(data, 'x'), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, what := range []string{"bag.zip", "handover"} {
		if w := ask(h, "GET", "localhost", "/state/pump-1/"+what); w.Code != 500 || !strings.Contains(w.Body.String(), "the bag is not as it was kept") {
			t.Errorf("%s: %d, %.300s", what, w.Code, w.Body.String())
		}
	}
}

// Too many at once are turned away, and a server waits for nobody for ever.
func TestBounds(t *testing.T) {
	s := &site{once: make(chan struct{}, 1)}
	held, free := make(chan bool), make(chan bool)
	h := s.guarded(http.HandlerFunc(func(http.ResponseWriter, *http.Request) { held <- true; <-free }))
	done := make(chan bool)
	go func() { ask(h, "GET", "localhost", "/"); done <- true }()
	<-held
	if w := ask(h, "GET", "localhost", "/"); w.Code != 503 || w.Header().Get("Retry-After") == "" {
		t.Errorf("%d", w.Code)
	}
	free <- true
	<-done
	is := Server(h)
	if is.ReadHeaderTimeout == 0 || is.ReadTimeout == 0 || is.WriteTimeout == 0 || is.IdleTimeout == 0 || is.MaxHeaderBytes > 64<<10 {
		t.Errorf("%+v", is)
	}
}

// Every field of the form can be asked, and each has a label of its own.
func TestForm(t *testing.T) {
	h := handler(t)
	body := ask(h, "GET", "localhost", "/").Body.String()
	names := regexp.MustCompile(` name="(\w+)" value`).FindAllStringSubmatch(body, -1)
	if len(names) != 14 {
		t.Fatalf("fields %q", names)
	}
	for _, n := range names {
		value := map[string]string{"from": "2026-01-01", "to": "2026-12-31", "open": "yes", "forked": "yes"}[n[1]]
		if value == "" {
			value = "x"
		}
		if w := ask(h, "GET", "localhost", "/?"+n[1]+"="+value); w.Code != 200 {
			t.Errorf("%s: %d", n[1], w.Code)
		}
		if value == "x" && !strings.Contains(body, fmt.Sprintf(`<label for="%s">`, n[1])) {
			t.Errorf("%s has no label", n[1])
		}
	}
}
