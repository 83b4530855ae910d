package plan_test

import (
	"encoding/json"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"

	"handback/checks"
	"handback/checks/plan"
	"handback/checks/quantity"
	"handback/testdata/cases"
)

// numbersOf lists the path and type of every number that a plan can give under t.
func numbersOf(path string, t reflect.Type, tell func(path string, t reflect.Type)) {
	for t != plan.NodeType && (t.Kind() == reflect.Pointer || t.Kind() == reflect.Slice) {
		t = t.Elem()
	}
	_, isMeasured := quantity.Measured[t]
	switch {
	case isMeasured || t == plan.AmountType || t.Kind() == reflect.Int || t.Kind() == reflect.Float64:
		tell(path, t)
	case t == plan.TimeType || t == plan.NodeType || t == reflect.TypeFor[plan.RawStep]() || t.Kind() != reflect.Struct:
	default:
		for _, f := range plan.FieldsOf(reflect.New(t).Elem()) {
			numbersOf(plan.Join(path, f.Name), f.V.Type(), tell)
		}
	}
}

// Every number that a plan can give has a row in the table, and every row of the table
// is of a number that a plan can give.
func TestFloors_all(t *testing.T) {
	numbers := map[string]bool{"check.life": true, "step.planned": true}
	tell := func(path string, typ reflect.Type) {
		numbers[path] = true
		if path == "handback" || plan.FloorTable[path] != nil {
			return
		}
		if typ != plan.AmountType {
			t.Errorf("%s has no row in the table of floors: say what any plan may give", path)
			return
		}
		for of := range quantities() {
			if plan.FloorsAt(path, of, true) == nil {
				t.Errorf("%s as %s has no row in the table of floors", path, of)
			}
		}
	}
	numbersOf("", reflect.TypeFor[plan.Plan](), tell)
	for _, name := range plan.KindNames() {
		numbersOf(name, reflect.TypeOf(checks.KindNamed(name).Given()), tell)
		numbers[name+".life"] = true
	}
	if len(numbers) < 80 {
		t.Fatalf("%d numbers found: the types were not read", len(numbers))
	}
	for _, f := range slices.Concat(slices.Collect(maps.Values(plan.FloorTable))...) {
		path, of, _ := strings.Cut(f.Path, "/")
		if !(numbers[path] || path == "any") || of != "" && !quantities()[of] {
			t.Errorf("row %s is of no number that a plan can give", f.Path)
		}
		if !(f.Least <= f.Low && f.Low < f.High && f.High <= f.Most) || f.Source == "" {
			t.Errorf("row %s: %v %v %v %v, source %q", f.Path, f.Least, f.Low, f.High, f.Most, f.Source)
		}
	}
}

func quantities() map[string]bool {
	out := map[string]bool{}
	for _, u := range quantity.Units {
		out[u.Of] = true
	}
	return out
}

// objected is what a plan is objected to for, or refused with.
func objected(t *testing.T, text string) plan.Problems {
	t.Helper()
	p, err := plan.Load("plan.yaml", []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	return p.Objections()
}

// with is the small plan of the loader's tests with a check of a kind before its hold.
func with(kind, given string) string {
	return strings.Replace(planText, "  - hold: close", fmt.Sprintf("  - check: x\n    kind: %s\n    dead_shown_by: Permit 7\n    given: %s\n  - hold: close", kind, given), 1)
}

const (
	deadGiven  = "{source: unit, system_voltage: 400 V, neutral: yes, tester: det, %s}"
	shareGiven = "{returning: T2, incomers: [{transformer: T2, side: A}, {transformer: T1, side: B}], %s}"
)

// The values on both sides come from outside: a standard named in the row, or, where
// it is our choice, the nonsense that a slip of the hand or a wish brings.
var floorCases = []struct {
	kind, given string // kind "" replaces in the plan itself
	says        string // "" where the value may be given
}{
	{"system", "frequency: 5 Hz", "system.frequency: 5 Hz is below 16 Hz"},
	{"system", "frequency: 55 Hz", "55 Hz is the frequency of no power network"},
	{"system", "frequency: 60 Hz", ""},
	{"system", "frequency: 16.7 Hz", ""},
	{"reading", "reading: 300 %", "instruments[1].ranges[1].reading: 300 % is above 10 %"},
	{"reading", "reading: 10 %", ""},
	{"impedance", "impedance: 0.4 %", "is below 0.5 %"},
	{"impedance", "impedance: 26 %", "is above 25 %"},
	{"impedance", "impedance: 480 %", "impedance: 480 % is above 25 %"}, // a slipped decimal
	{"hv: 11.275 kV", "hv: 1.1275 kV", "taps[1].hv: 1.1275 kV is below 7.7 kV"},
	{"impedance", "impedance: 12.5 %", ""}, // IEC 60076-5 Table 1, above 63 MVA
	{"peak: 105 kA", "peak: 141 kA", "141 kA is above 140 kA (IEC 62271-1"},
	{"peak: 105 kA", "peak: 135 kA", ""}, // 2.7 times 50 kA
	{"prove-dead", fmt.Sprintf(deadGiven, "threshold: 51 V"), "threshold: 51 V is above 50 V (50 V a.c."},
	{"prove-dead", fmt.Sprintf(deadGiven, "threshold: 50 V"), ""},
	{"prove-dead", fmt.Sprintf(deadGiven, "window: 61 min"), "window: 61 min is above 60 min"},
	{"prove-dead", fmt.Sprintf(deadGiven, "window: 60 min"), ""},
	{"sync", "{limits: plan, du: 11 %, df: 0.1 Hz, angle: 10 °}", "du: 11 % is above 10 % (IEEE 1547-2018 Table 5"},
	{"sync", "{limits: plan, du: 5 %, df: 0.31 Hz, angle: 10 °}", "df: 0.31 Hz is above 0.3 Hz"},
	{"sync", "{limits: plan, du: 5 %, df: 0.1 Hz, angle: 21 °}", "angle: 21° is above 20°"},
	{"sync", "{limits: plan, du: 10 %, df: 0.3 Hz, angle: 20 °}", ""}, // the smallest class of IEEE 1547
	{"sync", "{limits: same-source, du: 1 %, angle: 3 °, fresh: 1 h}", "fresh: 60 min is above 15 min"},
	{"cross-volts", "{side_a: A, side_b: B, device: q, neutrals_tied: yes, nominal: 400 V, limit: 24 V}", "limit: 24 V is above 23.094 V"}, // 400/√3/10
	{"cross-volts", "{side_a: A, side_b: B, device: q, neutrals_tied: yes, nominal: 400 V, limit: 23 V}", ""},
	{"phase-presence", "{by: volts, board: MB-B, share: 79 %}", "share: 79 % is below 80 %"},
	{"phase-presence", "{by: volts, board: MB-B, share: 90 %}", ""},
	{"lv-volts", "{transformer: T2, board: MB-B, line_band: {low: 350 V, high: 440 V}}", "low: 350 V is below 360 V (IEC 60038"},
	{"lv-volts", "{transformer: T2, board: MB-B, line_band: {low: 360 V, high: 440 V}, phase_band: {low: 207 V, high: 253 V}}", ""},
	{"lv-volts", "{transformer: T2, board: MB-B, tolerance: 6 %}", "tolerance: 6 % is above 5 %"},
	{"unbalance", "{limit: 4 %}", "limit: 4 % is above 3 % (IEC 61000-2-4"},
	{"unbalance", "{limit: 3 %}", ""},
	{"unbalance", "{limit: 4 %, source: owner's standard for the pump drives}", ""}, // the document is the reason
	{"unbalance", "{limit: 6 %, source: owner's standard for the pump drives}", "no reason lets a plan go beyond 5 %"},
	{"ratio", "{transformer: T2, limit: 0.6 %}", "limit: 0.6 % is above 0.5 % (IEC 60076-1"},
	{"contact-resistance", "{factor: 1.6, groups: [{group: g, joints: [{id: a, name: a}, {id: b, name: b}]}]}", "factor: 1.6 is above 1.5 (ANSI/NETA"},
	{"contact-resistance", "{factor: 1.5, groups: [{group: g, joints: [{id: a, name: a}, {id: b, name: b}]}]}", ""},
	{"insulation", "{plant: other, volts: 500 V, minimum: 0.9 MΩ, combinations: [{id: a, name: a}]}", "minimum: 900 kΩ is below 1 MΩ (IEC 60364-6"},
	{"insulation", "{plant: other, volts: 500 V, minimum: 1 MΩ, combinations: [{id: a, name: a}]}", ""},
	{"insulation", "{plant: other, volts: 5 kV, minimum: 4 MΩ, combinations: [{id: a, name: a}]}", "minimum: 4 MΩ is below 5 MΩ"},
	{"insulation", "{plant: other, volts: 25 kV, minimum: 100 MΩ, combinations: [{id: a, name: a}]}", "volts: 25 kV is above 15 kV"},
	{"insulation", "{plant: transformer, volts: 1 kV, minimum: 100 MΩ, times: [60 s, 600 s], polarisation: 1.2}", "polarisation: 1.2 is below 1.5 (IEEE 43"},
	{"thermal", "{over_similar: 16 K, groups: [{id: g, joints: [{id: a}]}]}", "over_similar: 16 K is above 15 K (ANSI/NETA"},
	{"thermal", "{over_ambient: 70 K, groups: [{id: g, joints: [{id: a}]}]}", ""}, // IEC 61439-1
	{"soak", "{point: winding, transformer: T2, limit: 190 °C, minutes: [0, 30, 60, 90, 120, 150]}", "limit: 190 °C is above 180 °C (IEC 60076-11"},
	{"winding-resistance", "{transformer: T2, winding: hv, material: copper, spread: 6 %}", "spread: 6 % is above 5 %"},
	{"load-share", fmt.Sprintf(shareGiven, "least: 10 %"), "least: 10 % is below 20 %"},
	{"load-share", fmt.Sprintf(shareGiven, "time_limit: 2 h"), "time_limit: 2 h is above 60 min"},
	{"load-share", fmt.Sprintf(shareGiven, "after_limit: 110 %"), "after_limit: 110 % is above 100 % (the rated current): give 100 % or less, or say in this check why and who decided it, with beyond: REASON"},
	{"load-share", fmt.Sprintf(shareGiven, "after_limit: 100 %"), ""},
	{"parallel-balance", "{a: T1, b: T2, board: MB-B, circulating: 21 %}", "circulating: 21 % is above 20 %"},
	{"parallel-balance", "{a: T1, b: T2, board: MB-B, circulating: 10 %, rating_ratio: 4}", "rating_ratio: 4 is above 3 "},
	{"parallel-balance", "{a: T1, b: T2, board: MB-B, circulating: 10 %, voltage_factor: 1}", "voltage_factor: 1 is below 1.05 (IEC 60909-0"},
	{"earth-continuity", "{current: 0.19 A, conductors: [{id: a, name: a, of: protective, limit: 20 mΩ}]}", "current: 0.19 A is below 0.2 A (IEC 61557-4"},
	{"earth-continuity", "{current: 0.2 A, conductors: [{id: a, name: a, of: protective, limit: 20 mΩ}]}", ""},
	{"earth-continuity", "{conductors: [{id: a, name: a, of: protective, limit: 20 Ω}]}", "limit: 20 Ω is above 500 mΩ"},
	{"temperature-relay", "{within: 1 K, over_ambient: 5 K, sensors: [{id: a, name: a}], set_points: [{id: t, does: trip, at: 190 °C, reaches: Q}]}", "at: 190 °C is above 180 °C (IEC 60085"},
	{"trip-proof", "{trips: [{id: a, element: a, by: contact, opens: [Q], within: 61 s}]}", "within: 61 s is above 60 s"},
	{"measure", "{name: volts, unit: kV, low: 1 kV, high: 9000 kV}", "high: 9000 kV is above 3000 kV"},
}

// floorPlan is the plan of a case: a second transformer and the instruments that
// kinds ask for stand in it.
func floorPlan(kind, given string) string {
	var text string
	switch kind {
	case "system":
		text = strings.Replace(planText, "frequency: 50 Hz", given, 1)
	case "reading":
		text = strings.Replace(planText, "reading: 0.5 %", given, 1)
	case "impedance":
		text = strings.Replace(planText, "impedance: 4.8 %", given, 1)
	case "peak: 105 kA", "hv: 11.275 kV":
		text = strings.Replace(planText, kind, given, 1)
	default:
		text = with(kind, given)
	}
	return strings.NewReplacer("  boards:", "    - {id: T1, rating: 800 kVA, hv: 11 kV, lv: 433 V, group: Dyn11, impedance: 4.8 %, load_loss: 100 W}\n  boards:",
		"plant:\n  supply", "  - {id: unit, name: proving unit, serial: EX-2, due: 2027-01-31}\n"+
			"  - {id: det, name: detector, serial: EX-3, due: 2027-01-31, category: IV, rated_from: 12 V, rated_to: 1000 V}\nplant:\n  supply",
		"load_loss: 8.4 kW", "load_loss: 0.1 kW").Replace(text)
}

func TestFloors(t *testing.T) {
	for _, c := range floorCases {
		t.Run(c.kind+" "+c.given, func(t *testing.T) {
			got := objected(t, floorPlan(c.kind, c.given))
			if c.says == "" && len(got) > 0 || c.says != "" && !slices.ContainsFunc(got, func(q plan.Problem) bool { return strings.Contains(q.String(), c.says) }) {
				t.Errorf("objections\n%v\nwant %q", got, c.says)
			}
			for _, q := range got {
				if q.Line < 2 || q.Col < 2 {
					t.Errorf("objection without its place: %+v", q)
				}
			}
		})
	}
}

// A named reason lets a plan go beyond what is free, is told as a warning, and stands
// with the finding; one that says nothing does not, and none goes beyond the end.
func TestFloors_beyond(t *testing.T) {
	share := func(limit, beyond string) string {
		return floorPlan("load-share", fmt.Sprintf(shareGiven, "after_limit: "+limit)+"\n    beyond: "+beyond)
	}
	p, err := plan.Load("plan.yaml", []byte(share("120 %", "maker allows 120 % for two hours, letter of 3 May")))
	if err != nil || len(p.Objections()) > 0 {
		t.Fatalf("a named reason is not taken: %v %v", err, p.Objections())
	}
	if w := p.Warnings(); len(w) != 1 || !strings.Contains(w[0].Cause, "120 % is above 100 % (the rated current); shown with the finding") {
		t.Errorf("warnings %v", w)
	}
	f := checks.Judge(checks.Input{Plan: p, Check: p.Check("x"), Answers: checks.Answers{}, Before: checks.Pasts{}})
	if !slices.ContainsFunc(cases.ToldCautions(p.Check("x").Kind, f), func(c string) bool {
		return strings.Contains(c, "120 % is above 100 %") && strings.Contains(c, "maker allows 120 % for two hours, letter of 3 May")
	}) {
		t.Errorf("the finding does not say the reason: %q", f.Cautions)
	}
	for limit, beyond := range map[string]string{"120 %": "ok", "151 %": "maker allows it, letter of 3 May"} {
		if got := objected(t, share(limit, beyond)); len(got) == 0 {
			t.Errorf("%s is taken with beyond: %s", limit, beyond)
		}
	}
	if p, err := plan.Load("plan.yaml", []byte(share("90 %", "maker allows it, letter of 3 May"))); err != nil || len(p.Objections()) > 0 ||
		len(p.Warnings()) != 1 || !strings.Contains(p.Warnings()[0].Cause, "leave the reason out") {
		t.Errorf("a reason for nothing: %v, objections %v, warnings %v", err, p.Objections(), p.Warnings())
	}
}

// The trials that every kind's cases begin with, and the demo, stay inside the table.
func TestFloors_soundTwins(t *testing.T) {
	for _, kind := range plan.KindNames() {
		base, err := json.Marshal(cases.Read(t, kind).Base)
		if err != nil {
			t.Fatal(err)
		}
		trial, err := plan.LoadTrial(kind, base)
		if err != nil {
			t.Errorf("%s: %v", kind, err)
			continue
		}
		for _, c := range trial.Plan.Checks() {
			if len(c.Stretched) > 0 {
				t.Errorf("%s: %q", kind, c.Stretched)
			}
		}
	}
	file := filepath.Join("..", "..", "testdata", "demo", "plan.yaml")
	data, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	p, err := plan.Load(file, data)
	if err != nil || len(p.Objections())+len(p.Warnings()) > 0 {
		t.Errorf("demo: %v\nobjections %v\nwarnings %v", err, p.Objections(), p.Warnings())
	}
}

// A trial whose limit goes beyond is judged by the bound itself, and says so: 30° do
// not pass for 170°, 10° do. Safety's own limits and nonsense are refused.
func TestFloors_trial(t *testing.T) {
	f := cases.Read(t, "sync")
	judged := func(angle string) checks.Finding {
		trial, err := plan.LoadTrial("sync", f.Trial(t, map[string]any{"given.limits": "plan", "given.du": "5 %", "given.df": "0.1 Hz", "given.angle": "170 °",
			"answers.p1": nil, "answers.p2": nil, "answers.p3": nil, "answers.angle": angle}))
		if err != nil {
			t.Fatal(err)
		}
		_, got, err := checks.JudgeTrial(trial)
		if err != nil {
			t.Fatal(err)
		}
		return got
	}
	if got := judged("30"); got.Verdict != checks.Fail {
		t.Errorf("30° against 170°: %v", got.Verdict)
	}
	got := judged("10")
	if got.Verdict != checks.Pass || !slices.ContainsFunc(cases.ToldCautions(nil, got), func(c string) bool {
		return strings.Contains(c, "170° is above 20°") && strings.Contains(c, "judged by 20°")
	}) {
		t.Errorf("10° against 170°: %v %q", got.Verdict, got.Cautions)
	}
	for kind, set := range map[string]map[string]any{
		"prove-dead": {"given.threshold": "230 V"}, "joints": {"given.joints.0.target": "40 kN·m"},
		"lv-volts": {"instruments.0.ranges.0.reading": "300 %"}, "unbalance": {"system": map[string]any{"frequency": "5 Hz"}},
	} {
		if _, err := plan.LoadTrial(kind, cases.Read(t, kind).Trial(t, set)); err == nil {
			t.Errorf("%s is judged with %v", kind, set)
		}
	}
}
