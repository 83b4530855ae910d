package plan_test

import (
	"strings"
	"testing"

	"handback/checks/plan"
	"handback/testdata/demo"
)

// why a schema of shapes cannot tell what plan check tells.
const (
	elsewhere = "it stands elsewhere in the plan: a schema follows no reference"
	compared  = "two values of the plan are compared: a schema compares none"
	worked    = "it is worked out from other values of the plan"
	ordered   = "it depends on what stands above it in the list"
	played    = "it shows when the steps are played on the network"
	english   = "it is told by the sense of words"
)

// mutations are slips of the pen in the demo's plan, each refused by plan check. why is ""
// for what the schema refuses too.
var mutations = []struct{ name, old, with, why string }{
	{"a key misspelt", "title: Return", "titel: Return", ""},
	{"a key left out", "site: Tarnholt pumping station, main LV board\n", "", ""},
	{"format", "handback: 1", "handback: 2", ""},
	{"id with a space", "id: t2-return", "id: t2 return", ""},
	{"id in capitals", "id: jonas", "id: Jonas", ""},
	{"no such role", "role: engineer", "role: enginer", ""},
	{"a rule that is none", "rule: guarded", "rule: strict", ""},
	{"two conductors", "[L1, L2, L3]", "[L1, L2]", ""},
	{"frequency of no network", "frequency: 50 Hz", "frequency: 5 Hz", ""},
	{"frequency between networks", "frequency: 50 Hz", "frequency: 55 Hz", ""},
	{"an accuracy of 300 %", "reading: 0.2 %", "reading: 300 %", ""},
	{"an accuracy below nothing", "reading: 0.2 %", "reading: -0.2 %", ""},
	{"digits of unknown worth", "resolution: 0.1 V, ", "", ""},
	{"a range to nothing", "to: 750 V", "to: 0 V", ""},
	{"no unit", "to: 750 V", "to: 750", ""},
	{"a unit of something else", "rated_to: 690 V", "rated_to: 690 A", ""},
	{"a day that is none", "due: 2027-04-30", "due: 2027-04-31", ""},
	{"a date of another country", "due: 2027-04-30", "due: 30.04.2027", ""},
	{"category", "category: IV", "category: V", ""},
	{"a sort that is none", "sort: proving unit", "sort: prover", ""},
	{"vector group", "group: Dyn1\n", "group: Dyn10\n", ""},
	{"impedance of a reactor", "impedance: 3.85 %", "impedance: 38.5 %", ""},
	{"rating of nothing", "rating: 630 kVA", "rating: 0 kVA", ""},
	{"rated volts of a cell", "lv: 400 V", "lv: 4 V", ""},
	{"a year of two digits", "year: 2019", "year: '19'", ""},
	{"short-time current in A", "short_time: 80 kA", "short_time: 80 A", ""},
	{"nominal volts of no board", "nominal: 400 V", "nominal: 4 V", ""},
	{"an act that is none", "act: withdraw", "act: draw-out", ""},
	{"a lock without its number", "device: inc2, lock: L15, section: \"1.4\"", "device: inc2, section: \"1.4\"", ""},
	{"a document that opens", "act: open, device: inc2,", "act: open, device: inc2, document: 26-437,", ""},
	{"a permit of no type", "type: permit", "type: permission", ""},
	{"a step of nothing", "{step: stop, action: Stop pumps 3 and 4, section: \"1.1\"}", "{step: stop, section: \"1.1\"}", ""},
	{"no kind", "kind: tap-links", "kind: taps", ""},
	{"a given key misspelt", "given: {limit: 0.8 %", "given: {limits: 0.8 %", ""},
	{"a window of half a day", "indication: lamp, window: 25 min", "indication: lamp, window: 12 h", ""},
	{"a limit far out", "given: {limit: 0.8 %, source", "given: {limit: 80 %, source", ""},
	{"a tolerance far out", "tolerance: 2 %", "tolerance: 200 %", ""},
	{"no steps at all", demoSteps(), "steps: []\n", ""},
	{"a starter's text", "name: Jonas Averbek", "name: Name of the engineer", ""},
	{"a title of a page", "title: T2 insulation", "title: " + strings.Repeat("T2 insulation ", 20), ""},
	{"a hold of no checks", "{hold: energise, act: close,", "{hold: energise, needs: [], act: close,", ""},

	{"a key twice", "rule: guarded", "rule: guarded\nrule: guarded", "YAML hands an editor one of the two"},
	{"an instrument that is none", "instrument: dmm-7", "instrument: dmm-8", elsewhere},
	{"a transformer that is none", "given: {transformer: T2, winding", "given: {transformer: T3, winding", elsewhere},
	{"a device that is none", "act: withdraw, device: inc2", "act: withdraw, device: inc3", elsewhere},
	{"a tap that is none", "tap: \"3\"", "tap: \"7\"", elsewhere},
	{"one serial twice", "serial: TW-8802", "serial: TW-7518", elsewhere},
	{"LV above HV", "hv: 6.6 kV\n      lv: 400 V", "hv: 390 V\n      lv: 400 V", compared},
	{"lowest supply above the usual", "low: 6.54 kV, high", "low: 6.65 kV, high", compared},
	{"limits the wrong way round", "low: 6.49 kV, high: 6.76 kV", "low: 6.76 kV, high: 6.49 kV", compared},
	{"more loss than impedance", "load_loss: 8.1 kW", "load_loss: 81 kW", worked},
	{"an instrument that cannot read it", "title: T2 volts at no load\n    at: T2 incomer, transformer side\n    instrument: dmm-7", "title: T2 volts at no load\n    at: T2 incomer, transformer side\n    instrument: tq-45", elsewhere},
	{"a check of later", "tap_from: taps, material", "tap_from: volts-t2, material", ordered},
	{"two steps of one name", "{step: key-back,", "{step: key-out,", ordered},
	{"dead work before the proof", "  - check: dead-hv\n    kind: prove-dead", "  - {check: early, kind: contact-resistance, given: {groups: [{group: g, joints: [{id: a, name: a}]}]}}\n  - check: dead-hv\n    kind: prove-dead", ordered},
	{"an earth on live plant", "{step: off-q2, act: open, device: q2, section: \"1.7\"}", "{step: off-q2, act: earth-on, device: pe2, section: \"1.7\"}", played},
	{"a reason that is none", "    title: T2 voltage unbalance\n", "    title: T2 voltage unbalance\n    beyond: ok\n", english},
}

func demoSteps() string {
	text := string(demo.Plan)
	return text[strings.Index(text, "\nsteps:\n")+1:]
}

// The schema refuses what plan check refuses, wherever a schema can: an editor says so while
// it is typed. What it cannot is named with the reason.
func TestSchema_mutations(t *testing.T) {
	s := compiled(t)
	beyond := 0
	for _, m := range mutations {
		text := strings.Replace(string(demo.Plan), m.old, m.with, 1)
		if text == string(demo.Plan) {
			t.Errorf("%s: nothing to change", m.name)
			continue
		}
		p, err := plan.Load("plan.yaml", []byte(text))
		if err == nil && len(p.Objections()) > 0 {
			err = p.Objections()
		}
		if err == nil {
			t.Errorf("%s: plan check accepts it", m.name)
		}
		seen := validate(t, s, text)
		switch {
		case m.why == "" && seen == nil:
			t.Errorf("%s: the schema accepts it; plan check says %v", m.name, err)
		case m.why != "" && seen != nil:
			t.Errorf("%s: the schema sees it after all: %v", m.name, seen)
		case m.why != "":
			beyond++
		}
	}
	if n := len(mutations); n < 50 || beyond*3 > n {
		t.Errorf("%d of %d pass the schema", beyond, n)
	}
	t.Logf("%d of %d pass the schema", beyond, len(mutations))
}
