package checks

import (
	"math"
	"testing"

	"handback/checks/power"
	"pgregory.net/rapid"
)

// The computation in the working and that of package power are the same quantity.
func TestUnbalance_agreesWithPower(t *testing.T) {
	volts := rapid.Float64Range(10, 500)
	rapid.Check(t, func(r *rapid.T) {
		ll := [3]float64{volts.Draw(r, "l1l2"), volts.Draw(r, "l2l3"), volts.Draw(r, "l3l1")}
		keys := map[string]float64{"l1l2": ll[0], "l2l3": ll[1], "l3l1": ll[2]}
		leaf := func(k string) *Expr { return &Expr{op: opReading, key: k} }
		u := []*Expr{leaf("l1l2"), leaf("l2l3"), leaf("l3l1")}
		at := func(k string) float64 { return keys[k] }

		want, err := power.GreatestDeviation(ll)
		if err != nil {
			r.Fatal(err)
		}
		if got := greatestDeviation(u).eval(at); !(math.Abs(got-100*want) <= 1e-9) {
			r.Errorf("greatest deviation of %v is %v, power gives %v", ll, got, 100*want)
		}
		if want, err = power.Unbalance(ll); err != nil {
			r.Skip("no triangle")
		}
		// Half the digits are lost where u2 nears 1.
		if got := negativeShare(u).eval(at); !(math.Abs(got-100*want) <= 1e-5) {
			r.Errorf("u2 of %v is %v, power gives %v", ll, got, 100*want)
		}
	})
}

// The formula of IEC 61000-4-30 worked out with 60 digits (Python's decimal): as it
// stands it loses most digits of so small an unbalance in float64.
func TestUnbalance_nearZero(t *testing.T) {
	for _, c := range []struct {
		volts [3]float64
		want  float64
	}{
		{[3]float64{400, 400.001, 400}, 0.000166666597222453703},
		{[3]float64{400.0001, 400.0002, 400}, 0.0000288675062426060056},
		{[3]float64{430.1, 430.1, 430.1}, 0},
	} {
		u, at := make([]*Expr, 3), map[string]float64{}
		for i, k := range lineKeys {
			u[i], at[k] = &Expr{op: opReading, key: k}, c.volts[i]
		}
		if got := negativeShare(u).eval(func(k string) float64 { return at[k] }); !(math.Abs(got-c.want) <= 1e-8*c.want) {
			t.Errorf("u2 of %v is %v, want %v", c.volts, got, c.want)
		}
	}
}
