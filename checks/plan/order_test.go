package plan_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"handback/checks/plan"
)

// orderSteps are steps by one word each; a word may be followed by a key of its check.
var orderSteps = map[string]string{
	"prove":   "kind: prove-dead, instrument: det, given: {source: unit, system_voltage: 400 V, neutral: yes}",
	"joints":  "kind: joints, instrument: tq, given: {source: sheet FJ-28, joints: [{id: j, name: j, target: 45 N·m, tolerance: 10 %}]}",
	"restore": "kind: restore, given: {statements: [Covers are on]}",
	"live":    "kind: rotation, given: {expected: forward}",
	"look":    "kind: confirm, given: {statements: [Covers are on]}",
}

// orderPlan writes a plan of such steps; hold is a hold point.
func orderPlan(steps string) string {
	head, _, _ := strings.Cut(planText, "plant:\n")
	var b strings.Builder
	b.WriteString(strings.Replace(head, "people:", "KEYS\npeople:", 1))
	b.WriteString("  - {id: det, name: detector, serial: EX-3, due: 2027-01-31, category: IV, rated_from: 12 V, rated_to: 1000 V}\n" +
		"  - {id: unit, name: proving unit, serial: EX-2, due: 2027-01-31}\n" +
		"  - {id: tq, name: torque wrench, serial: EX-4, due: 2027-01-31, ranges: [{to: 100 N·m, from: 20 N·m}]}\nsteps:\n")
	keys := ""
	for i, step := range strings.Split(steps, " > ") {
		word, key, _ := strings.Cut(step, " ")
		switch {
		case word == "plan":
			keys = key
		case word == "hold":
			fmt.Fprintf(&b, "  - {hold: h%d, action: go on}\n", i)
		default:
			if key != "" {
				key = ", " + key
			}
			fmt.Fprintf(&b, "  - {check: %s%d, title: %s %d, %s%s}\n", word, i, word, i, orderSteps[word], key)
		}
	}
	return strings.Replace(b.String(), "KEYS\n", keys+"\n", 1)
}

// The order that EN 50110-1 sets: prove dead, earth, then work; and what a check is,
// dead, live or proving, tells where it may stand.
var orderCases = []struct{ steps, says string }{
	{"prove > hold > joints > restore > hold > live", ""},
	{"look > prove > hold > joints > look > restore > hold > look > live > hold > live", ""},
	{"live > hold > prove > hold > joints > restore > hold > live", ""},
	{"prove > restore > hold > live", ""},
	{"live > hold > live", ""},
	{"joints > hold > live", "check joints0 (joints) is dead work, and no prove-dead stands above it"},
	{"joints > prove > hold > live", "check joints0 (joints) is dead work, and no prove-dead stands above it"},
	{"prove > joints > hold > live", "check joints1 (joints) is dead work, and no hold point stands between it and the prove-dead above"},
	{"look > hold > prove > joints > hold > live", "check joints3 (joints) is dead work, and no hold point stands between"},
	{"prove > hold > joints > prove > joints > hold > live", ""}, // proved again while the work goes on
	{"restore > hold > live", "check restore0 (restore) is dead work, and no prove-dead"},
	{"joints dead_shown_by: Permit 26-437 > hold > live", ""},
	{"joints dead_shown_by: x > hold > live", `"x" names nothing`},
	{"joints dead_shown_by: --- > hold > live", `"---" names nothing`},
	{"plan dead_shown_by: PTW 26-437 > joints > restore > hold > live", ""},
	{"plan dead_shown_by: PTW 26-437 > prove > joints > restore > hold > live", ""},
	{"plan dead_shown_by: yes > joints > hold > live", `dead_shown_by: "yes" names nothing`},
	{"plan dead_shown_by: PTW 26-437 > joints > hold > live > joints", "check joints4 (joints) is dead work below live check live3"},
	{"prove > hold > joints > live > hold > live", "check live3 (rotation) is taken live among dead work"},
	{"prove > hold > joints > live live_from: section A > hold > live", ""},
	{"prove > hold > joints > live live_from: ok > hold > live", `"ok" names nothing`},
	{"prove > hold > live > joints > hold > live", "check joints3 (joints) is dead work below live check live2"},
	{"prove > hold > live live_from: section A > joints > hold > live", ""},
	{"prove > hold > joints > hold > live > joints > hold > live", "check joints5 (joints) is dead work below live check live4"},
	{"prove > hold > joints > hold > live > hold > joints", "check joints6 (joints) is dead work below live check live4"},
	{"prove > hold > joints > hold > live > hold > prove > hold > joints > hold > live", ""},
	{"prove > hold > joints > hold > live > hold > prove > joints > hold > live", "check joints7 (joints) is dead work, and no hold point"},
	{"prove > hold > joints > restore > joints > hold > live", "check joints4 (joints) is dead work below restore3"},
	{"prove > hold > joints > restore > hold > joints > restore > hold > live", ""},
}

func TestOrder(t *testing.T) {
	for _, c := range orderCases {
		t.Run(c.steps, func(t *testing.T) {
			got := objected(t, orderPlan(c.steps))
			if c.says == "" && len(got) > 0 || c.says != "" && !slices.ContainsFunc(got, func(q plan.Problem) bool { return strings.Contains(q.String(), c.says) }) {
				t.Errorf("objections\n%v\nwant %q", got, c.says)
			}
		})
	}
}

// A plan without a check shows nothing, whatever hold points it names.
func TestOrder_noCheck(t *testing.T) {
	head, _, _ := strings.Cut(planText, "steps:")
	if got := objected(t, head+"steps: []\n"); len(got) != 1 || got[0].Path != "steps" || !strings.Contains(got[0].Cause, "no check") {
		t.Errorf("objections %v", got)
	}
}

// A planned instrument reads what its check asks: no wrench reads volts.
func TestValidateReads(t *testing.T) {
	wrench := strings.Replace(planText, "{to: 600 V, resolution: 0.1 V, reading: 0.5 %, digits: 3}", "{to: 100 N·m, from: 20 N·m}", 1)
	if got := objected(t, wrench); len(got) != 1 || !strings.Contains(got[0].String(), "steps[2].instrument: multimeter has no range that reads a voltage") {
		t.Errorf("objections %v", got)
	}
	if got := objected(t, strings.Replace(planText, "    ranges:\n      - {to: 600 V, resolution: 0.1 V, reading: 0.5 %, digits: 3}\n", "", 1)); len(got) > 0 {
		t.Errorf("an instrument that names no range: %v", got)
	}
}
