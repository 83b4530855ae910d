package web

import (
	"errors"
	"html/template"
	"net/http"
	"net/url"
	"strings"

	"handback/records/archive"
)

// courseQuery is what an address asks of a value that a state gave. All of it is encoded.
func courseQuery(s archive.State, r archive.Result) template.URL {
	return template.URL(url.Values{"plant": {s.Plan}, "check": {r.Check}, "key": {r.Key}, "site": {s.Site}}.Encode())
}

// went works out what an address asks for.
func (s *site) went(w http.ResponseWriter, r *http.Request) (Went, bool) {
	q := r.URL.Query()
	went, err := s.course(r.Context(), archive.Course{Plant: q.Get("plant"), Check: q.Get("check"), Key: q.Get("key"), Site: q.Get("site")})
	switch {
	case errors.Is(err, archive.ErrNoJob):
		s.tell(w, r, http.StatusNotFound, "The archive holds no such value.")
	case errors.Is(err, archive.ErrSeveral):
		s.tell(w, r, http.StatusNotFound, "The values are of several pieces of plant; 'handback archive trend' tells them apart.")
	case err != nil:
		s.fail(w, r, err)
	}
	return went, err == nil
}

// trendPage shows how a value went over the years.
type trendPage struct {
	Went
	Address, Words string
}

func (s *site) trend(w http.ResponseWriter, r *http.Request) {
	if went, ok := s.went(w, r); ok {
		s.show(w, r, http.StatusOK, "trend", trendPage{went, "/trend.svg?" + r.URL.Query().Encode(), strings.Join(went.Says, " ")})
	}
}

// picture gives the picture alone. Its style is in it; it runs nothing and reaches nothing.
func (s *site) picture(w http.ResponseWriter, r *http.Request) {
	went, ok := s.went(w, r)
	switch {
	case !ok:
	case went.Picture == "":
		s.tell(w, r, http.StatusNotFound, "There is no number to draw.")
	default:
		w.Header().Set("Content-Security-Policy", policyHandover)
		w.Header().Set("Content-Type", "image/svg+xml; charset=utf-8")
		w.Write([]byte(went.Picture))
	}
}
