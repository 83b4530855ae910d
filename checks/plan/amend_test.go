package plan

import (
	"slices"
	"strings"
	"testing"
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

func loadOnly(t *testing.T, text string) *Plan {
	t.Helper()
	n := &Notes{file: "p", places: map[string]Place{}}
	root := readNode([]byte(text), n)
	if root == nil {
		t.Fatal(n.err())
	}
	return &Plan{root: root}
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
		for _, d := range Differences(loadOnly(t, smallPlan), loadOnly(t, strings.NewReplacer(c.pairs...).Replace(smallPlan))) {
			got = append(got, d.Path+"|"+d.Was+"|"+d.Is)
		}
		if !slices.Equal(got, c.want) {
			t.Errorf("%s: %q, want %q", name, got, c.want)
		}
	}
}

// What a value was before is what a check is judged with: another baseline is another
// plan to it.
func TestBaseline_amended(t *testing.T) {
	with := func(was string) *Plan {
		return loadOnly(t, smallPlan+"baseline:\n  - {check: a, key: x, was: "+was+", source: sheet, date: 2019-03-02}\n")
	}
	if with("1 V").BaseWritten() == with("2 V").BaseWritten() {
		t.Error("another baseline leaves what every check is judged with as it was")
	}
	if d := Differences(with("1 V"), with("2 V")); len(d) != 1 || d[0].Path != "baseline[a].was" {
		t.Errorf("differences %v", d)
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
		for _, d := range Differences(loadOnly(t, smallPlan), loadOnly(t, string(out))) {
			got = append(got, d.Path+"|"+d.Was+"|"+d.Is)
		}
		if !slices.Equal(got, c.want) {
			t.Errorf("%s: %q, want %q", name, got, c.want)
		}
	}
}
