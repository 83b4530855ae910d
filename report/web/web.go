package web

import (
	"bytes"
	"context"
	_ "embed" // the pages and their style
	"errors"
	"fmt"
	"html/template"
	"net"
	"net/http"
	"net/url"
	"os"
	"slices"
	"strings"
	"time"

	"handback/records/archive"
	"handback/records/bag"
)

// Bounds of what one request may ask for (our choice).
const (
	mostFound = 500       // jobs on one page
	mostAsked = 200       // signs of one thing asked
	mostPage  = 128 << 20 // bytes of a handover
	mostOnce  = 16        // requests at one time
)

//go:embed pages.html
var pages string

//go:embed style.css
var style []byte

// Server is an http.Server with the bounds of a small one: none that waits keeps it busy.
func Server(h http.Handler) *http.Server {
	return &http.Server{Handler: h, ReadHeaderTimeout: 5 * time.Second, ReadTimeout: 10 * time.Second, WriteTimeout: 2 * time.Minute, IdleTimeout: time.Minute, MaxHeaderBytes: 16 << 10}
}

// site answers requests.
type site struct {
	archive *archive.Archive
	hosts   []string
	course  Course
	pages   *template.Template
	once    chan struct{}
}

// Course works out how a value went over the years.
//
// Errors: archive.ErrNoJob for no such value; archive.ErrSeveral for values of several
// pieces of plant.
type Course func(context.Context, archive.Course) (Went, error)

// Went is how a value went: a picture as a file of SVG, and what can be said of it.
type Went struct {
	Title, Picture string
	Says           []string
}

// Handler answers requests for the pages of an archive that was opened for reading. hosts
// are names that browsers may ask for beside those of this machine for itself.
func Handler(a *archive.Archive, hosts []string, course Course) (http.Handler, error) {
	t, err := template.New("pages").Funcs(template.FuncMap{"short": short, "day": day, "asked": courseQuery}).Option("missingkey=error").Parse(pages)
	if err != nil {
		return nil, err
	}
	s := &site{archive: a, hosts: hosts, course: course, pages: t, once: make(chan struct{}, mostOnce)}
	mux := http.NewServeMux()
	mux.HandleFunc("GET /{$}", s.find)
	mux.HandleFunc("GET /job/{job}", s.job)
	mux.HandleFunc("GET /state/{head}/handover", s.handover)
	mux.HandleFunc("GET /state/{head}/bag.zip", s.bag)
	mux.HandleFunc("GET /trend", s.trend)
	mux.HandleFunc("GET /trend.svg", s.picture)
	mux.HandleFunc("GET /style.css", func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Content-Type", "text/css; charset=utf-8")
		w.Write(style)
	})
	mux.HandleFunc("GET /", func(w http.ResponseWriter, r *http.Request) {
		s.tell(w, r, http.StatusNotFound, "There is no page at this address.")
	})
	return s.guarded(mux), nil
}

// Policies of what a browser may do with a page. A handover comes from outside.
const (
	policyOwn      = "default-src 'none'; style-src 'self'; img-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
	policyHandover = "sandbox; default-src 'none'; style-src 'unsafe-inline'; img-src data:; form-action 'none'; base-uri 'none'; frame-ancestors 'none'"
)

// guarded sets what holds for every answer, and turns away what is not for this site.
func (s *site) guarded(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		for name, value := range map[string]string{
			"Content-Security-Policy": policyOwn, "X-Content-Type-Options": "nosniff", "X-Frame-Options": "DENY", "Referrer-Policy": "no-referrer",
			"Cache-Control": "no-store", "Cross-Origin-Opener-Policy": "same-origin", "Cross-Origin-Resource-Policy": "same-origin",
		} {
			w.Header().Set(name, value)
		}
		switch {
		case r.Method != http.MethodGet && r.Method != http.MethodHead:
			w.Header().Set("Allow", "GET, HEAD")
			http.Error(w, "this site only shows: GET and HEAD are answered", http.StatusMethodNotAllowed)
			return
		case !s.known(r.Host):
			http.Error(w, "this site does not answer to that name", http.StatusMisdirectedRequest)
			return
		}
		select {
		case s.once <- struct{}{}:
			defer func() { <-s.once }()
		default:
			w.Header().Set("Retry-After", "5")
			http.Error(w, "too many ask at once; try again in a moment", http.StatusServiceUnavailable)
			return
		}
		next.ServeHTTP(w, r)
	})
}

// known tells whether a name is one of this site's: of the machine for itself, or given.
func (s *site) known(host string) bool {
	if name, _, err := net.SplitHostPort(host); err == nil {
		host = name
	}
	host = strings.ToLower(strings.Trim(host, "[]"))
	return Loopback(host) || slices.Contains(s.hosts, host)
}

// Loopback tells whether a name or address is one by which a machine calls itself.
func Loopback(host string) bool {
	ip := net.ParseIP(host)
	return host == "localhost" || ip != nil && ip.IsLoopback()
}

// show answers with a page, made whole before anything of it goes out.
func (s *site) show(w http.ResponseWriter, r *http.Request, status int, page string, data any) {
	var b bytes.Buffer
	if err := s.pages.ExecuteTemplate(&b, page, data); err != nil {
		http.Error(w, "this page could not be made", http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.WriteHeader(status)
	w.Write(b.Bytes()) // whoever went away needs no answer
}

// told is a page of one sentence.
type told struct {
	Title string
	Lines []string
}

func (s *site) tell(w http.ResponseWriter, r *http.Request, status int, lines ...string) {
	s.show(w, r, status, "told", told{http.StatusText(status), lines})
}

// fail tells what went wrong.
func (s *site) fail(w http.ResponseWriter, r *http.Request, err error) {
	switch {
	case errors.Is(err, archive.ErrNoJob):
		s.tell(w, r, http.StatusNotFound, "The archive holds no such job.")
	case errors.Is(err, archive.ErrSeveral):
		s.tell(w, r, http.StatusNotFound, "That means several jobs or states: "+err.Error())
	default:
		s.tell(w, r, http.StatusInternalServerError, "The archive could not be read: "+err.Error())
	}
}

// asked is what the form asks, and what was found.
type asked struct {
	archive.Query
	Asked bool
	Found []archive.State
	More  bool
	Wrong string
}

// field is a field of the form.
type field struct{ Key, Label, Hint, Value string }

// Fields are the fields of the form, filled in as asked.
func (a asked) Fields() []field {
	return []field{
		{"text", "Words", "", a.Text}, {"site", "Site", "", a.Site}, {"plant", "Plant", "", a.Plant}, {"serial", "Serial number of plant", "", a.Serial},
		{"asset", "Asset number", "", a.Asset}, {"firm", "Firm", "", a.Firm}, {"from", "From day", "2026-05-12", a.From}, {"to", "To day", "2026-05-12", a.To},
		{"kind", "Kind of check", "", a.Kind}, {"verdict", "Verdict", "", a.Verdict}, {"instrument", "Serial number of instrument", "", a.Instrument}, {"person", "Person", "", a.Person},
	}
}

func (s *site) find(w http.ResponseWriter, r *http.Request) {
	page := asked{}
	var err error
	if page.Query, err = query(r.URL.Query()); err != nil {
		page.Wrong = err.Error()
		s.show(w, r, http.StatusBadRequest, "find", page)
		return
	}
	page.Asked = len(r.URL.Query()) > 0
	for f, err := range s.archive.Find(r.Context(), page.Query) {
		if err != nil {
			s.fail(w, r, err)
			return
		}
		if len(page.Found) == mostFound {
			page.More = true
			break
		}
		page.Found = append(page.Found, f)
	}
	s.show(w, r, http.StatusOK, "find", page)
}

// query reads what the form asks.
func query(asked url.Values) (q archive.Query, err error) {
	texts := map[string]*string{"text": &q.Text, "plant": &q.Plant, "serial": &q.Serial, "asset": &q.Asset, "site": &q.Site, "firm": &q.Firm, "from": &q.From, "to": &q.To,
		"kind": &q.Kind, "verdict": &q.Verdict, "instrument": &q.Instrument, "person": &q.Person}
	flags := map[string]*bool{"open": &q.DefectOpen, "forked": &q.Forked}
	for name, values := range asked {
		value := strings.TrimSpace(values[0])
		switch {
		case len(values) > 1 || len(value) > mostAsked:
			return q, fmt.Errorf("%s is asked twice, or is too long", name)
		case texts[name] != nil:
			*texts[name] = value
		case flags[name] != nil && value == "yes":
			*flags[name] = true
		default:
			return q, fmt.Errorf("%q cannot be asked", name)
		}
	}
	for _, d := range []string{q.From, q.To} {
		if _, err := time.Parse(time.DateOnly, d); d != "" && err != nil {
			return q, fmt.Errorf("%q is no day; 2026-05-12 is one", d)
		}
	}
	return q, nil
}

// jobPage is a job with all its states.
type jobPage struct {
	archive.Job
	Last   archive.State
	States []statePage
}

type statePage struct {
	archive.State
	Bag     archive.Bag
	Rows    *archive.Rows // of a newest state
	Removed []archive.Removal
}

func (s *site) job(w http.ResponseWriter, r *http.Request) {
	jobs, err := s.archive.Jobs(r.Context(), r.PathValue("job"))
	if err == nil && len(jobs) > 1 {
		err = fmt.Errorf("%w: %s", archive.ErrSeveral, strings.Join(jobs, ", "))
	}
	page := jobPage{}
	if err == nil {
		page.Job, err = s.archive.Job(r.Context(), jobs[0])
	}
	for i, state := range page.Job.States {
		x := statePage{State: state, Bag: page.Bags[i]}
		if err == nil && state.Newest {
			x.Rows, err = s.archive.RowsOf(r.Context(), state.Job, state.Head)
		}
		if err == nil {
			x.Removed, err = s.archive.Removals(r.Context(), x.Bag.Number)
		}
		page.States, page.Last = append(page.States, x), state
	}
	if err != nil {
		s.fail(w, r, err)
		return
	}
	s.show(w, r, http.StatusOK, "job", page)
}

// file finds the file of the bag of a state, and looks whether it is as it was kept.
func (s *site) file(r *http.Request) (path string, b archive.Bag, err error) {
	if b, err = s.archive.State(r.Context(), r.PathValue("head")); err != nil {
		return "", b, err
	}
	path, want, err := s.archive.File(r.Context(), b)
	if err != nil {
		return "", b, err
	}
	if is, err := archive.Rehash(path); err != nil || is != want {
		s.archive.Release(path)
		return "", b, fmt.Errorf("%w: the bag is not as it was kept", archive.ErrDamaged)
	}
	return path, b, nil
}

func (s *site) bag(w http.ResponseWriter, r *http.Request) {
	path, b, err := s.file(r)
	var f *os.File
	if err == nil {
		defer s.archive.Release(path)
		f, err = os.Open(path)
	}
	if err != nil {
		s.fail(w, r, err)
		return
	}
	defer f.Close()
	w.Header().Set("Content-Type", "application/zip")
	w.Header().Set("Content-Disposition", `attachment; filename="`+short(b.Head)+`.zip"`)
	http.ServeContent(w, r, "", time.Time{}, f)
}

// pageInBag is where the handover lies in a bag.
const pageInBag = bag.BagPayload + "handover.html"

func (s *site) handover(w http.ResponseWriter, r *http.Request) {
	path, of, err := s.file(r)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	defer s.archive.Release(path)
	removed, err := s.archive.Removals(r.Context(), of.Number)
	if err == nil && len(removed) > 0 {
		s.tell(w, r, http.StatusGone, "Something was removed from this bag, and the handover with it: "+removed[len(removed)-1].Why)
		return
	}
	var b *bag.Bag
	if err == nil {
		b, err = bag.OpenBag(path)
	}
	if err != nil {
		s.fail(w, r, err)
		return
	}
	defer b.Close()
	if size := b.Size(pageInBag); size <= 0 || size > mostPage {
		s.tell(w, r, http.StatusNotFound, "The bag holds no handover that can be shown.")
		return
	}
	page, err := b.Read(pageInBag)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	w.Header().Set("Content-Security-Policy", policyHandover)
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.Write(page)
}

// short is enough of a hash to tell by eye.
func short(hash string) string { return hash[:min(12, len(hash))] }

// day is the day of a moment, as it is shown.
func day(moment string) string { return moment[:min(len(time.DateOnly), len(moment))] }
