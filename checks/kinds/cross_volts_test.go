package kinds

import (
	"fmt"
	"math"
	"math/cmplx"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"handback/checks"
	"handback/checks/plan"
	"handback/checks/quantity"
	"handback/testdata/cases"
)

// crossBase is the base trial of cross-volts with its own answers taken away.
func crossBase(t testing.TB) checks.Input {
	t.Helper()
	trial, err := plan.LoadTrial("cross-volts.json", cases.Read(t, "cross-volts").Trial(t, nil))
	if err != nil {
		t.Fatal(err)
	}
	in, _, err := checks.JudgeTrial(trial)
	if err != nil {
		t.Fatal(err)
	}
	return in
}

// Any two true systems, read with a meter of two digits of 0.1 V, stand where the
// finding says within the uncertainty it states.
func TestCrossVolts_statedUncertaintyHolds(t *testing.T) {
	in := crossBase(t)
	zero, digits := quantity.Percent(0), 2.0 // rounding is half a digit; the meter claims two
	in.Plan.Meters[0].Ranges[0].Reading, in.Plan.Meters[0].Ranges[0].Digits = &zero, &digits
	rapid.Check(t, func(r *rapid.T) {
		draw := func(name string, low, high float64) float64 { return rapid.Float64Range(low, high).Draw(r, name) }
		at := func(volts, deg float64) complex128 { return cmplx.Rect(volts, deg*math.Pi/180) }
		u, turn := draw("volts", 200, 260), draw("displacement", -13, 13)
		neg, zero := at(u*draw("negative", 0, 0.01), draw("of", -180, 180)), at(u*draw("offset", 0, 0.02), draw("of", -180, 180))
		var a, b [3]complex128
		for i := range a {
			// A is symmetrical, so that B's own angle is the displacement.
			a[i] = at(u, -120*float64(i))
			b[i] = at(u*0.99, turn-120*float64(i)) + neg*at(1, 120*float64(i)) + zero
		}
		in.Answers = checks.Answers{"meter": {Word: "dmm", Typed: "dmm"}}
		put := func(key string, x complex128) {
			v := math.Round(cmplx.Abs(x)*10) / 10
			in.Answers[key] = checks.Answer{Typed: fmt.Sprint(v), Value: v, Unit: "V"}
		}
		for i := range 3 {
			put("a_"+lineKeys[i], a[i]-a[(i+1)%3])
			for j := range 3 {
				put(crossKey(i, j), a[i]-b[j])
			}
		}
		f := checks.Judge(in)
		holds := func(key string, want float64) {
			d, ok := f.Value(key)
			if !ok || !(math.Abs(d.Value-want) <= d.U) {
				r.Errorf("%s is %.5g ± %.2g (%v), true %.5g", key, d.Value, d.U, ok, want)
			}
			if !(d.U < 1) {
				r.Errorf("%s: an uncertainty of %g says nothing", key, d.U)
			}
		}
		holds("displacement", turn)
		holds("offset", cmplx.Abs(zero))
		for j := range b {
			holds(fmt.Sprintf("volts_b_l%d", j+1), cmplx.Abs(b[j]))
			d, _ := f.Value(fmt.Sprintf("angle_b_l%d", j+1))
			if want := cmplx.Phase(b[j]) * 180 / math.Pi; !(math.Abs(math.Remainder(d.Value-want, 360)) <= d.U) {
				r.Errorf("angle of conductor %d is %.5g ± %.2g, true %.5g", j+1, d.Value, d.U, want)
			}
		}
	})
}

// In phase each cell says what to expect: nothing to its own conductor, and to the
// others the line-to-line volts, as read once they were.
func TestCrossVolts_expects(t *testing.T) {
	in := crossBase(t)
	lines := map[string]float64{"x12": 420.0, "x21": 420.0, "x23": 420.1, "x32": 420.1, "x13": 419.9, "x31": 419.9}
	seen := 0
	for _, f := range in.Form() {
		if u, ok := lines[f.Key]; ok {
			seen++
			if f.Expect == nil || f.Expect.Value != u || f.Expect.Low != u-20 || f.Expect.High != u+20 {
				t.Errorf("%s expects %+v, want %v ± 20 V", f.Key, f.Expect, u)
			}
		}
		if slices.Contains([]string{"x11", "x22", "x33"}, f.Key) {
			seen++
			if f.Expect == nil || f.Expect.Value != 0 || f.Expect.High != 20 {
				t.Errorf("%s expects %+v, want 0 to 20 V", f.Key, f.Expect)
			}
		}
	}
	if seen != 9 {
		t.Errorf("%d cells, want 9", seen)
	}
	in.Answers = checks.Answers{}
	if f, _ := checks.FieldNamed(in.Form(), "x12"); f.Expect == nil || f.Expect.Value != 400 {
		t.Errorf("before A is read x12 expects %+v, want nominal 400 V", f.Expect)
	}
}

func TestPredictCrossVolts(t *testing.T) {
	in := crossBase(t)
	said := predictions(in.Plan, in.Check)
	// 2·V·sin(δ/2) at 400 V (printed figures): 119.5, 326.6 and 446.1 V for 30°.
	for _, want := range []string{"0 V expected, at most 20 V", "119.5", "326.6", "446.1"} {
		if !strings.Contains(said, want) {
			t.Errorf("predictions do not say %q:\n%s", want, said)
		}
	}
}
