package plan

import "testing"

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
