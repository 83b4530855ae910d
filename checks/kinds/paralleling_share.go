package kinds

import (
	"math"
	"math/cmplx"

	"handback/checks"
	"handback/checks/calc"
	"handback/checks/plan"
	"handback/checks/power"
)

// share gives the current of each feed when the bar they share is loaded:
//
//	V = (Σ E_i/Z_i − I) / Σ 1/Z_i      I_i = (E_i − V)/Z_i
//
//	amps   load current I, A, ≥ 0, constant
//	pf     its power factor, lagging, 0 to 1, against the bar's volts V as a meter shows it
//
// The error is that of power.SolveFactor.
func share(feeds []feed, amps, pf float64) ([]complex128, error) {
	bar, err := barOf(feeds)
	if err != nil {
		return nil, err
	}
	_, currents, err := bar.SolveFactor(amps, pf)
	return currents, err
}

// barOf is the bar that the feeds share.
func barOf(feeds []feed) (*power.Bar, error) {
	sources := make([]power.Source, len(feeds))
	for i, f := range feeds {
		sources[i] = f.source
	}
	return power.NewBar(sources)
}

// currentOf is the current of one of the feeds as solve finds it for a current and a
// power factor, as a computation: its uncertainty holds that of the current, of the power
// factor and of every impedance within its tolerance. how says in words what it is worked
// out from.
//
// A value that is held against a prediction with a wide berth takes it exactly: half of
// the predicted share is asked because plates may be off. One that is held against what
// a transformer can carry does not.
func currentOf(how string, feeds []feed, at int, amps, pf *calc.Expr) *calc.Expr {
	return currentsOf(how, feeds, amps, pf, share)[at]
}

// currentsOf are those of all feeds, of one solution.
func currentsOf(how string, feeds []feed, amps, pf *calc.Expr, solve func([]feed, float64, float64) ([]complex128, error)) []*calc.Expr {
	args := []*calc.Expr{amps, pf}
	for _, f := range feeds {
		args = append(args, plateImpedance(f.t))
	}
	currents := calc.Once(func(x []float64) []complex128 {
		moved := make([]feed, len(feeds))
		for i, f := range feeds {
			var err error
			if moved[i], err = f.of(x[2+i]); err != nil {
				return nil
			}
		}
		found, err := solve(moved, x[0], x[1])
		if err != nil {
			return nil
		}
		return found
	})
	out := make([]*calc.Expr, len(feeds))
	for at := range feeds {
		out[at] = calc.Solve(how, func(x []float64) float64 {
			found := currents(x)
			if found == nil {
				return math.NaN()
			}
			return cmplx.Abs(found[at])
		}, args...)
	}
	return out
}

// of is the feed with another impedance in per cent.
func (f feed) of(impedance float64) (feed, error) {
	if impedance == float64(f.t.Impedance) {
		return f, nil
	}
	unit := unit(f.t)
	unit.ImpedancePct = impedance
	z, err := unit.Impedance(float64(f.t.LV))
	f.source.Z = z
	return f, err
}

// plateSpread is how far a computation from nameplate data alone may be off.
func plateSpread(e *calc.Expr) float64 {
	w := checks.Work{Input: checks.Input{Plan: &plan.Plan{}}}
	return w.Spread(e)
}

// shareOfSum gives the current of each feed when their readings add up to sum, A. What
// circulates between unlike feeds is in every reading and is no load: the load is
// the one whose parts, with what circulates, have magnitudes of that sum; 0 where
// what circulates alone gives more.
func shareOfSum(feeds []feed, sum, pf float64) ([]complex128, error) {
	bar, err := barOf(feeds)
	if err != nil {
		return nil, err
	}
	low, high := 0.0, sum // the sum of magnitudes is never less than the load
	for range 64 {
		mid := (low + high) / 2
		if mid == low || mid == high {
			break // no number lies between
		}
		_, currents, err := bar.SolveFactor(mid, pf)
		if err != nil {
			return nil, err
		}
		if sumOfMagnitudes(currents) < sum {
			low = mid
		} else {
			high = mid
		}
	}
	_, currents, err := bar.SolveFactor(high, pf)
	return currents, err
}

func sumOfMagnitudes(currents []complex128) float64 {
	sum := 0.0
	for _, i := range currents {
		sum += cmplx.Abs(i)
	}
	return sum
}

// leastCarried is the least load current that feeds can carry whose readings add up
// to sum, A: all that can circulate between them taken off, and their parts of the
// load as far out of step as their impedances make them.
//
//	L = (Σ|I_i| − Σ|c_i|) / Σ|d_i|      I_i = c_i + d_i·L
func leastCarried(feeds []feed, sum float64) (float64, error) {
	idle, err := share(feeds, 0, 1)
	if err != nil {
		return 0, err
	}
	dead := make([]power.Source, len(feeds))
	for i, f := range feeds {
		dead[i] = power.Source{Z: f.source.Z}
	}
	_, parts, err := power.Solve(dead, 1)
	return (sum - sumOfMagnitudes(idle)) / sumOfMagnitudes(parts), err
}
