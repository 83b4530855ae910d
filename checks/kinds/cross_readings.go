package kinds

import (
	"fmt"
	"math"
	"math/cmplx"
	"slices"

	"handback/checks"
	"handback/checks/calc"
	"handback/checks/plan"
	"handback/checks/power"
)

// crossKey is the field of the volts from conductor i of A to conductor j of B.
func crossKey(i, j int) string { return fmt.Sprintf("x%d%d", i+1, j+1) }

// pairOf is the place in lineKeys of the volts between conductors i and j.
func pairOf(i, j int) int {
	if j == (i+1)%3 {
		return i
	}
	return j
}

// crossReadings are the volts of a cross-volts check; ok is false when a needed one is missing.
func crossReadings(in checks.Input) (v power.CrossVolts, ok bool) {
	if v.LineA, ok = three(in, "a_", lineKeys); !ok {
		return v, false
	}
	for i := range 3 {
		if v.Across[i], ok = three(in, "", [3]string{crossKey(i, 0), crossKey(i, 1), crossKey(i, 2)}); !ok {
			return v, false
		}
	}
	if n, ok := three(in, "a_", phaseKeys); ok {
		v.PhaseA = n
	}
	if n, ok := three(in, "b_", phaseKeys); ok {
		v.PhaseB = n
	}
	return v, true
}

// crossTolerance is how far the volts to one conductor may miss a common point, V.
func crossTolerance(v power.CrossVolts) float64 {
	return neutralResidual * (v.LineA[0] + v.LineA[1] + v.LineA[2]) / 3
}

// crossFound is what the volts show.
type crossFound struct {
	power.CrossFinding
	err error
}

func findCross(in checks.Input, v power.CrossVolts) crossFound {
	return checks.Once(in, v, func(v power.CrossVolts) crossFound {
		found, err := power.JudgeCross(v, crossTolerance(v))
		return crossFound{found, err}
	})
}

// crossLeaves are the readings of a cross-volts check as leaves of a computation:
// three of A, nine across row by row, then what was read of A and of B to neutral.
type crossLeaves struct {
	leaves           []*calc.Expr
	phaseA, phaseB   bool
	drawn, aboutWhat string // how, in words
	places           *power.CrossPlacer
	fits             map[power.CrossVolts]crossPlaced // shared by all values that are worked out of them
}

type crossPlaced struct {
	power.CrossFit
	err error
}

// crossExprs gathers the leaves; read gives one by key, nil when it was not read.
func crossExprs(read func(key string) *calc.Expr, from string) crossLeaves {
	l := crossLeaves{places: &power.CrossPlacer{}, fits: map[power.CrossVolts]crossPlaced{}}
	for _, k := range lineKeys {
		l.leaves = append(l.leaves, read("a_"+k))
	}
	for i := range 3 {
		for j := range 3 {
			l.leaves = append(l.leaves, read(crossKey(i, j)))
		}
	}
	three := func(prefix string) bool {
		var more []*calc.Expr
		for _, k := range phaseKeys {
			more = append(more, read(prefix+k))
		}
		if slices.Contains(more, nil) {
			return false
		}
		l.leaves = append(l.leaves, more...)
		return true
	}
	l.phaseA, l.phaseB = three("a_"), three("b_")
	l.drawn = "A a triangle, each conductor of B the point nearest to its three volts" + from
	l.aboutWhat = "A's centroid"
	if l.phaseA {
		l.aboutWhat = "A's neutral"
	}
	return l
}

// volts puts values in the order of the leaves back in their places.
func (l crossLeaves) volts(x []float64) power.CrossVolts {
	v := power.CrossVolts{LineA: [3]float64(x[:3])}
	for i := range 3 {
		v.Across[i] = [3]float64(x[3+3*i : 6+3*i])
	}
	rest := x[12:]
	if l.phaseA {
		v.PhaseA, rest = [3]float64(rest), rest[3:]
	}
	if l.phaseB {
		v.PhaseB = [3]float64(rest)
	}
	return v
}

// solve works a value out of the two systems as drawn. Volts to B's neutral are read
// only where withB says that the value hangs on them.
func (l crossLeaves) solve(how string, withB bool, fn func(power.CrossFit) float64) *calc.Expr {
	if l.phaseB && !withB {
		l.phaseB, l.leaves = false, l.leaves[:len(l.leaves)-3]
	}
	return calc.Solve(l.drawn+"; "+how, func(x []float64) float64 {
		f := l.place(l.volts(x))
		if f.err != nil {
			return math.NaN()
		}
		return fn(f.CrossFit)
	}, l.leaves...)
}

func (l crossLeaves) place(v power.CrossVolts) crossPlaced {
	f, ok := l.fits[v]
	if !ok {
		f.CrossFit, f.err = l.places.Place(v)
		l.fits[v] = f
	}
	return f
}

// displacement is the angle by which B leads A with the mapping given.
func (l crossLeaves) displacement(perm [3]int, near float64) *calc.Expr {
	return l.solve("displacement = arg Σ (B − B̄)·conj(A − Ā) over the three pairs", false, func(f power.CrossFit) float64 {
		deg, _ := f.Turn(perm)
		return unwrapped(deg, near)
	})
}

// apart is how far conductor j of B stands from its own of A, both about their centroids.
func (l crossLeaves) apart(j int) *calc.Expr {
	return l.solve("both about their centroids, each at its own angle", false, func(f power.CrossFit) float64 {
		return cmplx.Abs((f.B[j] - f.CentreB()) - (f.A[j] - f.CentreA))
	})
}

// unwrapped is an angle in degrees on the turn nearest to near, so that 179° and
// −179° are two apart where an uncertainty is worked out.
func unwrapped(deg, near float64) float64 { return near + math.Remainder(deg-near, 360) }

// crossPast gives the readings of an earlier cross-volts check to work with. It says
// why not, with what that check came to, where it did not pass: then nothing shows
// which conductors belong together.
func crossPast(w *checks.Work, id string) (crossLeaves, bool) {
	c, past := w.Plan.Check(id), w.Came(id)
	if past.Answers == nil {
		w.Say(checks.Missing, "", "angle-not-taken", checks.Word("check", id), checks.Word("title", c.Title))
		return crossLeaves{}, false
	}
	if past.Finding.Verdict != checks.Pass {
		w.Say(checks.Worst(past.Finding.Verdict, checks.Inconclusive), "", "angle-not-passed", checks.Word("check", id), checks.Word("title", c.Title), checks.Word("verdict", past.Finding.Verdict.String()),
			checks.Inner("why", past.Finding.Why().Of(c.Kind.Name)))
		return crossLeaves{}, false
	}
	return crossExprs(func(key string) *calc.Expr {
		leaf, _ := w.Past(id, key)
		return leaf
	}, fmt.Sprintf(" (the nine volts of check %s, read %s)", id, checks.Clock(past.At))), true
}

// needCross demands that the cross-volts check id has its sides the way round a and b are.
func needCross(p *plan.Plan, id, a, b string, say plan.Say) {
	if d := p.Check(id); d != nil && d.Kind.Name == "cross-volts" && a != "" && b != "" {
		if g := d.Given.(*crossVolts); g.A == b || g.B == a {
			say("cross_from", "side_a of check %s is %s and side_b %s, here a is %s and b is %s: the angle would have the wrong sign", id, g.A, g.B, a, b)
		}
	}
}
