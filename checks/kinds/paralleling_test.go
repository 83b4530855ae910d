package kinds

import (
	"encoding/json"
	"math"
	"math/cmplx"
	"strings"
	"testing"

	"handback/checks"
	"handback/checks/calc"
	"handback/checks/plan"
	"handback/checks/quantity"
	"handback/testdata/cases"
)

// plates makes a trial of one check on transformers given as rating, impedance %, load loss W, LV volts and HV volts of the tap.
func plates(t *testing.T, check map[string]any, plates ...[5]float64) (*plan.Plan, *plan.Check) {
	t.Helper()
	var list []any
	for i, p := range plates {
		list = append(list, map[string]any{"id": "T" + string(rune('1'+i)), "rating": typed(p[0], "kVA"), "impedance": typed(p[1], "%"),
			"load_loss": typed(p[2], "W"), "lv": typed(p[3], "V"), "hv": "11 kV", "group": "Dyn11",
			"taps": []any{map[string]any{"position": "1", "hv": typed(p[4], "V")}}, "tap": "1"})
	}
	data, err := json.Marshal(map[string]any{"trial": 1, "at": "2026-03-02T10:00:00+00:00",
		"plant": map[string]any{"supply": map[string]any{"usual": "11 kV", "fault": "250 MVA"}, "transformers": list,
			"boards": []any{map[string]any{"id": "MB", "nominal": "400 V", "short_time": "50 kA", "peak": "105 kA"}}},
		"checks": []any{check}})
	if err != nil {
		t.Fatal(err)
	}
	trial, err := plan.LoadTrial("plates.json", data)
	if err != nil {
		t.Fatal(err)
	}
	c := trial.Plan.Checks()
	return trial.Plan, c[len(c)-1]
}

func typed(x float64, unit string) string {
	return strings.Replace(quantity.Significant(x, 15), "−", "-", 1) + " " + unit
}

func balanceOf(t *testing.T, units ...[5]float64) (*plan.Plan, *plan.Check) {
	return plates(t, map[string]any{"check": "balance", "kind": "parallel-balance",
		"given": map[string]any{"a": "T1", "b": "T2", "board": "MB", "circulating": "10 %"}, "answers": map[string]any{}}, units...)
}

func unitFeeds(t *testing.T, units ...[5]float64) []feed {
	t.Helper()
	p, c := balanceOf(t, units...)
	var out []feed
	for _, u := range p.Plant.Transformers {
		f, err := feedOf(checks.Input{Plan: p, Check: c}, u.ID, "", "")
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, f)
	}
	return out
}

// Loads that fill the first transformer to its rating, from printed exercises. Load losses are small, as the exercises give none.
func TestGreatestLoad(t *testing.T) {
	cases := []struct {
		name, source string
		units        [][5]float64
		kVA          float64
		each         []float64
	}{
		{"two", "printed exercise: 1000 kVA 5 % with 1500 kVA 8 %, the first full: 937.5 kVA on the second, 1937.5 in all",
			[][5]float64{{1000, 5, 1e-3, 400, 11000}, {1500, 8, 1e-3, 400, 11000}}, 1937.5, []float64{1000, 937.5}},
		{"three", "printed exercise: 100, 150 and 150 MVA at 10, 9 and 8 %, here in kVA ÷ 100: 363.3 with the third full",
			[][5]float64{{1000, 10, 1e-3, 400, 11000}, {1500, 9, 1e-3, 400, 11000}, {1500, 8, 1e-3, 400, 11000}}, 3633.33, []float64{800, 1333.33, 1500}},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			feeds := unitFeeds(t, c.units...)
			amps, err := greatestLoad(feeds, assumedPowerFactor)
			if err != nil {
				t.Fatal(err)
			}
			kVA := func(amps float64) float64 { return amps * math.Sqrt(3) * 400 / 1000 }
			if got := kVA(amps); !(math.Abs(got-c.kVA) <= 0.01) {
				t.Errorf("maximum load %.3f kVA, want %.3f (%s)", got, c.kVA, c.source)
			}
			each, err := share(feeds, amps, assumedPowerFactor)
			if err != nil {
				t.Fatal(err)
			}
			for i, want := range c.each {
				if got := kVA(cmplx.Abs(each[i])); !(math.Abs(got-want) <= 0.01) {
					t.Errorf("transformer %d carries %.3f kVA, want %.3f (%s)", i+1, got, want, c.source)
				}
			}
		})
	}
}

// A tap apart by 10 % over 2 % + 2 % drives more than rated current with no load at all.
func TestGreatestLoad_overloadedByCirculation(t *testing.T) {
	feeds := unitFeeds(t, [5]float64{1000, 2, 1, 400, 11000}, [5]float64{1000, 2, 1, 400, 10000})
	if got, err := greatestLoad(feeds, 0.8); err != nil || got != 0 {
		t.Errorf("maximum load %v A, %v; want 0, as 10 %% over 4 %% is 2.5 times the rating", got, err)
	}
}

// The worked ohms of a finding agree with those of package power, to the last digits.
func TestOhms(t *testing.T) {
	for _, f := range unitFeeds(t, [5]float64{800, 6, 8400, 420, 11000}, [5]float64{1600, 4.2, 13177, 433, 10725}) {
		r, x := ohms(f.t)
		got := complex(r.Eval(nil), x.Eval(nil))
		if !(cmplx.Abs(got-f.source.Z) <= 1e-12*cmplx.Abs(f.source.Z)) {
			t.Errorf("%s: %v Ω, want %v", f.t.ID, got, f.source.Z)
		}
	}
}

func TestPredictParallelBalance(t *testing.T) {
	// Like units but for a tap of 2.5 %: 10.24 V over √3·2·13.23 mΩ = 223.5 A, 20.3 % of 1099.7 A; difference −2.44 % (by hand).
	p, c := balanceOf(t, [5]float64{800, 6, 8400, 420, 11000}, [5]float64{800, 6, 8400, 420, 11275})
	said := predictions(p, c)
	for _, want := range []string{
		"! no-load volts: T1 420.0 V, T2 409.8 V: difference −2.44 %, ±1 % allowed",
		"! circulating current, T1: 223.5 A, 20.33 % of rated 1100 A; 10 % allowed",
		"  vector groups: vector groups Dyn11 of T1 and Dyn11 of T2 have the same clock number",
		// IEC 60909-0 by hand, as in the case file: one 17.94 kA, both 33.93 kA, κ 1.61, peak 77.25 kA.
		"  fault level, T1 alone: 17.94 kA, peak 40.66 kA (κ 1.6), against 50 kA short-time and 105 kA peak of MB",
		"  fault level, both in: 33.93 kA, peak 77.25 kA (κ 1.61), against 50 kA short-time and 105 kA peak of MB",
		// Nodal solve of 1600 kVA at 0.8 lagging against the bar (scipy): without circulation each would carry 1100 A.
		"! share of load, T1: 1278 A, 116.2 % of its rating, of a load of 1600 kVA",
		"  share of load, T2: 941.5 A, 85.62 % of its rating",
		"  maximum load in parallel: 1843 A, 1340.5 kVA",
	} {
		if !strings.Contains(said, want) {
			t.Errorf("predictions do not say %q:\n%s", want, said)
		}
	}
}

func TestPredictParallelBalance_overRating(t *testing.T) {
	p, c := balanceOf(t, [5]float64{1600, 4, 16000, 420, 11000}, [5]float64{1600, 4, 16000, 420, 11000})
	// IEC 60909-0 as in the case file (python): 47.85 kA of one is below 50 kA, 83.07 kA of both is not.
	said := predictions(p, c)
	for _, want := range []string{"  fault level, T1 alone: 47.85 kA", "! fault level, both in: 83.07 kA"} {
		if !strings.Contains(said, want) {
			t.Errorf("predictions do not say %q:\n%s", want, said)
		}
	}
}

// predictions prints one line each, those that warn marked with !.
func predictions(p *plan.Plan, c *plan.Check) string {
	var s strings.Builder
	for _, q := range c.Kind.Predict(p, c) {
		mark := " "
		if q.Warn {
			mark = "!"
		}
		s.WriteString(mark + " " + q.Name + ": " + q.Text + "\n")
	}
	return s.String()
}

// Two like units of 6 % without losses share 1204 A half and half. One impedance 10 % down
// takes 1204/1.9 = 633.684 A, 31.684 more; 10 % up 1204/2.1, less far. So each ±10 % moves
// the share by 31.684 A, the power factor not at all: U = 2·√2·31.684/√3 = 51.740 A, under
// the 63.368 A that can be (by hand). Measured within 1 % it is a tenth of it.
func TestCurrentOf_tolerance(t *testing.T) {
	feeds := unitFeeds(t, [5]float64{800, 6, 1e-3, 420, 11000}, [5]float64{800, 6, 1e-3, 420, 11000})
	e := currentOf("", feeds, 0, calc.Datum("load", 1204, "A"), assumedFactor())
	if x, u := e.Eval(nil), plateSpread(e); !(math.Abs(x-602) <= 1e-6) || !(math.Abs(u-51.7395) <= 1e-3) {
		t.Errorf("%v ± %v A, want 602 ± 51.740", x, u)
	}
	if u := plateSpread(calc.Exactly(e)); u != 0 {
		t.Errorf("taken exactly it has U %v", u)
	}
	measured := quantity.Percent(1)
	for _, f := range feeds {
		f.t.ImpedanceU = &measured
	}
	// 1204/1.99 − 602 = 3.0251 A each
	if u := plateSpread(currentOf("", feeds, 0, calc.Datum("load", 1204, "A"), assumedFactor())); !(math.Abs(u-2*math.Sqrt2*3.0251/math.Sqrt(3)) <= 1e-3) {
		t.Errorf("measured impedances leave U %v", u)
	}
}

// From 10 % on the tolerance is ±7.5 %, and no impedance falls below its resistance.
func TestPlateImpedance(t *testing.T) {
	given := quantity.Percent(2)
	for _, c := range []struct {
		t         plan.Transformer
		low, high float64
	}{
		{plan.Transformer{Rating: 1e6, Impedance: 6, LoadLoss: 1e4}, 5.4, 6.6},
		{plan.Transformer{Rating: 1e6, Impedance: 10, LoadLoss: 1e4}, 9.25, 10.75},
		{plan.Transformer{Rating: 1e6, Impedance: 6, LoadLoss: 1e4, ImpedanceU: &given}, 5.88, 6.12},
		{plan.Transformer{Rating: 1e6, Impedance: 6, LoadLoss: 57e3}, 5.7, 6.6},
	} {
		if low, high := plateImpedance(&c.t).Bounds(); !(math.Abs(low-c.low) <= 1e-12) || !(math.Abs(high-c.high) <= 1e-12) {
			t.Errorf("%+v: %v to %v, want %v to %v", c.t, low, high, c.low, c.high)
		}
	}
}

// A unit of 6 % without losses behind no supply impedance: I is as 1/(z·K_T), so 10 % less
// makes it (1 + 0.6·0.054)/(0.9·(1 + 0.6·0.06)) = 1.107250 times as large (by hand). That is
// shown and not guarded with: the standard holds the plates' value against the rating.
func TestFaultPart_tolerance(t *testing.T) {
	p, c := balanceOf(t, [5]float64{800, 6, 1e-3, 420, 11000}, [5]float64{800, 6, 1e-3, 420, 11000})
	p.Plant.Supply.Fault = nil
	in := checks.Input{Plan: p, Check: c}
	e := faultPart(in, "", initialAmps, 1.05, p.Board("MB"), p.Transformer("T1"))
	if x := e.Eval(nil); !(math.Abs(plateSpread(e)/x-0.107250) <= 1e-6) {
		t.Errorf("%v ± %v A, want 10.725 %%", x, plateSpread(e))
	}
}

func TestShowFaultTolerance(t *testing.T) {
	p, c := balanceOf(t, [5]float64{800, 6, 8400, 420, 11000}, [5]float64{800, 6, 8400, 420, 11000})
	a, b := p.Transformer("T1"), p.Transformer("T2")
	for _, k := range []struct {
		rating quantity.Ampere
		warns  bool
	}{{50e3, false}, {34e3, true}, {33e3, false}} { // 33.93 kA ± 6 %; over by itself is judged elsewhere
		board := *p.Board("MB")
		board.ShortTime = &k.rating
		w := &checks.Work{Input: checks.Input{Plan: p, Check: c}}
		showFaultTolerance(w, 1.05, &board, a, b)
		if said := strings.Contains(strings.Join(cases.ToldCautions(c.Kind, w.Finding()), "\n"), "The fault current with both in parallel may come to"); said != k.warns {
			t.Errorf("rating %v: cautions %q", k.rating, w.Finding().Cautions)
		}
		if !strings.Contains(strings.Join(cases.ToldCautions(c.Kind, w.Finding()), "\n"), "Motors") {
			t.Error("motors are not spoken of")
		}
	}
}

// c is 1.10 where the board's volts may rise by more than 6 % (IEC 60909-0 Table 1).
func TestVoltageFactor(t *testing.T) {
	for band, want := range map[string]float64{`{"standard": "IEC 60038"}`: 1.10, `{"standard": "GB 230 V"}`: 1.10, `{"standard": "ANSI C84.1 A"}`: 1.05,
		`{"low": "380 V", "high": "424 V"}`: 1.05, `{"high": "425 V"}`: 1.10, `{"low": "380 V"}`: 1.05} {
		var b any
		if err := json.Unmarshal([]byte(band), &b); err != nil {
			t.Fatal(err)
		}
		p, _ := plates(t, map[string]any{"check": "volts", "kind": "lv-volts", "given": map[string]any{"transformer": "T1", "board": "MB", "line_band": b}, "answers": map[string]any{}},
			[5]float64{800, 6, 8400, 420, 11000})
		if got := voltageFactor(p, p.Board("MB")); got != want {
			t.Errorf("%s: c is %v, want %v", band, got, want)
		}
	}
	p, _ := balanceOf(t, [5]float64{800, 6, 8400, 420, 11000}, [5]float64{800, 6, 8400, 420, 11000})
	if got := voltageFactor(p, p.Board("MB")); got != 1.05 {
		t.Errorf("no band: c is %v, want 1.05", got)
	}
}

// Plates that a checked plan does not hold are told, too: what cannot be read fails, and
// what cannot be worked out is inconclusive.
func TestBalance_unreadablePlates(t *testing.T) {
	p, c := balanceOf(t, [5]float64{800, 6, 8400, 420, 11000}, [5]float64{800, 6, 8400, 420, 11000})
	a, b := p.Transformer("T1"), p.Transformer("T2")
	a.Group, p.Board("MB").Nominal = "Dzz", 0
	w := &checks.Work{Input: checks.Input{Plan: p, Check: c}}
	sayGroups(w, a, b)
	balanceFault(w, c.Given.(*parallelBalance), a, b)
	got := cases.ToldReasons(c.Kind, w.Finding())
	if len(got) != 2 || got[0] != "fail: vector groups Dzz of T1 and Dyn11 of T2 cannot be read" || !strings.HasPrefix(got[1], "inconclusive: fault level with both in parallel: ") {
		t.Errorf("reasons %q", got)
	}
}
