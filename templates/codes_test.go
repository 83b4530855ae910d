package templates_test

import (
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"

	"handback/checks"
	"handback/checks/plan"
	"handback/templates"
	"handback/testdata/cases"
)

var update = flag.Bool("update", false, "write testdata/frozen_codes.txt anew, and take what cases reach out of testdata/unreached_codes.txt")

// everyKind is whose a code is that any kind may say.
const everyKind = "any"

// code is a code of the catalogue, and whose it is.
type code struct{ kind, name string }

func (c code) String() string { return c.kind + " " + c.name }

// usage is how the cases of all kinds say a code.
type usage struct {
	times  int
	values map[string]map[string]int // name of a value → its sorts → how often
}

// reached is everything that the findings of all cases say, by code: said once for the
// tests that ask it.
var reached = sync.OnceValue(func() *reader {
	r := &reader{common: blocks("said/*.tmpl"), said: map[code]*usage{}, values: map[string]bool{}}
	for _, kind := range plan.KindNames() {
		r.kind(kind)
	}
	return r
})

type reader struct {
	common map[string]bool
	said   map[code]*usage
	values map[string]bool // kind, key and unit of every derived value
	faults []error
}

// kind judges the cases of a kind.
func (r *reader) kind(kind string) {
	data, err := os.ReadFile(filepath.Join("..", "testdata", "cases", kind+".json"))
	if err != nil {
		r.faults = append(r.faults, err)
		return
	}
	var file struct {
		Base  map[string]any
		Cases []struct {
			Name string
			Set  map[string]any
		}
	}
	if err := json.Unmarshal(data, &file); err != nil || len(file.Cases) == 0 {
		r.faults = append(r.faults, err, errors.New(kind+": no cases"))
		return
	}
	for _, c := range file.Cases {
		tree, err := cases.Trial(file.Base, c.Set)
		if err != nil {
			r.faults = append(r.faults, err)
			continue
		}
		text, _ := json.Marshal(tree)
		trial, err := plan.LoadTrial(kind+".json", text)
		if err != nil {
			continue // a case of what is refused says nothing
		}
		if in, f, err := checks.JudgeTrial(trial); err == nil {
			r.finding(in, f)
		}
	}
}

// finding takes up what a finding and the doubts beside it say.
func (r *reader) finding(in checks.Input, f checks.Finding) {
	for _, d := range f.Derived {
		r.values[strings.TrimSpace(in.Check.Kind.Name+" "+d.Key+" "+d.Unit)] = true
	}
	said := append([]checks.Said{f.Stop}, f.Cautions...)
	for _, reason := range f.Reasons {
		said = append(said, reason.Said)
	}
	for _, d := range slices.Concat(in.Doubts(), in.Refused()) {
		said = append(said, d.Said)
	}
	for _, s := range said {
		if !s.None() {
			r.take(in.Check.Kind.Name, s)
		}
	}
}

// take renders what is said and takes up its code, values, and what is said within.
func (r *reader) take(kind string, s checks.Said) {
	if s.Kind != "" {
		kind = s.Kind
	}
	words := s.Words(kind, func(kind, code string, values map[string]any) (string, error) {
		text, err := templates.Said(kind, code, values)
		if err != nil {
			r.faults = append(r.faults, err)
		}
		return text, err
	})
	if words == "" || strings.Contains(words, "no value>") || strings.Contains(words, "%!") {
		r.faults = append(r.faults, errors.New(kind+" "+s.Code+" is said as "+words))
	}
	var back checks.Said
	if text, err := json.Marshal(s); err != nil || json.Unmarshal(text, &back) != nil || !back.Same(s) {
		r.faults = append(r.faults, fmt.Errorf("%s %s: an entry cannot hold it: %s, %v", kind, s.Code, text, err))
	}
	c := code{kind, s.Code}
	if r.common[s.Code] {
		c.kind = everyKind
	}
	u := r.said[c]
	if u == nil {
		u = &usage{values: map[string]map[string]int{}}
		r.said[c] = u
	}
	u.times++
	for _, a := range s.Values {
		if u.values[a.Name] == nil {
			u.values[a.Name] = map[string]int{}
		}
		u.values[a.Name][sortOf(a.Value)]++
		r.within(kind, a.Value)
	}
}

func (r *reader) within(kind string, v checks.Value) {
	if v.Part != nil {
		r.take(kind, *v.Part)
	}
	for _, v := range v.List {
		r.within(kind, v)
	}
}

// sortOf is the sort of a value as an entry tells it, a number with its unit.
func sortOf(v checks.Value) string {
	switch {
	case v.Held != nil && v.Held.Unit != "":
		return "x " + v.Held.Unit
	case len(v.List) > 0:
		return "list of " + sortOf(v.List[0])
	}
	text, err := json.Marshal(v)
	if err != nil {
		return err.Error()
	}
	var members map[string]any
	if err := json.Unmarshal(text, &members); err != nil {
		return err.Error()
	}
	for sort := range members {
		return sort
	}
	return "nothing"
}

// line is a code as the list of frozen codes has it: its values by name with their
// sorts, and a question mark where it is said without them, too.
func (u *usage) line(c code) string {
	var values []string
	for _, name := range slices.Sorted(maps.Keys(u.values)) {
		sorts, times := u.values[name], 0
		for _, n := range sorts {
			times += n
		}
		mark := ""
		if times < u.times {
			mark = "?"
		}
		values = append(values, name+mark+": "+strings.Join(slices.Sorted(maps.Keys(sorts)), "|"))
	}
	return strings.TrimSuffix(c.String()+"; "+strings.Join(values, ", "), "; ")
}

// Everything that the cases of all kinds say has words, and the codes, names of values,
// their sorts and units stand in a list. Entries hold them, so that what has been
// released stands for ever: a line that moves or goes is a break with every record.
func TestCodes_frozen(t *testing.T) {
	all := reached()
	for _, err := range all.faults {
		t.Error(err)
	}
	var lines []string
	for c, u := range all.said {
		lines = append(lines, u.line(c))
	}
	slices.Sort(lines)
	compare(t, "frozen_codes.txt", lines, *update)
}

// The keys of the values that findings work out stand in a list, for entries hold them.
func TestValues_frozen(t *testing.T) {
	values := reached().values
	if len(values) < 50 {
		t.Fatalf("%d values", len(values))
	}
	compare(t, "frozen_values.txt", slices.Sorted(maps.Keys(values)), *update)
}

// A case reaches every code there is, but for those of a list which may only shrink: a
// new code needs a case. Where the list is not there, -update writes it whole.
func TestCodes_reached(t *testing.T) {
	said := reached().said
	var lines []string
	for _, c := range everyCode(t) {
		if said[c] == nil {
			lines = append(lines, c.String())
		}
	}
	slices.Sort(lines)
	was, err := readLines("unreached_codes.txt")
	grows := slices.ContainsFunc(lines, func(line string) bool { return !slices.Contains(was, line) })
	compare(t, "unreached_codes.txt", lines, *update && (!grows || errors.Is(err, fs.ErrNotExist)))
}

// everyCode lists the codes that have words. A block that others call and nothing
// says is none.
func everyCode(t *testing.T) []code {
	t.Helper()
	said, texts := codesOf(t)
	called := templatesCalled(t)
	files := map[string]string{everyKind: "said/*.tmpl"}
	for _, kind := range plan.KindNames() {
		files[kind] = "kinds/" + kind + ".tmpl"
	}
	var out []code
	for kind, pattern := range files {
		for name := range blocks(pattern) {
			_, is := said[name]
			if !slices.Contains(blocksOfKind, name) && (is || texts[name] && !called[name]) {
				out = append(out, code{kind, name})
			}
		}
	}
	if len(out) < 50 {
		t.Fatalf("%d codes: the words went elsewhere", len(out))
	}
	return out
}

// blocksOfKind are what the block of a kind holds beside the words of its codes.
var blocksOfKind = []string{"shows", "how", "trial"}

// blocks are the names of the blocks in files.
func blocks(pattern string) map[string]bool {
	out := map[string]bool{}
	files, _ := filepath.Glob(pattern)
	for _, file := range files {
		data, err := os.ReadFile(file)
		if err != nil {
			panic(err)
		}
		for _, m := range defined.FindAllStringSubmatch(string(data), -1) {
			out[m[1]] = true
		}
	}
	return out
}

func readLines(name string) ([]string, error) {
	data, err := os.ReadFile(filepath.Join("testdata", name))
	return strings.FieldsFunc(string(data), func(r rune) bool { return r == '\n' }), err
}

// compare holds lines against a file of testdata, which it writes first where it may.
func compare(t *testing.T, name string, lines []string, write bool) {
	t.Helper()
	if write {
		if err := os.WriteFile(filepath.Join("testdata", name), []byte(strings.Join(lines, "\n")+"\n"), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := readLines(name)
	if err != nil {
		t.Fatal(err)
	}
	for _, line := range want {
		if !slices.Contains(lines, line) {
			t.Errorf("testdata/%s: %q moved or went", name, line)
		}
	}
	for _, line := range lines {
		if !slices.Contains(want, line) {
			t.Errorf("testdata/%s: %q is new", name, line)
		}
	}
}
