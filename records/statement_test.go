package records

import (
	"bytes"
	"encoding/json"
	"errors"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

// saidBy is a whole statement about an invented job.
func saidBy() Statement {
	return Statement{V: 1, Job: "pump-1", Entries: 12, Head: strings.Repeat("a", 64), PlanHash: strings.Repeat("b", 64), Role: "engineer",
		Person: "eva", Name: "Eva Müller-Ångström", At: dawn, Verdict: Stopped,
		Stops: []Stop{{"hv", 2, "volts_high", "HV volts above 12 kV: keep off <the> links & open the breaker"}}, Handover: strings.Repeat("c", 64),
		Workbook: strings.Repeat("d", 64), Page: strings.Repeat("e", 64)}
}

// What is signed can be written down by hand from the definition: RFC 8785 sorts the
// members by name, and leaves no blanks between them.
func TestStatement_bytes(t *testing.T) {
	want := `{"at":"2026-03-01T06:30:00.25+05:30","entries":12,"handover":"` + strings.Repeat("c", 64) + `","head":"` + strings.Repeat("a", 64) +
		`","job":"pump-1","name":"Eva Müller-Ångström","page":"` + strings.Repeat("e", 64) + `","person":"eva","plan_hash":"` + strings.Repeat("b", 64) +
		`","role":"engineer","stops":[{"attempt":2,"check":"hv","code":"volts_high","text":"HV volts above 12 kV: keep off <the> links & open the breaker"}],"v":1,"verdict":"stop","workbook":"` + strings.Repeat("d", 64) + `"}`
	got, err := saidBy().Encode()
	if err != nil {
		t.Fatal(err)
	}
	same(t, want, string(got))
	back, err := ParseStatement(got)
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(saidBy(), back); d != "" {
		t.Errorf("-want +got\n%s", d)
	}
	none := saidBy()
	none.Stops = nil
	if got, err = none.Encode(); err != nil || !strings.Contains(string(got), `"stops":[]`) {
		t.Errorf("without stops: %s, %v", got, err)
	}
}

func TestStatement_refused(t *testing.T) {
	for name, c := range map[string]struct {
		change func(*Statement)
		want   string
	}{
		"job":         {func(s *Statement) { s.Job = "pump" }, "job id"},
		"no entries":  {func(s *Statement) { s.Entries = 0 }, "covers 0 entries"},
		"head":        {func(s *Statement) { s.Head = strings.Repeat("A", 64) }, "head"},
		"plan":        {func(s *Statement) { s.PlanHash = "" }, "plan_hash"},
		"handover":    {func(s *Statement) { s.Handover = "x" }, "handover"},
		"role":        {func(s *Statement) { s.Role = "witness" }, `role "witness" is not one of technician, engineer, owner`},
		"nobody":      {func(s *Statement) { s.Person = "" }, "person is empty"},
		"name":        {func(s *Statement) { s.Name = "Eva\nMüller" }, "U+000A"},
		"no verdict":  {func(s *Statement) { s.Verdict = "" }, `verdict "" is not one of ready, ready-with-concessions, not-ready, stop`},
		"in words":    {func(s *Statement) { s.Verdict = "ready: every check passes" }, "is not one of ready,"},
		"workbook":    {func(s *Statement) { s.Workbook = "" }, "workbook"},
		"page":        {func(s *Statement) { s.Page = "x" }, "page"},
		"code":        {func(s *Statement) { s.Stops[0].Code = "a\nb" }, "stops[0].code"},
		"no time":     {func(s *Statement) { s.At = time.Time{} }, "no time"},
		"odd offset":  {func(s *Statement) { s.At = dawn.In(time.FixedZone("", 61)) }, "whole minutes"},
		"stop":        {func(s *Statement) { s.Stops[0].Text = "" }, "stops[0].text is empty"},
		"attempt":     {func(s *Statement) { s.Stops[0].Attempt = 0 }, "attempt 0"},
		"not UTF-8":   {func(s *Statement) { s.Name = "a\xff" }, "UTF-8"},
		"beyond size": {func(s *Statement) { s.Name = strings.Repeat("x", maxStatement) }, "at most"},
	} {
		s := saidBy()
		c.change(&s)
		if b, err := s.Encode(); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %s, %v; want an error with %q", name, b, err, c.want)
		}
	}
}

func TestParseStatement_refused(t *testing.T) {
	good, err := saidBy().Encode()
	if err != nil {
		t.Fatal(err)
	}
	with := func(old, new string) string {
		if !strings.Contains(string(good), old) {
			t.Fatalf("%q is not in %s", old, good)
		}
		return strings.Replace(string(good), old, new, 1)
	}
	for name, c := range map[string]struct{ in, want string }{
		"empty":     {"", "no data"},
		"blank":     {with(`,"entries"`, `, "entries"`), "RFC 8785"},
		"newline":   {string(good) + "\n", "RFC 8785"},
		"order":     {`{"entries":12,` + with(`"entries":12,`, "")[1:], "RFC 8785"},
		"missing":   {with(`"v":1,`, ""), "v: missing"},
		"unknown":   {with(`"v":1`, `"u":1,"v":1`), "unknown"},
		"twice":     {with(`"v":1`, `"v":1,"v":1`), "Duplicate"},
		"as text":   {with(`"entries":12`, `"entries":"12"`), "cannot unmarshal"},
		"null":      {with(`"verdict":"stop"`, `"verdict":null`), "verdict: null"},
		"too large": {strings.Repeat(" ", maxStatement+1), "at most"},
	} {
		if s, err := ParseStatement([]byte(c.in)); err == nil || !strings.Contains(err.Error(), c.want) || !cmp.Equal(s, Statement{}) {
			t.Errorf("%s: %+v, %v; want an error with %q", name, s, err, c.want)
		}
	}
	if _, err := ParseStatement([]byte(with(`"v":1`, `"v":2`))); !errors.Is(err, ErrNewer) {
		t.Errorf("version 2: %v, want ErrNewer", err)
	}
	for i := range good {
		if _, err := ParseStatement(good[:i]); err == nil {
			t.Errorf("the first %d bytes are accepted", i)
		}
	}
}

// What is read as a statement is what would be signed again, byte for byte.
func FuzzParseStatement(f *testing.F) {
	good, err := saidBy().Encode()
	if err != nil {
		f.Fatal(err)
	}
	f.Add(good)
	f.Add(bytes.Replace(good, []byte("12"), []byte("1.2e1"), 1))
	f.Add(bytes.Replace(good, []byte("Eva"), []byte(`\u0045va`), 1))
	f.Fuzz(func(t *testing.T, b []byte) {
		s, err := ParseStatement(b)
		if err != nil {
			if !cmp.Equal(s, Statement{}) {
				t.Fatalf("%q: %+v beside %v", b, s, err)
			}
			return
		}
		again, err := s.Encode()
		if err != nil || !bytes.Equal(again, b) || !json.Valid(b) {
			t.Fatalf("%q is written again as %q, %v", b, again, err)
		}
	})
}
