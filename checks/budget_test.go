package checks

import (
	"math"
	"testing"
	"time"

	"handback/checks/calc"
	"handback/checks/plan"
	"handback/checks/quantity"
)

// budgetBench is a check with readings in volts or ohms, each of an instrument of its own
// range.
func budgetBench(unit string, ranges map[string]plan.Range, readings map[string]readingOf) *Work {
	w := &Work{Input: Input{Plan: &plan.Plan{}, Check: &plan.Check{Kind: &plan.Traits{}}, Answers: Answers{}, At: time.Unix(0, 0)}, sources: map[string]calc.Source{}}
	for id, r := range ranges {
		w.Plan.Meters = append(w.Plan.Meters, plan.Meter{ID: id, Name: id, Ranges: []plan.Range{r}})
	}
	for key, r := range readings {
		w.Answers[key], w.Answers["meter_"+key] = Answer{Value: r.volts, Unit: unit}, Answer{Word: r.meter}
		f := Field{Key: key, Label: key, Sort: Measured, Unit: unit, Meter: "meter_" + key}
		w.form = append(w.form, f)
		w.sources[key] = w.sourceOf(f, w.Answers[key])
	}
	return w
}

// The error of a hand-held multimeter at 100 V against a calibrator (EA-4/02 M:2022,
// example S9, numbers from memory): indication 100.1 V with a resolution of 0.1 V, so
// ±0.05 V and u = 0.029 V, c = 1; calibrator ±0.011 V, u = 0.0064 V, c = -1; together
// 0.030 V. Its 0.001 V of the calibrator's certificate is left out, it changes nothing.
func TestBudget_of_EA_4_02(t *testing.T) {
	off := quantity.Percent(0.011)
	to := quantity.Amount{Value: 100, Of: "voltage", Unit: "V"}
	w := budgetBench("V", map[string]plan.Range{
		"multimeter": {To: quantity.Amount{Value: 200, Of: "voltage", Unit: "V"}, Resolution: &quantity.Amount{Value: 0.1, Of: "voltage", Unit: "V"}},
		"calibrator": {To: to, OfRange: &off},
	}, map[string]readingOf{"indicated": {"multimeter", 100.1}, "set": {"calibrator", 100}})
	e := w.Read("indicated").Sub(w.Read("set"))
	b, _ := w.sources.Budget(calc.WorkOut(e, w.Value))
	if len(b.Groups) != 2 {
		t.Fatalf("%d groups, want one an instrument: %+v", len(b.Groups), b)
	}
	for i, want := range []struct {
		estimate, half, u, c float64
	}{{100.1, 0.05, 0.029, 1}, {0, 0.011, 0.0064, 1}} {
		if n := len(b.Groups[i].Contributions); n != 1 {
			t.Fatalf("group %d has %d lines, want 1: %+v", i+1, n, b.Groups[i])
		}
		c := b.Groups[i].Contributions[0]
		if c.Estimate != want.estimate || !(math.Abs(c.Half-want.half) <= 1e-12) || !(math.Abs(c.StandardError()-want.u) <= 0.02*want.u) ||
			!(math.Abs(c.Sensitivity()-want.c) <= 1e-9) || !(math.Abs(c.Share()-want.u) <= 0.02*want.u) {
			t.Errorf("line %d: %+v, u(x) %v, |c| %v, |c|u(x) %v; want %+v", i+1, c, c.StandardError(), c.Sensitivity(), c.Share(), want)
		}
	}
	if s := b.Spread(e.Eval(w.Value)); !(math.Abs(s.Standard-0.030) <= 0.0005) {
		t.Errorf("u %v, want 0.030 V", s.Standard)
	}
}

// Ten resistors of 1000 Ω, each compared with the same standard of u = 100 mΩ, in
// series: their error is common, so u of the 10 kΩ is 10·100 mΩ = 1 Ω and not √10 times
// 100 mΩ = 0.32 Ω (JCGM 100:2008, 5.2.2, EXAMPLE).
func TestBudget_of_JCGM_100_ten_resistors(t *testing.T) {
	share := quantity.Percent(math.Sqrt(3) * 0.1 / 1000 * 100) // rectangular, of u = 0.1 Ω at 1000 Ω
	readings := map[string]readingOf{}
	for i := range 10 {
		readings[string(rune('a'+i))] = readingOf{"standard", 1000}
	}
	w := budgetBench("Ω", map[string]plan.Range{"standard": {To: quantity.Amount{Value: 1000, Of: "resistance", Unit: "Ω"}, Reading: &share}}, readings)
	var all []*calc.Expr
	for i := range 10 {
		all = append(all, w.Read(string(rune('a'+i))))
	}
	b, known := w.sources.Budget(calc.WorkOut(calc.Sum(all...), w.Value))
	if len(b.Groups) != 1 || len(b.Groups[0].Contributions) != 1 || known != calc.KnownWhole {
		t.Fatalf("%+v, want one line for the common error", b)
	}
	c := b.Groups[0].Contributions[0]
	if got := b.Spread(10000).Standard; !(math.Abs(got-1) <= 1e-9) || !(math.Abs(c.Share()-1) <= 1e-9) || !(math.Abs(c.Sensitivity()-100) <= 1e-6) {
		t.Errorf("u %v Ω of a contribution of %v Ω at %v Ω a per cent; want 1 Ω of 1 Ω at 100", got, c.Share(), c.Sensitivity())
	}
}
