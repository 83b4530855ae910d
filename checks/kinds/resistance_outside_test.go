package kinds_test

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"os/exec"
	"strconv"
	"testing"

	"handback/checks"
	"handback/checks/plan"
	"handback/testdata/outside"
)

const (
	resistanceFile   = "../../testdata/reference/resistance.json"
	resistanceScript = "../../testdata/reference/resistance.py"
)

// resistanceReference is resistance.json.
type resistanceReference struct {
	Source  string
	Winding []struct {
		Material        string
		Temp, Reference float64
		Ohms            []float64
		Referred        []float64
		Spread          float64
		Greatest        float64 `json:"greatest_deviation"`
	}
	Insulation []struct {
		Temp, Reference         float64
		MegaOhms                []float64 `json:"mega_ohms"`
		Corrected, Polarisation float64
		Absorption30            float64 `json:"absorption_30"`
		Absorption15            float64 `json:"absorption_15"`
	}
	Contacts []struct {
		MicroOhms []float64 `json:"micro_ohms"`
		Times     []float64
		Above     []bool
	}
	Turns []struct {
		Group                                 string
		HV, Tap, LV, Nominal, Read, Deviation float64
	}
}

func readResistances(t *testing.T, data []byte) resistanceReference {
	t.Helper()
	var r resistanceReference
	if err := json.Unmarshal(data, &r); err != nil {
		t.Fatal(err)
	}
	if len(r.Winding) == 0 || len(r.Insulation) == 0 || len(r.Contacts) == 0 || len(r.Turns) == 0 {
		t.Fatal("a group of reference values is empty")
	}
	return r
}

// Every value of the four resistance and ratio kinds agrees with numpy's.
func TestResistance_reference(t *testing.T) {
	data, err := os.ReadFile(resistanceFile)
	if err != nil {
		t.Fatal(err)
	}
	compareResistances(t, readResistances(t, data))
}

// The committed reference is what its script gives, and numpy's values of today
// hold as well.
func TestResistance_numpy(t *testing.T) {
	outside.Long(t)
	python := outside.Tool(t, "/usr/bin/python3", "-c", "import numpy")
	fresh, err := exec.Command(python, resistanceScript).Output()
	if err != nil {
		t.Fatal(err)
	}
	committed, err := os.ReadFile(resistanceFile)
	if err != nil {
		t.Fatal(err)
	}
	var a, b any
	if json.Unmarshal(fresh, &a) != nil || json.Unmarshal(committed, &b) != nil {
		t.Fatal("the script or the file gives no JSON")
	}
	sameNumbers(t, "$", a, b)
	compareResistances(t, readResistances(t, fresh))
}

// sameNumbers demands the same tree, numbers to 1e-12 of themselves: libraries of
// other machines may differ in the last bits.
func sameNumbers(t *testing.T, path string, a, b any) {
	t.Helper()
	switch x := a.(type) {
	case map[string]any:
		y, _ := b.(map[string]any)
		if len(x) != len(y) {
			t.Fatalf("%s: %d keys made, %d committed", path, len(x), len(y))
		}
		for k := range x {
			sameNumbers(t, path+"."+k, x[k], y[k])
		}
	case []any:
		y, _ := b.([]any)
		if len(x) != len(y) {
			t.Fatalf("%s: %d values made, %d committed", path, len(x), len(y))
		}
		for i := range x {
			sameNumbers(t, fmt.Sprintf("%s[%d]", path, i), x[i], y[i])
		}
	case float64:
		if y, ok := b.(float64); !ok || !(math.Abs(x-y) <= 1e-12*math.Max(1, math.Abs(x))) {
			t.Errorf("%s: %v made, %v committed", path, a, b)
		}
	default:
		if a != b {
			t.Errorf("%s: %v made, %v committed", path, a, b)
		}
	}
}

func compareResistances(t *testing.T, r resistanceReference) {
	for i, c := range r.Winding {
		given := tree{"transformer": "T", "winding": "hv", "material": c.Material, "reference": typed(c.Reference, "°C"), "spread": "49 %"}
		f := tried(t, nil, "winding-resistance", "Dyn11", 11000, 11000, 433, given, tree{"meter": "m", "temp": number(c.Temp),
			"l1l2": number(c.Ohms[0]), "l2l3": number(c.Ohms[1]), "l3l1": number(c.Ohms[2])})
		for j, key := range []string{"l1l2", "l2l3", "l3l1"} {
			agree(t, f, fmt.Sprintf("winding %d", i), "ref_"+key, c.Referred[j])
		}
		agree(t, f, fmt.Sprintf("winding %d", i), "spread", c.Spread)
		agree(t, f, fmt.Sprintf("winding %d", i), "greatest_deviation", c.Greatest)
	}
	for i, c := range r.Insulation {
		given := tree{"plant": "other", "reference": typed(c.Reference, "°C"), "volts": "1 kV", "minimum": "1 MΩ", "times": []any{"15 s", "30 s", "60 s", "600 s"},
			"combinations": []any{tree{"id": "a", "name": "core"}}}
		f := tried(t, nil, "insulation", "Dyn11", 11000, 11000, 433, given, tree{"meter": "m", "temp": number(c.Temp), "a_volts": "1000", "discharged": "yes",
			"a_r15": number(c.MegaOhms[0]), "a_r30": number(c.MegaOhms[1]), "a_r60": number(c.MegaOhms[2]), "a_r600": number(c.MegaOhms[3])})
		name := fmt.Sprintf("insulation %d", i)
		agree(t, f, name, "r60_a", c.Corrected)
		agree(t, f, name, "polarisation_a", c.Polarisation)
		agree(t, f, name, "absorption_30_a", c.Absorption30)
		agree(t, f, name, "absorption_15_a", c.Absorption15)
	}
	for i, c := range r.Contacts {
		var joints []any
		answers := tree{"meter": "m"}
		for j, x := range c.MicroOhms {
			id := fmt.Sprintf("j%d", j+1)
			joints = append(joints, tree{"id": id, "name": "joint " + id})
			answers[id+"_ohms"] = number(x)
		}
		f := tried(t, nil, "contact-resistance", "Dyn11", 11000, 11000, 433, tree{"groups": []any{tree{"group": "joints", "joints": joints}}}, answers)
		for j, x := range c.Times {
			key := fmt.Sprintf("times_j%d", j+1)
			agree(t, f, fmt.Sprintf("contacts %d", i), key, x)
			if d, _ := f.Value(key); (d.Verdict == checks.Fail) != c.Above[j] {
				t.Errorf("contacts %d: %s of %v is judged %s", i, key, d.Value, d.Verdict)
			}
		}
	}
	for _, c := range r.Turns {
		f := tried(t, nil, "ratio", c.Group, c.HV, c.Tap, c.LV, tree{"transformer": "T"}, tree{"meter": "m", "l1": number(c.Read), "l2": number(c.Read), "l3": number(c.Read)})
		name := fmt.Sprintf("turns %s %v/%v", c.Group, c.Tap, c.LV)
		agree(t, f, name, "nominal", c.Nominal)
		agree(t, f, name, "deviation_l2", c.Deviation)
	}
}

type tree = map[string]any

func number(x float64) string { return strconv.FormatFloat(x, 'g', -1, 64) }

func typed(x float64, unit string) string { return number(x) + " " + unit }

// tried judges one check of a plan with one transformer, read with a meter of
// these ranges.
func tried(t *testing.T, ranges []any, kind, group string, hv, tap, lv float64, given, answers tree) checks.Finding {
	t.Helper()
	if ranges == nil {
		ranges = []any{}
	}
	data, err := json.Marshal(tree{
		"trial": 1, "at": "2026-03-02T10:00:00+00:00",
		"instruments": []any{tree{"id": "m", "name": "meter", "serial": "X1", "due": "2027-01-31", "ranges": ranges}},
		"plant": tree{"transformers": []any{tree{"id": "T", "rating": "1 MVA", "hv": typed(hv, "V"), "lv": typed(lv, "V"), "group": group,
			"impedance": "6 %", "load_loss": "10 kW", "tap": "1", "taps": []any{tree{"position": "1", "hv": typed(tap, "V")}}}}},
		"checks": []any{tree{"check": "c", "kind": kind, "given": given, "answers": answers}},
	})
	if err != nil {
		t.Fatal(err)
	}
	trial, err := plan.LoadTrial("trial.json", data)
	if err != nil {
		t.Fatal(err)
	}
	_, f, err := checks.JudgeTrial(trial)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// agree demands a derived value within 1e-9 of the reference: both are exact but
// for rounding.
func agree(t *testing.T, f checks.Finding, name, key string, want float64) {
	t.Helper()
	d, ok := f.Value(key)
	if !ok || !(math.Abs(d.Value-want) <= 1e-9*math.Max(1, math.Abs(want))) {
		t.Errorf("%s: %s is %.12g (found %v), numpy says %.12g; %q", name, key, d.Value, ok, want, f.Reasons)
	}
}
