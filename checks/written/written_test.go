package written

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"

	"go.yaml.in/yaml/v3"
)

const smallPlan = `handback: 1
id: small
title: A feeder
site: Invented station
work: None
people:
  - {id: ada, name: Ada Example, role: technician}
instruments:
  # the meter of the van
  - id: dmm
    name: multimeter
    serial: EX-1
    certificate: C-1
    due: 2027-01-31
    category: IV
    ranges: [{to: 600 V, reading: 0.5 %}]
steps:
  - check: a
    kind: k
    title: First
    given: {low: 1 V, points: [L1, L2]}
  - hold: go
    action: Close it
  - check: b
    kind: k
`

func parsed(t *testing.T, text string) *yaml.Node {
	t.Helper()
	var doc yaml.Node
	if err := yaml.Unmarshal([]byte(text), &doc); err != nil {
		t.Fatal(err)
	}
	return doc.Content[0]
}

func TestDifferences(t *testing.T) {
	for name, c := range map[string]struct {
		pairs []string
		want  []string
	}{
		"nothing":       {nil, nil},
		"comment":       {[]string{"  # the meter of the van\n", ""}, nil},
		"layout":        {[]string{"{low: 1 V, points: [L1, L2]}", "\n      low: 1 V\n      points:\n        - L1\n        - L2"}, nil},
		"value":         {[]string{"low: 1 V", "low: 2 V"}, []string{"steps[a].given.low|1 V|2 V"}},
		"list of words": {[]string{"[L1, L2]", "[L1]"}, []string{"steps[a].given.points|[L1, L2]|[L1]"}},
		"key":           {[]string{"    title: First\n", ""}, []string{"steps[a].title|First|"}},
		"new key":       {[]string{"work: None", "work: None\nrule: simple"}, []string{"rule||simple"}},
		"taken out":     {[]string{"  - check: b\n    kind: k\n", ""}, []string{"steps[b]|{check: b, kind: k}|"}},
		"moved": {[]string{"  - check: b\n    kind: k\n", "", "  - check: a", "  - check: b\n    kind: k\n  - check: a"},
			[]string{"steps|a, go, b|b, a, go"}},
		"other sort": {[]string{"points: [L1, L2]", "points: two"}, []string{"steps[a].given.points|[L1, L2]|two"}},
	} {
		var got []string
		for _, d := range Differences(parsed(t, smallPlan), parsed(t, strings.NewReplacer(c.pairs...).Replace(smallPlan)), Same) {
			got = append(got, d.Path+"|"+d.Was+"|"+d.Is)
		}
		if !slices.Equal(got, c.want) {
			t.Errorf("%s: %q, want %q", name, got, c.want)
		}
	}
}

func TestWithInstrument(t *testing.T) {
	for name, c := range map[string]struct {
		id, like string
		set      []Set
		want     []string // differences
		err      string
	}{
		"like another": {"dmm-9", "dmm", []Set{{"serial", "EX-9"}, {"due", "2027-02-28"}},
			[]string{"instruments[dmm-9]||{id: dmm-9, name: multimeter, category: IV, ranges: [{to: 600 V, reading: 0.5 %}], serial: EX-9, due: 2027-02-28}"}, ""},
		"of its own":    {"clamp", "", []Set{{"name", "clamp, yes: no"}}, []string{"instruments[clamp]||{id: clamp, name: clamp, yes: no}"}, ""},
		"put right":     {"dmm", "", []Set{{"serial", "0x10"}}, []string{"instruments[dmm].serial|EX-1|0x10"}, ""},
		"one key more":  {"dmm", "", []Set{{"sort", "multimeter"}}, []string{"instruments[dmm].sort||multimeter"}, ""},
		"like none":     {"dmm-9", "clamp", nil, nil, "no instrument \"clamp\" in the plan"},
		"like, and old": {"dmm", "dmm", nil, nil, "like is for a new one"},
	} {
		out, err := WithInstrument([]byte(smallPlan), c.id, c.like, c.set)
		if c.err != "" {
			if err == nil || !strings.Contains(err.Error(), c.err) {
				t.Errorf("%s: %v, want %q", name, err, c.err)
			}
			continue
		}
		if err != nil || !strings.Contains(string(out), "# the meter of the van") {
			t.Errorf("%s: %v\n%s", name, err, out)
			continue
		}
		var got []string
		for _, d := range Differences(parsed(t, smallPlan), parsed(t, string(out)), Same) {
			got = append(got, d.Path+"|"+d.Was+"|"+d.Is)
		}
		if !slices.Equal(got, c.want) {
			t.Errorf("%s: %q, want %q", name, got, c.want)
		}
	}
}

// folder is a folder of files in memory.
type folder map[string]string

func (f folder) List(name string) ([]string, error) {
	var out []string
	for file := range f {
		if rest, ok := strings.CutPrefix(file, name+"/"); ok && !strings.Contains(rest, "/") {
			out = append(out, rest)
		}
	}
	return out, nil
}

func (f folder) Read(file string) ([]byte, error) {
	text, ok := f[file]
	if !ok {
		return nil, errors.New("no such file")
	}
	return []byte(text), nil
}

func TestGather(t *testing.T) {
	f := folder{"people.yaml": "people: []", "register/b.yaml": "b: 1\n", "register/a.yml": "a: 1\r\n", "register/notes.txt": "x",
		"register/old/c.yaml": "c: 1\n", "two.yaml": "a: 1\n" + head + "x.yaml\nb: 1\n", "bad.yaml": "a: \xff\n"}
	for name, c := range map[string]struct {
		plan string
		want []string // names and texts of what comes in
		err  string
	}{
		"nothing":             {"id: x\n", nil, ""},
		"a file":              {"include: [people.yaml]", []string{"people.yaml|people: []"}, ""},
		"a folder":            {"include:\n  - register/\n", []string{"register/a.yml|a: 1\r\n", "register/b.yaml|b: 1\n"}, ""},
		"once, by both names": {"include: [register/b.yaml, register/]\n", []string{"register/b.yaml|b: 1\n", "register/a.yml|a: 1\r\n"}, ""},
		"none there":          {"include: [gone.yaml]\n", nil, "include gone.yaml: no such file"},
		"a whole inside":      {"include: [two.yaml]\n", nil, "two.yaml: it holds files that another plan includes"},
		"no text":             {"include: [bad.yaml]\n", nil, "bad.yaml: it is not UTF-8 text"},
		"out of the folder":   {"include: [../people.yaml]\n", nil, ""}, // refused when it is loaded
		"no YAML":             {"include: [people.yaml\n", nil, ""},     // likewise
	} {
		whole, err := Gather([]byte(c.plan), f)
		if c.err != "" {
			if err == nil || !strings.Contains(err.Error(), c.err) {
				t.Errorf("%s: %v, want %q", name, err, c.err)
			}
			continue
		}
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		var got []string
		for i, p := range Split("plan.yaml", whole) {
			if i == 0 {
				if p.Name != "plan.yaml" || strings.TrimRight(string(p.Text), "\n") != strings.TrimRight(c.plan, "\n") {
					t.Errorf("%s: the plan itself comes back as %q", name, p.Text)
				}
				continue
			}
			got = append(got, p.Name+"|"+string(p.Text))
		}
		for i := range c.want { // a line that did not end, ends where another file follows
			if i < len(c.want)-1 && !strings.HasSuffix(c.want[i], "\n") {
				c.want[i] += "\n"
			}
		}
		if !slices.Equal(got, c.want) {
			t.Errorf("%s: %q, want %q", name, got, c.want)
		}
		again, err := Gather(whole, folder{})
		if err != nil || string(again) != string(whole) {
			t.Errorf("%s: a whole is gathered again: %v", name, err)
		}
	}
	many := folder{}
	for i := range MostParts + 1 {
		many[fmt.Sprintf("r/%d.yaml", i)] = "a: 1\n"
	}
	if _, err := Gather([]byte("include: [r/]\n"), many); err == nil || !strings.Contains(err.Error(), "at most 200") {
		t.Errorf("%d files: %v", len(many), err)
	}
}

func TestBeside(t *testing.T) {
	for name, want := range map[string]bool{"people.yaml": true, "register/": true, "a/b/c.yaml": true, "": false, "/": false, "/etc/passwd": false,
		"../people.yaml": false, "a/../../b.yaml": false, "./a.yaml": false, "a//b": false, `a\b`: false, "c:a.yaml": false, "a\nb": false, "..": false} {
		if Beside(name) != want {
			t.Errorf("%q: %v", name, !want)
		}
	}
}

// An edit goes into the file in which the instrument stands, and leaves every other as it
// was.
func TestWithInstrument_included(t *testing.T) {
	whole := Whole([]Part{{"", []byte("id: x # plan\n")}, {"a.yaml", []byte("instruments: [{id: dmm, due: 2026-01-01}] # meters\n")}, {"b.yaml", []byte("people:  []\n")}})
	out, err := WithInstrument(whole, "dmm", "", []Set{{"due", "2027-01-01"}})
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range []string{"id: x # plan\n", "instruments: [{id: dmm, due: \"2027-01-01\"}] # meters\n", "people:  []\n"} {
		if got := string(Split("", out)[i].Text); got != want {
			t.Errorf("part %d: %q, want %q", i, got, want)
		}
	}
	if out, err = WithInstrument(whole, "dmm-2", "dmm", nil); err != nil || !strings.Contains(string(Split("", out)[0].Text), "id: dmm-2") {
		t.Errorf("a new one: %v\n%s", err, out)
	}
}
