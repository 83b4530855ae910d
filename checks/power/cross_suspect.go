package power

import (
	"fmt"
	"math"
	"math/cmplx"
)

// CrossSuspect is one reading which, were it wrong alone, would explain why the volts contradict one another.
type CrossSuspect struct {
	A, B      int     // conductors of A and B it was read between; with B = −1 the volts of A from conductor A to the next
	Predicted float64 // what the rest predicts for it, V
	Mirror    float64 // as well predicted, V, where the conductor's mirror image agrees with the rest too; else NaN
}

// agreeing is how many times tol a conductor may stand from where the rest of B would have it: with tol 0.6 % of the line volts it leaves
// room for 1 % of negative sequence, which moves the third corner by 1.7 % of them, and for circles that only graze one another.
const agreeing = 5

func errTolerance(tol float64) error {
	return fmt.Errorf("%w: tolerance %g V, want a finite number above zero", ErrVolts, tol)
}

// mend puts what the rest predicts in place of the suspect reading.
func (s CrossSuspect) mend(v CrossVolts) CrossVolts {
	if s.B < 0 {
		v.LineA[s.A] = s.Predicted
	} else {
		v.Across[s.A][s.B] = s.Predicted
	}
	return v
}

// suspects drops readings in turn and lists those without which the rest agrees.
//
// The volts to one conductor of B are three for two unknowns: without any one of them the other two always meet, in two points. So the rest of
// B decides: a point counts when it stands within 5·tol of where the other conductors of B would have it, and, where B's volts to
// neutral were read, when these then meet in one point within tol. When no reading across explains it, or several conductors of B are off, the volts of A are
// tried: one of them, changed alone, must bring every conductor of B within tol.
func (c *CrossFinding) suspects(v CrossVolts, tol float64) []CrossSuspect {
	var found []CrossSuspect
	if c.inconsistent(tol) == 1 {
		for j, m := range c.Fit.Misfit {
			if c.State[j] == CrossFloating || m <= tol {
				continue
			}
			for i := range 3 {
				if p, q, ok := c.without(v, i, j, tol); ok {
					found = append(found, CrossSuspect{A: i, B: j, Predicted: cmplx.Abs(p - c.Fit.A[i]), Mirror: cmplx.Abs(q - c.Fit.A[i])})
				}
			}
		}
	}
	if len(found) > 0 {
		return found
	}
	for k := range 3 {
		if volts, ok := c.lineWithout(v, k, tol); ok {
			found = append(found, CrossSuspect{A: k, B: -1, Predicted: volts, Mirror: math.NaN()})
		}
	}
	return found
}

// without finds conductor j of B from its volts to the other two conductors of A, and tells whether the rest of B agrees. With mirror
// the rest agrees with either of the two points those volts allow, well apart from one another; it is NaN when not.
func (c *CrossFinding) without(v CrossVolts, i, j int, tol float64) (point, mirror complex128, ok bool) {
	k, l := (i+1)%3, (i+2)%3
	points, ok := meet(c.Fit.A[k], c.Fit.A[l], v.Across[k][j], v.Across[l][j], 2*tol)
	if !ok {
		return 0, 0, false
	}
	var miss [2]float64
	for n, p := range points {
		miss[n] = c.stray(p, j)
		if !c.meetsNeutral(v, p, j, tol) {
			miss[n] = math.Inf(1)
		}
	}
	if miss[1] < miss[0] {
		points[0], points[1], miss[0], miss[1] = points[1], points[0], miss[1], miss[0]
	}
	mirror = cmplx.NaN()
	if miss[1] <= agreeing*tol && cmplx.Abs(points[0]-points[1]) > 3*agreeing*tol {
		mirror = points[1]
	}
	return points[0], mirror, miss[0] <= agreeing*tol
}

// stray is how far a point for conductor j stands from the nearest place the rest of B would have it: the third corner of an even triangle on the
// other two, on either side; at A's neutral, when it is dead; and 120° to either side of the one live conductor, when another is dead.
func (c *CrossFinding) stray(p complex128, j int) float64 {
	x, y := c.Fit.B[(j+1)%3], c.Fit.B[(j+2)%3]
	places := [8]complex128{-rot*x - rot2*y, -rot2*x - rot*y}
	n := 3 // places[2] is A's neutral
	near := deadNear * c.Fit.PhaseVoltsA()
	if cmplx.Abs(x) < near {
		places[n], places[n+1] = rot*y, rot2*y
		n += 2
	}
	if cmplx.Abs(y) < near {
		places[n], places[n+1] = rot*x, rot2*x
		n += 2
	}
	miss := math.Inf(1)
	for _, q := range places[:n] {
		miss = math.Min(miss, cmplx.Abs(p-q))
	}
	return miss
}

// meetsNeutral tells whether B's volts to neutral meet in one point with conductor j at p; true when they were not read or B would be flat.
func (c *CrossFinding) meetsNeutral(v CrossVolts, p complex128, j int, tol float64) bool {
	if v.PhaseB == [3]float64{} {
		return true
	}
	b := c.Fit.B
	b[j] = p
	_, misfit, err := Neutral(b, v.PhaseB)
	return err != nil || misfit <= tol
}

// meet returns the two points at distance r from a and s from b; where the circles miss one another by no more than slack, the point between them, twice.
func meet(a, b complex128, r, s, slack float64) ([2]complex128, bool) {
	d := cmplx.Abs(b - a)
	if !isPositive(d) || !(d <= r+s+slack) || !(math.Abs(r-s) <= d+slack) {
		return [2]complex128{}, false
	}
	along := (d + (r-s)*(r+s)/d) / 2
	up := math.Sqrt(math.Max((r-along)*(r+along), 0))
	e := (b - a) / complex(d, 0)
	return [2]complex128{a + e*complex(along, up), a + e*complex(along, -up)}, true
}

// lineWithout finds the volts of A from conductor k to the next that bring every conductor of B nearest to one point.
func (c *CrossFinding) lineWithout(v CrossVolts, k int, tol float64) (float64, bool) {
	x, y := v.LineA[(k+1)%3], v.LineA[(k+2)%3]
	low, high := math.Abs(x-y), x+y
	// What is no less than enough is not worked out to its end.
	cost := func(volts, enough float64) float64 {
		v.LineA[k] = volts
		a, err := placeA(v, Neutral)
		if err != nil {
			return math.Inf(1)
		}
		worst := 0.0
		for j := range 3 {
			_, m, err := Neutral(a.A, v.to(j))
			if err != nil {
				return math.Inf(1)
			}
			if c.State[j] != CrossFloating {
				worst = math.Max(worst, m)
			}
			if worst >= enough {
				break
			}
		}
		return worst
	}
	const steps = 100 // then the valley is closed in on
	best, least := 0.0, math.Inf(1)
	for i := 1; i < steps; i++ {
		volts := low + (high-low)*float64(i)/steps
		if w := cost(volts, least); w < least {
			best, least = volts, w
		}
	}
	step := (high - low) / steps
	best, least = valley(func(volts float64) float64 { return cost(volts, math.Inf(1)) }, best-step, best+step)
	return best, least <= tol
}

// valley closes in on the least value of f between low and high by golden sections.
func valley(f func(float64) float64, low, high float64) (at, least float64) {
	const section = 0.6180339887498949
	a, b := high-section*(high-low), low+section*(high-low)
	fa, fb := f(a), f(b)
	for range 40 {
		if fa < fb {
			high, b, fb = b, a, fa
			a = high - section*(high-low)
			fa = f(a)
		} else {
			low, a, fa = a, b, fb
			b = low + section*(high-low)
			fb = f(b)
		}
	}
	return (low + high) / 2, math.Min(fa, fb)
}
