package checks

import (
	"math"
	"testing"

	"handback/checks/power"
	"pgregory.net/rapid"
)

// The formula of the standard as written in the working, and the form of it that
// package power evaluates without cancellation, must be the same quantity.
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
		// The literal form loses half the digits where u2 nears 0 or 1.
		if got := negativeShare(u).eval(at); !(math.Abs(got-100*want) <= 1e-5) {
			r.Errorf("u2 of %v is %v, power gives %v", ll, got, 100*want)
		}
	})
}
