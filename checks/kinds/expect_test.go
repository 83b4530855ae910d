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

// Both units stand on tap 4 and give the same volts, so nothing circulates and the
// currents are as 1/z: 471 A beside 4.8 % makes 452.16 A through 5.0 % (by hand).
func TestExpect_loadShare(t *testing.T) {
	read := checks.Answers{"t1_i1": {Value: 471}}
	f := fieldOf(t, "share", "t2_i1", read, checks.Pasts{})
	if f.Expect == nil || !(math.Abs(f.Expect.Value-452.16) <= 0.01) {
		t.Fatalf("expected %+v, want 452.16 A", f.Expect)
	}
	if !(math.Abs(f.Expect.Low-226.08) <= 0.01) {
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
	if f.Expect == nil || f.Expect.Low != 10700 || f.Expect.High != 11200 || f.Expect.Value != 10950 {
		t.Errorf("expected %+v, want 10950 V of 10700 to 11200", f.Expect)
	}
}

// 10.98 kV read on the 10.725 kV tap of a 420 V winding: 429.986 V (by hand).
func TestExpect_lvVolts(t *testing.T) {
	left := checks.Past{Answers: checks.Answers{"left_l1": {Word: "4"}, "left_l2": {Word: "4"}, "left_l3": {Word: "4"}}}
	before := checks.Pasts{"taps": left, "hv": {Answers: checks.Answers{"value": {Value: 10980}}}}
	f := fieldOf(t, "volts-t2", "l1l2", checks.Answers{}, before)
	if f.Expect == nil || !(math.Abs(f.Expect.Value-429.9860) <= 1e-4) {
		t.Errorf("expected %+v, want 429.986 V", f.Expect)
	}
	// before the links were looked at, the tap they are to be left on is expected
	f = fieldOf(t, "volts-t2", "l1l2", checks.Answers{}, checks.Pasts{})
	if f.Expect == nil || !(math.Abs(f.Expect.Value-430.7692) <= 1e-4) {
		t.Errorf("expected %+v, want 430.769 V of the usual 11 kV", f.Expect)
	}
}

func TestExpect_unbalance(t *testing.T) {
	p := loadStudyPlan(t, "given: {limit: 0.5 %, source: owner's standard for the pump drives}", "given: {limit: 0.5 %, volts_from: volts-t2}")
	before := checks.Pasts{"volts-t2": {Answers: checks.Answers{"l2l3": {Value: 427.9}}}}
	in := checks.Input{Plan: p, Check: p.Check("unbalance"), Answers: checks.Answers{}, Before: before}
	f, _ := checks.FieldNamed(in.Form(), "l2l3")
	if f.Expect == nil || f.Expect.Value != 427.9 || !(math.Abs(f.Expect.High-436.458) <= 1e-9) {
		t.Errorf("expected %+v, want the 427.9 V read before, 2 %% about it", f.Expect)
	}
}

// 429.1 and 430.0 V line-to-line in step leave 0.9/√3 = 0.5196 V across a pole, and
// at 3° √(429.1² + 430² − 2·429.1·430·cos 3°)/√3 = 12.994 V (by hand).
func TestExpect_sync(t *testing.T) {
	read := checks.Answers{"state": {Word: liveLive}, "u_a": {Value: 429.1}, "u_b": {Value: 430.0}}
	for _, c := range []struct {
		key              string
		value, low, high float64
	}{{"u_b", 429.1, 422.6635, 435.5365}, {"f_a", 50, 49.5, 50.5}, {"angle", 0, -3, 3}, {"p2", 0.519615, 0.519615, 12.9941}} {
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
