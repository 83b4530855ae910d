package kinds

import (
	"math"
	"testing"
	"time"

	"handback/checks"
)

// field gives a field of a check of the demo's plan with some answers given.
func fieldOf(t *testing.T, check, key string, answers checks.Answers, before checks.Pasts) checks.Field {
	t.Helper()
	p := loadStudyPlan(t)
	in := checks.Input{Plan: p, Check: p.Check(check), Answers: answers, Before: before, At: time.Date(2026, 5, 12, 11, 0, 0, 0, time.UTC)}
	f, ok := checks.FieldNamed(in.Form(), key)
	if !ok {
		t.Fatalf("check %s asks no %s", check, key)
	}
	return f
}

// Both units stand on tap 3 and give the same volts, so nothing circulates and the
// currents are as 1/z: 436 A through 3.85 % of 630 kVA make 436·(3.85/630)/(3.97/400) =
// 268.46 A through 3.97 % of 400 kVA (by hand).
func TestExpect_loadShare(t *testing.T) {
	read := checks.Answers{"t1_i1": {Value: 436}}
	f := fieldOf(t, "share", "t2_i1", read, checks.Pasts{})
	if f.Expect == nil || !(math.Abs(f.Expect.Value-268.458) <= 0.01) {
		t.Fatalf("expected %+v, want 268.458 A", f.Expect)
	}
	if !(math.Abs(f.Expect.Low-134.229) <= 0.01) {
		t.Errorf("least %v A, want half of it", f.Expect.Low)
	}
	if f := fieldOf(t, "share", "t2_i2", read, checks.Pasts{}); f.Expect != nil {
		t.Errorf("L2 of the first was not read, yet %+v is expected", f.Expect)
	}
	if f := fieldOf(t, "share", "t1_i1", checks.Answers{}, checks.Pasts{}); f.Expect != nil {
		t.Errorf("nothing was read, yet %+v is expected", f.Expect)
	}
}

func TestExpect_measure(t *testing.T) {
	f := fieldOf(t, "hv", "value", checks.Answers{}, checks.Pasts{})
	if f.Expect == nil || f.Expect.Low != 6490 || f.Expect.High != 6760 || f.Expect.Value != 6625 {
		t.Errorf("expected %+v, want 6625 V of 6490 to 6760", f.Expect)
	}
}

// 6.55 kV read on the 6.435 kV tap of a 400 V winding: 407.148 V (by hand).
func TestExpect_lvVolts(t *testing.T) {
	left := checks.Past{Answers: checks.Answers{"left_l1": {Word: "3"}, "left_l2": {Word: "3"}, "left_l3": {Word: "3"}}}
	before := checks.Pasts{"taps": left, "hv": {Answers: checks.Answers{"value": {Value: 6550}}}}
	f := fieldOf(t, "volts-t2", "l1l2", checks.Answers{}, before)
	if f.Expect == nil || !(math.Abs(f.Expect.Value-407.1484) <= 1e-4) {
		t.Errorf("expected %+v, want 407.148 V", f.Expect)
	}
	// before the links were looked at, the tap they are to be left on is expected
	f = fieldOf(t, "volts-t2", "l1l2", checks.Answers{}, checks.Pasts{})
	if f.Expect == nil || !(math.Abs(f.Expect.Value-410.2564) <= 1e-4) {
		t.Errorf("expected %+v, want 410.256 V of the usual 6.6 kV", f.Expect)
	}
}

func TestExpect_unbalance(t *testing.T) {
	p := loadStudyPlan(t, "given: {limit: 0.8 %, source: owner's standard for the pump drives}", "given: {limit: 0.8 %, volts_from: volts-t2}")
	before := checks.Pasts{"volts-t2": {Answers: checks.Answers{"l2l3": {Value: 403.6}}}}
	in := checks.Input{Plan: p, Check: p.Check("unbalance"), Answers: checks.Answers{}, Before: before}
	f, _ := checks.FieldNamed(in.Form(), "l2l3")
	if f.Expect == nil || f.Expect.Value != 403.6 || !(math.Abs(f.Expect.High-411.672) <= 1e-9) {
		t.Errorf("expected %+v, want the 403.6 V read before, 2 %% about it", f.Expect)
	}
}

// 406.1 and 406.0 V line-to-line in step leave 0.1/√3 = 0.0577 V across a pole, and
// at 6° √(406.1² + 406² − 2·406.1·406·cos 6°)/√3 = 24.539 V (by hand).
func TestExpect_sync(t *testing.T) {
	read := checks.Answers{"state": {Word: liveLive}, "u_a": {Value: 406.1}, "u_b": {Value: 406.0}}
	for _, c := range []struct {
		key              string
		value, low, high float64
	}{{"u_b", 406.1, 396.7597, 415.4403}, {"f_a", 50, 49.5, 50.5}, {"angle", 0, -6, 6}, {"p2", 0.057735, 0.057735, 24.5386}} {
		f := fieldOf(t, "sync", c.key, read, checks.Pasts{})
		if e := f.Expect; e == nil || !(math.Abs(e.Value-c.value) <= 1e-4) || !(math.Abs(e.Low-c.low) <= 1e-4) || !(math.Abs(e.High-c.high) <= 1e-3) {
			t.Errorf("%s expects %+v, want %v (%v to %v)", c.key, e, c.value, c.low, c.high)
		}
	}
	read["state"] = checks.Answer{Word: deadBar}
	if f := fieldOf(t, "sync", "p2", read, checks.Pasts{}); f.Expect != nil {
		t.Errorf("a dead bar is never in step, yet %+v is expected", f.Expect)
	}
}
