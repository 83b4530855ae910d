package plan_test

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"handback/checks"
	_ "handback/checks/kinds" // every kind registers itself
	"handback/checks/plan"
	"handback/testdata/cases"
)

// planText is a small whole plan; each test changes one thing in it.
const planText = `handback: 1
id: pump-house-b
title: Transformer T2 after tap change
site: invented pumping station
work: tap links moved on T2
people:
  - {id: ada, name: A. Example, role: technician}
  - {id: ben, name: B. Example, role: engineer}
system: {frequency: 50 Hz, conductors: [L1, L2, L3]}
instruments:
  - id: dmm
    name: multimeter
    serial: EX-1
    due: 2027-01-31
    ranges:
      - {to: 600 V, resolution: 0.1 V, reading: 0.5 %, digits: 3}
plant:
  supply: {usual: 11 kV, low: 10.8 kV, high: 11.2 kV}
  transformers:
    - id: T2
      rating: 800 kVA
      hv: 11 kV
      lv: 433 V
      group: Dyn11
      impedance: 4.8 %
      load_loss: 8.4 kW
      taps:
        - {position: "1", hv: 11.275 kV}
        - {position: "2", hv: 11 kV}
      tap: "2"
  boards:
    - {id: MB-B, nominal: 400 V, short_time: 50 kA, peak: 105 kA}
steps:
  - check: hv
    kind: measure
    given: {name: HV volts, unit: kV, low: 10.5 kV, high: 11.5 kV}
  - check: lv
    kind: lv-volts
    instrument: dmm
    given: {transformer: T2, board: MB-B, hv_from: hv, line_band: {standard: IEC 60038}}
  - hold: close
    action: close the incomer of MB-B
`

func TestLoadPlan(t *testing.T) {
	p, err := plan.Load("plan.yaml", []byte(planText))
	if err != nil {
		t.Fatal(err)
	}
	if got := p.Plant.Transformers[0].Rating; got != 800e3 {
		t.Errorf("rating is %v VA", got)
	}
	if got := *p.Meters[0].Ranges[0].Reading; got != 0.5 {
		t.Errorf("accuracy is %v %%", got)
	}
	if h := p.Hold("close"); h == nil || !reflect.DeepEqual(h.Needs, []string{"hv", "lv"}) {
		t.Errorf("a hold that names no checks waits for every check above it, got %+v", h)
	}
	if len(p.Items()) != 3 || len(p.Checks()) != 2 || p.Check("lv").Title != "LV volts at no load" || p.Check("close") != nil || p.Hold("lv") != nil {
		t.Errorf("steps %+v", p.Items())
	}
	given, err := json.Marshal(p.Check("lv").Given)
	for _, want := range []string{`"Transformer":"T2"`, `"HVFrom":"hv"`, `"Standard":"IEC 60038"`} {
		if err != nil || !strings.Contains(string(given), want) {
			t.Errorf("given %s, %v: want %s", given, err, want)
		}
	}
	if lines, n := p.Conductors(); lines != [3]string{"L1", "L2", "L3"} || n != "N" {
		t.Errorf("conductors %v, %s", lines, n)
	}
}

// problem is a change to the plan and a problem it must be reported as: the text
// that stands at the place it names, and the key, the value met and what is accepted.
type problem struct {
	name      string
	old, with string
	at        string // "" where the parser tells no more than a line
	says      string
}

var problems = []problem{
	{"unknown key with a near one", "site: inv", "sit: inv", "sit:", "sit: unknown key: did you mean site?"},
	{"unknown key with none near", "id: dmm\n", "id: dmm\n    colour: red\n", "colour:", "instruments[1].colour: unknown key: accepted here are id, name, serial, certificate, due, category"},
	{"unknown key under given", "hv_from: hv", "hv_form: hv", "hv_form:", "steps[2].given.hv_form: unknown key: did you mean hv_from?"},
	{"missing key", "site: invented pumping station\n", "", "handback:", "site: missing: where the plant stands"},
	{"empty needed value", "site: invented pumping station", "site:", "\n", "site: empty: where the plant stands"},
	{"key given twice", "site: inv", "id: again\nsite: inv", "id: again", "id: given twice: keep one"},
	{"wrong unit", "rating: 800 kVA", "rating: 800 kW", "800 kW", `plant.transformers[1].rating: unit "kW" is a power; an apparent power in VA, kVA, MVA is wanted`},
	{"no unit", "hv: 11 kV\n      lv", "hv: 11000\n      lv", "11000", `plant.transformers[1].hv: "11000" has no unit; a voltage in V, mV, kV is wanted`},
	{"ambiguous number", "hv: 11.275 kV", `hv: "11,275 kV"`, `"11,275 kV"`, `"11,275" is read two ways (ambiguous number): type 11.275 or 11275`},
	{"a bound for a value", "lv: 433 V", `lv: ">433 V"`, `">433 V"`, `plant.transformers[1].lv: ">433 V" is a bound; one value is wanted`},
	{"not above zero", "rating: 800 kVA", "rating: 0 kVA", "0 kVA", "plant.transformers[1].rating: 0 is not above zero: rated power, such as 800 kVA"},
	{"negative", "impedance: 4.8 %", "impedance: -4.8 %", "-4.8 %", "plant.transformers[1].impedance: -4.8 is not above zero"},
	{"word outside its set", "role: engineer", "role: boss", "boss", `people[2].role: "boss" is not one of technician, engineer, owner, witness`},
	{"not a date", "due: 2027-01-31", "due: 31.01.2027", "31.01", `instruments[1].due: "31.01.2027" is not a date: write 2026-03-31`},
	{"no such date", "due: 2027-01-31", "due: 2027-02-30", "2027-02-30", `instruments[1].due: "2027-02-30" is not a date`},
	{"a list where a value belongs", "site: invented pumping station", "site: [a, b]", "[a, b]", "site: a list stands here; one value is wanted"},
	{"keys where a date belongs", "due: 2027-01-31", "due: {a: b}", "{a: b}", "instruments[1].due: a set of keys stands here; a date is wanted, such as 2026-03-31"},
	{"a list where an amount belongs", "to: 600 V", "to: [600 V]", "[600 V]", "instruments[1].ranges[1].to: a list stands here; one value with its unit is wanted"},
	{"a value where a list belongs", "conductors: [L1, L2, L3]", "conductors: L1", "L1}", `system.conductors: "L1" stands here; a list is wanted`},
	{"a value where keys belong", "system: {frequency: 50 Hz, conductors: [L1, L2, L3]}", "system: 50 Hz", "50 Hz", `system: "50 Hz" stands here; these keys are wanted: frequency, conductors, neutral`},
	{"nothing where keys belong", "system: {frequency: 50 Hz, conductors: [L1, L2, L3]}", "system:", "\n", "system: nothing stands here; these keys are wanted"},
	{"two conductors", "[L1, L2, L3]", "[L1, L2]", "[L1, L2]", "system.conductors: 2 names: three are wanted, in phase sequence"},
	{"alias", "work: tap links moved on T2", "work: *w", "", "unknown anchor"},
	{"anchor", "work: tap", "work: &w tap", "&w", "work: aliases (& and *) are not read: write the value out"},
	{"control characters", "work: tap links moved on T2", `work: "tap\e[2J links"`, `"tap\e`, "control characters are not read"},
	{"control characters in a key", "work: tap", `"wo\ark": tap`, `"wo\ark"`, `"wo\ark": unknown key`},
	{"format of another version", "handback: 1", "handback: 2", "2\n", "handback: plan format 2: this program reads format 1"},
	{"format that is no number", "handback: 1", "handback: one", "one", `handback: "one": a whole number is wanted`},
	{"an incomer with a transformer's id", "  transformers:\n", "  incomers: [{id: T2, rated: 400 V, rating: 500 kVA}]\n  transformers:\n", "T2, rated", `plant.incomers[1].id: "T2" stands already at line`},
	{"an incomer without volts", "  transformers:\n", "  incomers: [{id: G1, rating: 500 kVA}]\n  transformers:\n", "{id: G1", "plant.incomers[1].rated: missing"},
	{"an incomer whose volts are a power", "  transformers:\n", "  incomers: [{id: G1, rated: 500 kVA, rating: 500 kVA}]\n  transformers:\n", "500 kVA, rating", "plant.incomers[1].rated"},
	{"id of the wrong shape", "id: pump-house-b", "id: Pump House", "Pump House", `id: "Pump House": lower-case letters, digits and hyphens are accepted, 40 at most`},
	{"unknown kind", "kind: lv-volts", "kind: lv-volt", "lv-volt\n", `steps[2].kind: unknown kind "lv-volt": did you mean lv-volts?`},
	{"no kind", "    kind: lv-volts\n", "", "check: lv", "steps[2].kind: missing: the kind of check lv, one of after-opening, "},
	{"neither check nor hold", "check: lv\n", "title: lv\n", "title: lv", "steps[2]: neither check nor hold nor step: one of the three keys is wanted"},
	{"both check and hold", "hold: close", "check: x\n    hold: close", "check: x", "steps[3]: x and close: a step is a check, a hold or a plain step, one of the three"},
	{"a hold without action", "    action: close the incomer of MB-B\n", "", "hold: close", "steps[3]: neither act nor action: say what step close does"},
	{"a hold with an instrument", "hold: close\n", "hold: close\n    instrument: dmm\n", "hold: close", "steps[3]: instrument: no key of a hold such as close, which takes hold, needs, telephone, action, act,"},
	{"a hold with a title", "hold: close\n", "hold: close\n    title: x\n", "hold: close", "steps[3]: title: no key of a hold such as close, which takes"},
	{"a check with an action", "check: hv\n", "check: hv\n    action: run\n", "check: hv", "steps[1]: action: no key of a check such as hv, which takes check, kind,"},
	{"nothing given where needed", "    given: {name: HV volts, unit: kV, low: 10.5 kV, high: 11.5 kV}\n", "", "check: hv", "steps[1].given.name: missing: what is read"},
	{"one of two not given", "    given: {transformer: T2, board: MB-B, hv_from: hv, line_band: {standard: IEC 60038}}\n", "", "check: lv", "steps[2].given.transformer: missing: the transformer whose LV volts are read, or another incomer"},
	{"a hold that waits for nothing", "steps:\n", "steps:\n  - {hold: early, action: go}\n", "{hold: early", "steps[1].needs: hold early needs no check: put the checks it waits for above it"},
	{"a hold that needs a stranger", "action: close the incomer of MB-B", "action: close\n    needs: [lw]", "lw]", `steps[3].needs[1]: no check "lw" stands above hold close: did you mean`},
	{"a hold that names no check", "action: close the incomer of MB-B", "action: close\n    needs: []", "[]", "steps[3].needs: hold close needs no check"},
	{"dangling instrument", "instrument: dmm", "instrument: dmn", "dmn", `steps[2].instrument: no instrument "dmn": did you mean dmm?`},
	{"dangling transformer", "transformer: T2", "transformer: T3", "T3,", `steps[2].given.transformer: no transformer "T3": did you mean T2?`},
	{"dangling board", "board: MB-B, hv", "board: MB-C, hv", "MB-C", `steps[2].given.board: no board "MB-C": did you mean MB-B?`},
	{"a transformer of no id's shape", "transformer: T2", "transformer: T 2", "T 2,", `steps[2].given.transformer: no transformer "T 2": did you mean T2?`},
	{"an earlier check of no id's shape", "hv_from: hv", "hv_from: h.v", "h.v,", `no measure check "h.v" above this one: did you mean hv?`},
	{"dangling earlier check", "hv_from: hv", "hv_from: hw", "hw,", `no measure check "hw" above this one: did you mean hv?`},
	{"an earlier check that is no such kind, and this one", "hv_from: hv", "hv_from: lv", "lv,", `no measure check "lv" above this one`},
	{"dangling tap", `tap: "2"`, `tap: "9"`, `"9"`, `plant.transformers[1].tap: no tap "9"`},
	{"duplicate step", "check: lv\n", "check: hv\n", "hv\n    kind: lv-volts", `steps[2].check: "hv" stands already at line 34: ids stand once`},
	{"duplicate person", "id: ben", "id: ada", "ada, name: B.", `people[2].id: "ada" stands already at line 7: ids stand once`},
	{"duplicate plant", "id: MB-B", "id: T2", "T2, nominal", `plant.boards[1].id: "T2" stands already at line 20`},
	{"duplicate tap", `position: "2"`, `position: "1"`, `"1", hv: 11 kV`, `plant.transformers[1].taps[2].position: "1" stands twice`},
	{"more resistance than impedance", "load_loss: 8.4 kW", "load_loss: 84 kW", "84 kW", "plant.transformers[1].load_loss: 84 kW is 10.5 % of the rating, which no impedance of 4.8 % can hold"},
	{"LV above HV", "hv: 11 kV\n      lv", "hv: 400 V\n      lv", "400 V\n", "plant.transformers[1].hv: 400 V is not above the LV of 433 V"},
	{"no vector group", "group: Dyn11", "group: Dyn13", "Dyn13", "plant.transformers[1].group: "},
	{"a peak below the short-time current", "peak: 105 kA", "peak: 10.5 kA", "10.5 kA", "plant.boards[1].peak: a peak of 10.5 kA is below the short-time current of 50 kA"},
	{"a lowest supply above the usual", "low: 10.8 kV", "low: 11.1 kV", "11.1 kV", "plant.supply.low: 11.1 kV is above the usual 11 kV"},
	{"a highest supply below the usual", "high: 11.2 kV", "high: 10.9 kV", "10.9 kV", "plant.supply.high: 10.9 kV is below the usual 11 kV"},
	{"a range of two quantities", "resolution: 0.1 V", "resolution: 0.1 A", "0.1 A", "instruments[1].ranges[1].resolution: a current, but the range is a voltage"},
	{"a range that ends below its beginning", "to: 600 V,", "to: 600 V, from: 700 V,", "700 V", "instruments[1].ranges[1].from: is not below to"},
	{"a range to nothing", "to: 600 V,", "to: -600 V,", "-600 V", "instruments[1].ranges[1].to: -600 is not above zero"},
	{"digits of unknown worth", "resolution: 0.1 V, ", "", "3}", "instruments[1].ranges[1].digits: needs a resolution"},
	{"accuracy below zero", "reading: 0.5 %", "reading: -0.5 %", "{to: 600 V", "accuracy below zero: write 0.5 % for ±0.5 %"},
	{"digits that are no number", "digits: 3", "digits: three", "three", `instruments[1].ranges[1].digits: "three" is not a number`},
	{"a rating upside down", "    due: 2027-01-31\n", "    due: 2027-01-31\n    rated_from: 1000 V\n    rated_to: 50 V\n", "1000 V", "instruments[1].rated_from: 1 kV is above rated_to 50 V"},
	{"a band of both kinds", "{standard: IEC 60038}", "{standard: IEC 60038, low: 360 V}", "{standard: IEC 60038, low", "steps[2].given.line_band: give a standard or the plan's own low and high, not both"},
	{"a broken line", "site: inv", "site: 'inv", "", "found unexpected end of stream"},
	{"a tab", "site: inv", "\tsite: inv", "", "not readable as YAML: "},
	{"a second document", "people:\n", "---\npeople:\n", "---\n", "a second document begins here: a file holds one"},
	{"something broken after the document", "  - hold: close\n    action: close the incomer of MB-B\n", "...\n{[\n", "...\n", "not readable as YAML: "},
}

// standsAt is the text from the place of a problem on.
func standsAt(text string, q plan.Problem) string {
	lines := strings.SplitAfter(text, "\n")
	if q.Line > len(lines) || q.Col > len(lines[q.Line-1]) {
		return ""
	}
	return strings.Join(lines[q.Line-1:], "")[q.Col-1:]
}

func TestLoadPlan_problems(t *testing.T) {
	for _, c := range problems {
		t.Run(c.name, func(t *testing.T) {
			if strings.Count(planText, c.old) != 1 {
				t.Fatalf("%q stands %d times in the plan", c.old, strings.Count(planText, c.old))
			}
			text := strings.Replace(planText, c.old, c.with, 1)
			p, err := plan.Load("plan.yaml", []byte(text))
			if p != nil {
				t.Error("a plan is given beside its problems")
			}
			var all plan.Problems
			if !errors.As(err, &all) {
				t.Fatalf("no problems: %v", err)
			}
			if !slices.ContainsFunc(all, func(q plan.Problem) bool {
				return strings.Contains(q.String(), ": "+c.says) && strings.HasPrefix(standsAt(text, q), c.at)
			}) {
				t.Errorf("problems\n%v\nwant one at %q that says\n%s", err, c.at, c.says)
			}
			for _, q := range all {
				if q.File != "plan.yaml" || q.Line < 1 || q.Col < 1 || q.Cause == "" {
					t.Errorf("problem without its place: %+v", q)
				}
			}
			if plan.PlainText(strings.ReplaceAll(err.Error(), "\n", " ")) != nil {
				t.Errorf("problems carry control characters: %q", err)
			}
		})
	}
}

func TestLoadPlan_notAPlan(t *testing.T) {
	for _, c := range []struct{ name, data, want string }{
		{"empty file", "", "plan.yaml:1:1: not readable as YAML: the file is empty"},
		{"only a comment", "# nothing yet\n", "the file is empty"},
		{"an empty document", "---\n", "the file holds nothing stands here; keys"},
		{"a list", "- a\n- b\n", "plan.yaml:1:1: the file holds a list"},
		{"a word", "hello\n", `plan.yaml:1:1: the file holds "hello"`},
		{"two mebibytes", strings.Repeat("#", 2<<20), "plan.yaml:1:1: file of 2097152 bytes: at most 1048576 are read"},
		{"no text", "\x00\x01\x02", "not readable as YAML"},
		{"not UTF-8", "id: \xff\xfe\n", "not readable as YAML"},
		{"brackets without end", strings.Repeat("[", 20000), "not readable as YAML"},
	} {
		p, err := plan.Load("plan.yaml", []byte(c.data))
		if p != nil || err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v; want %q", c.name, err, c.want)
		}
	}
}

// Half a plan, cut at every line, is refused and every time says where.
func TestLoadPlan_cutShort(t *testing.T) {
	lines := strings.SplitAfter(planText, "\n")
	for i := 1; i < 36; i++ { // from the first step on the plan is whole enough
		p, err := plan.Load("plan.yaml", []byte(strings.Join(lines[:i], "")))
		if p != nil || err == nil || !strings.HasPrefix(err.Error(), "plan.yaml:") {
			t.Errorf("the first %d lines are accepted: %v", i, err)
		}
	}
}

// All problems come at once, in the order of their lines.
func TestLoadPlan_allAtOnce(t *testing.T) {
	bad := strings.NewReplacer("rating: 800 kVA", "rating: 800 kW", "instrument: dmm", "instrument: dmn", "role: engineer", "role: boss").Replace(planText)
	_, err := plan.Load("plan.yaml", []byte(bad))
	var all plan.Problems
	if !errors.As(err, &all) || len(all) != 3 {
		t.Fatalf("%d problems, want 3:\n%v", len(all), err)
	}
	for i := 1; i < len(all); i++ {
		if all[i].Line < all[i-1].Line {
			t.Errorf("line %d comes after line %d", all[i].Line, all[i-1].Line)
		}
	}
}

func TestNearest(t *testing.T) {
	for _, c := range []struct {
		word, want string
		accepted   []string
	}{
		{"raing", ": did you mean rating?", []string{"rating", "hv"}},
		{"zzz", ": accepted here are rating, hv", []string{"rating", "hv"}},
		{"x", ": there is none to name", nil},
		{"foo", ": accepted here are from, to", []string{"from", "to"}}, // two letters of four are no slip
		{"e", ": accepted here are T1", []string{"", "T1"}},             // an id that was not given is no choice
		{"x", ": there is none to name", []string{""}},
	} {
		if got := plan.Nearest(c.word, c.accepted); got != c.want {
			t.Errorf("%q: %q, want %q", c.word, got, c.want)
		}
	}
}

// finite tells whether every number under v is a number.
func finite(v reflect.Value) error {
	switch v.Kind() {
	case reflect.Float64:
		if math.IsNaN(v.Float()) || math.IsInf(v.Float(), 0) {
			return fmt.Errorf("%s is %v", v.Type(), v.Float())
		}
	case reflect.Pointer:
		if !v.IsNil() {
			return finite(v.Elem())
		}
	case reflect.Slice:
		for i := range v.Len() {
			if err := finite(v.Index(i)); err != nil {
				return err
			}
		}
	case reflect.Struct:
		if v.Type() == plan.TimeType {
			return nil
		}
		for _, f := range plan.FieldsOf(v) {
			if err := finite(f.V); err != nil {
				return fmt.Errorf("%s: %w", f.Name, err)
			}
		}
	}
	return nil
}

func FuzzLoadPlan(f *testing.F) {
	f.Add([]byte(planText))
	for _, c := range problems {
		f.Add([]byte(strings.Replace(planText, c.old, c.with, 1)))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		p, err := plan.Load("f", data)
		if (p == nil) == (err == nil) {
			t.Fatalf("plan %v beside error %v", p != nil, err)
		}
		if err != nil {
			return
		}
		if err := finite(reflect.ValueOf(*p)); err != nil {
			t.Error(err)
		}
		for _, c := range p.Checks() {
			in := checks.Input{Plan: p, Check: c, Answers: checks.Answers{}, Before: checks.Pasts{}, At: noon}
			if got := checks.Judge(in); got.Verdict == checks.Pass {
				t.Errorf("check %s passes unanswered", c.ID)
			}
			if c.Kind.Predict != nil {
				c.Kind.Predict(p, c)
			}
		}
	})
}

// trialSeeds are the base trials of the case files.
func trialSeeds(f testing.TB) [][]byte {
	f.Helper()
	var out [][]byte
	for _, name := range plan.KindNames() {
		if _, err := os.Stat(filepath.Join("..", "..", "testdata", "cases", name+".json")); err != nil {
			continue // TestKindsConform reports a kind without cases
		}
		out = append(out, cases.Read(f, name).Trial(f, nil))
	}
	if len(out) == 0 {
		f.Fatal("no case files")
	}
	return out
}

func FuzzLoadTrial(f *testing.F) {
	for _, seed := range trialSeeds(f) {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		trial, err := plan.LoadTrial("f", data)
		if (trial == nil) == (err == nil) {
			t.Fatalf("trial %v beside error %v", trial != nil, err)
		}
		if err != nil {
			return
		}
		if err := finite(reflect.ValueOf(*trial.Plan)); err != nil {
			t.Error(err)
		}
		in, found, err := checks.JudgeTrial(trial)
		if err != nil {
			return
		}
		for key, a := range in.Answers {
			if math.IsNaN(a.Value) || math.IsInf(a.Value, 0) {
				t.Errorf("%s is read as %v", key, a.Value)
			}
		}
		for _, d := range found.Derived {
			if d.Verdict == checks.Pass && (math.IsNaN(d.Value) || math.IsInf(d.Value, 0)) {
				t.Errorf("%s passes as %v", d.Key, d.Value)
			}
		}
		if found.Verdict != checks.Pass && found.Why().None() {
			t.Errorf("comes to %s without a reason", found.Verdict)
		}
	})
}

var noon = time.Date(2026, 3, 2, 12, 0, 30, 0, time.UTC)
