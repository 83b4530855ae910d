package kinds

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"handback/checks"
	"handback/checks/plan"
	"handback/testdata/cases"
	"handback/testdata/outside"
)

const (
	shareFile   = "../../testdata/reference/share.json"
	shareScript = "../../testdata/reference/share_spice.py"
)

// spiceShare is two transformers on two sections solved by ngspice; see testdata/reference/share_spice.py.
type spiceShare struct {
	Name      string       `json:"name"`
	Units     [][4]float64 `json:"units"` // kVA, %, kW, V of the tap
	Direction string       `json:"direction"`
	Incomers  [2]float64   `json:"incomers"`
	Coupler   float64      `json:"coupler"`
	Sections  [2]float64   `json:"sections"`
	Factor    float64      `json:"pf"`
	Factors   [2]float64   `json:"incomer_pf"`
	Through   float64      `json:"coupler_pf"`
}

func readShares(t *testing.T) []spiceShare {
	t.Helper()
	data, err := os.ReadFile(shareFile)
	if err != nil {
		t.Fatal(err)
	}
	var f struct{ Cases []spiceShare }
	if err := json.Unmarshal(data, &f); err != nil || len(f.Cases) == 0 {
		t.Fatalf("%d cases, %v", len(f.Cases), err)
	}
	return f.Cases
}

// judge judges what the ammeters of s read, and more answers beside it.
func (s spiceShare) judge(t *testing.T, more map[string]string) checks.Finding {
	t.Helper()
	var units, incomers []any
	answers := map[string]any{"meter": "clamp", "coupler_closed": "yes", "closed_at": "09:53", "now_at": "10:00", "direction": s.Direction}
	if s.Coupler < 1 {
		answers["direction"] = "none"
	}
	for n, u := range s.Units {
		id := fmt.Sprintf("T%d", n+1)
		units = append(units, map[string]any{"id": id, "rating": fmt.Sprintf("%v kVA", u[0]), "hv": "11 kV", "lv": "400 V", "group": "Dyn11", "impedance": fmt.Sprintf("%v %%", u[1]),
			"load_loss": fmt.Sprintf("%v kW", u[2]), "taps": []any{map[string]any{"position": "1", "hv": fmt.Sprintf("%v V", u[3])}}, "tap": "1"})
		incomers = append(incomers, map[string]any{"transformer": id, "side": "AB"[n : n+1]})
		answers[fmt.Sprintf("t%d_closed", n+1)] = "yes"
		for k := 1; k <= 3; k++ {
			answers[fmt.Sprintf("t%d_i%d", n+1, k)] = fmt.Sprint(s.Incomers[n])
			answers[fmt.Sprintf("coupler_i%d", k)] = fmt.Sprint(s.Coupler)
		}
	}
	for key, v := range more {
		answers[key] = v
	}
	data, err := json.Marshal(map[string]any{"trial": 1, "at": "2026-03-02T10:00:00+00:00",
		"instruments": []any{map[string]any{"id": "clamp", "name": "clamp", "serial": "C1", "due": "2027-01-31", "ranges": []any{map[string]any{"to": "3000 A"}}}},
		"plant":       map[string]any{"supply": map[string]any{"usual": "11 kV"}, "transformers": units},
		"checks": []any{map[string]any{"check": "share", "kind": "load-share", "instrument": "clamp", "given": map[string]any{"incomers": incomers, "returning": "T2", "time_limit": "10 min"},
			"answers": answers}}})
	if err != nil {
		t.Fatal(err)
	}
	trial, err := plan.LoadTrial("share.json", data)
	if err != nil {
		t.Fatal(err)
	}
	_, f, err := checks.JudgeTrial(trial)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

func (s spiceShare) overloaded() bool {
	for n, u := range s.Units {
		if s.Sections[n] > u[0]*1000/math.Sqrt(3)/400 {
			return true
		}
	}
	return false
}

// Whatever the power factors and taps, what a section truly draws lies between the
// least and the most worked out from the ammeters, and no overload passes.
func TestLoadShare_spice(t *testing.T) {
	overloads, passes := 0, 0
	for _, s := range readShares(t) {
		t.Run(s.Name, func(t *testing.T) {
			f := s.judge(t, nil)
			if s.overloaded() {
				overloads++
				if f.Verdict == checks.Pass {
					t.Errorf("passes, though the sections draw %v A", s.Sections)
				}
			} else if f.Verdict == checks.Pass {
				passes++
			} else {
				t.Errorf("comes to %s: %s", f.Verdict, f.Why())
			}
			s.bracketed(t, f)
			// Power factors as a meter shows them: two decimals, lagging or leading not told.
			s.bracketed(t, s.judge(t, map[string]string{"t1_pf": fmt.Sprintf("%.2f", s.Factors[0]), "t2_pf": fmt.Sprintf("%.2f", s.Factors[1]), "coupler_pf": fmt.Sprintf("%.2f", s.Through)}))
		})
	}
	if overloads < 3 || passes < 3 {
		t.Errorf("%d overloads and %d light loads: both are wanted", overloads, passes)
	}
}

func (s spiceShare) bracketed(t *testing.T, f checks.Finding) {
	t.Helper()
	for n, true := range s.Sections {
		after, _ := f.Value(fmt.Sprintf("after_t%d_l1", n+1))
		low, high := 0.0, after.Value
		if most, ok := f.Value(fmt.Sprintf("most_t%d_l1", n+1)); ok {
			low, high = after.Value, most.Value
		}
		if !(true >= low*(1-1e-6) && true <= high*(1+1e-6)) {
			t.Errorf("section %s draws %v A, the bounds are %v to %v A", "AB"[n:n+1], true, low, high)
		}
	}
}

// Exact readings of sound units are all of what is predicted, whatever circulates:
// with the power factor of the load read at the bar to nine digits.
func TestLoadShare_spiceShares(t *testing.T) {
	for _, s := range readShares(t) {
		f := s.judge(t, map[string]string{"pf": fmt.Sprint(s.Factor)})
		for _, key := range []string{"share_l1", "share_t1_l1"} {
			if d, ok := f.Value(key); !ok || !(math.Abs(d.Value-100) <= 1e-2) { // its coupler is 1 µΩ beside some 20 mΩ
				t.Errorf("%s: %s is %v %%, want 100", s.Name, key, d.Value)
			}
		}
	}
}

// With the sections read, those readings count, and sound ones balance.
func TestLoadShare_spiceSections(t *testing.T) {
	for _, s := range readShares(t) {
		more := map[string]string{}
		for k := 1; k <= 3; k++ {
			more[fmt.Sprintf("section_a_i%d", k)], more[fmt.Sprintf("section_b_i%d", k)] = fmt.Sprint(s.Sections[0]), fmt.Sprint(s.Sections[1])
		}
		f := s.judge(t, more)
		if want := map[bool]checks.Verdict{true: checks.Fail, false: checks.Pass}[s.overloaded()]; f.Verdict != want {
			t.Errorf("%s comes to %s, want %s: %s", s.Name, f.Verdict, want, f.Why())
		}
		if cases.AnyReason("load-share", f, "does not hold") {
			t.Errorf("%s: %s", s.Name, f.Why())
		}
		for n, true := range s.Sections {
			if d, _ := f.Value(fmt.Sprintf("after_t%d_l1", n+1)); !(math.Abs(d.Value-true) <= 1e-6*true) {
				t.Errorf("%s: section %s is judged at %v A, it draws %v A", s.Name, "AB"[n:n+1], d.Value, true)
			}
		}
	}
}

// The kept figures are what ngspice gives today.
func TestShareFile_fromSpice(t *testing.T) {
	outside.Long(t)
	outside.Tool(t, "ngspice")
	python := outside.Tool(t, "/usr/bin/python3", "-c", "import json")
	fresh, err := exec.Command(python, "-B", shareScript).Output()
	if err != nil {
		t.Fatal(err)
	}
	kept, err := os.ReadFile(filepath.Clean(shareFile))
	if err != nil {
		t.Fatal(err)
	}
	if string(fresh) != string(kept) {
		t.Errorf("%s prints other figures than %s holds", shareScript, shareFile)
	}
}
