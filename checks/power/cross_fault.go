package power

import (
	"math"
	"math/cmplx"
)

// CrossFault is what stands between two systems and closing them on one another. The zero value is that it cannot be told.
type CrossFault int

const (
	CrossAmbiguous    CrossFault = iota // the volts fit no one answer
	CrossInPhase                        // each conductor of B stands nearest its own of A
	CrossSwapped                        // two conductors of B stand in one another's place: reversed sequence
	CrossRolled                         // all three stand one or two places on
	CrossDisplaced                      // turned by an angle nearer to a clock hour than to none
	CrossUneven                         // in step and neutrals tied, but some conductors of B stand nearer to the neutral than others
	CrossOffset                         // in step, but the neutral of B stands away from A's: neutrals not tied
	CrossDead                           // at least one conductor of B is not live
	CrossInconsistent                   // the readings contradict one another
)

// CrossState is what a conductor of B is.
type CrossState int

const (
	CrossLive      CrossState = iota
	CrossAtNeutral            // dead: it stands at A's neutral, or earth
	CrossFloating             // dead and connected to nothing: no one point is so near to all three of A
)

// CrossFinding is the fault named, with what it rests on.
type CrossFinding struct {
	Fault    CrossFault
	Fit      CrossFit
	State    [3]CrossState // of each conductor of B
	Mapped   bool          // Perm and what follows from it are known
	Perm     [3]int        // the conductor of A that each of B stands for: 0, 1, 2; of a dead one the one left over
	Turn     float64       // displacement left after Perm, degrees, −60 to 60, positive when B leads
	Other    [3]int        // the mapping of the same sequence that is next nearest
	OtherDeg float64       // displacement left after Other, degrees
	Reversed bool          // B has the other phase sequence
	Places   int           // how many places B is rolled on, 0 when reversed
	Pair     [2]int        // the two conductors of B that are crossed, when reversed
	Clock    int           // whole clock hours of 30° in Turn, −2 to 2
	Total    float64       // displacement with every conductor taken for its own, degrees, (−180, 180]; not when reversed
	Offset   float64       // volts from A's neutral to the centroid of B; NaN unless all of B is live
	Suspects []CrossSuspect
}

// Shares that tell the faults apart; common sense of the geometry, no published values.
const (
	deadNear   = 0.2  // of A's phase volts: nearer than that to A's neutral a conductor is dead
	floatNear  = 0.05 // of A's phase volts: so much nearer to all three of A than any point can be
	evenShape  = 0.25 // lesser over greater of positive and negative sequence of a system that has all three conductors; one dead gives 0.5
	leastFit   = 0.2  // amplitude of B over A below which B is not live
	otherSense = 0.75 // fit of the other sequence over the fit of this one; two of three conductors give 0.5
)

// OffsetShare is the share of A's phase volts within which a tied neutral of B stands from A's: what zero sequence and
// reading errors leave, and well below an untied one (our choice).
const OffsetShare = 0.03

// evenPerms and oddPerms are the mappings that keep and that reverse the phase sequence.
var (
	evenPerms = [3][3]int{{0, 1, 2}, {1, 2, 0}, {2, 0, 1}}
	oddPerms  = [3][3]int{{0, 2, 1}, {2, 1, 0}, {1, 0, 2}}
)

// JudgeCross names what the volts across an open device show.
//
//	tol   how far the volts to one conductor of B may miss a common point, r.m.s., V, > 0: what digits and drift of the supply leave
//
// First a reading that contradicts the others is sought (Suspects); when exactly one explains it, the rest is judged with the one value it
// predicts. Then dead conductors, then the mapping: of the six, those of the sequence that fits, and of these the one that leaves
// the least angle. At ±60° two are equally near; Other and OtherDeg give the second. What is left is counted in clock hours of 30°, to the
// nearest. Then the neutral: further than 3 % of A's phase volts from A's is taken as not tied, unless unlike lengths of B's conductors explain
// it. ErrVolts for a tol out of domain; other
// errors as for PlaceCross.
func JudgeCross(v CrossVolts, tol float64) (CrossFinding, error) {
	fit, err := PlaceCross(v)
	if err != nil {
		return CrossFinding{}, err
	}
	if !isPositive(tol) {
		return CrossFinding{}, errTolerance(tol)
	}
	c := CrossFinding{Fit: fit, Offset: math.NaN()}
	c.floating(v, tol)
	broken := c.inconsistent(tol)
	if broken > 0 {
		c.Suspects = c.suspects(v, tol)
		if len(c.Suspects) == 1 && math.IsNaN(c.Suspects[0].Mirror) {
			mended, err := PlaceCross(c.Suspects[0].mend(v))
			if err == nil {
				c.Fit = mended
				broken = 0
			}
		}
	}
	if broken == 0 {
		c.name()
	}
	if len(c.Suspects) > 0 || broken > 0 {
		c.Fault = CrossInconsistent
	}
	return c, nil
}

// floating marks the conductors of B whose three volts are smaller than any point can have.
//
// The point that has the least greatest distance to the corners of a triangle is the centre of its circumscribed circle, or the middle of
// the longest side where the triangle is obtuse.
func (c *CrossFinding) floating(v CrossVolts, tol float64) {
	least := leastReach(v.LineA)
	for j := range c.State {
		reach := math.Max(v.Across[0][j], math.Max(v.Across[1][j], v.Across[2][j]))
		if reach < least-math.Max(floatNear*least, 3*tol) {
			c.State[j] = CrossFloating
		}
	}
}

// leastReach is the radius of the smallest circle that holds a triangle of these sides.
func leastReach(ll [3]float64) float64 {
	x, y, z := ll[0], ll[1], ll[2]
	longest := math.Max(x, math.Max(y, z))
	if x*x+y*y+z*z <= 2*longest*longest {
		return longest / 2
	}
	return x * y * z / math.Sqrt((x+y+z)*(x+y-z)*(x-y+z)*(y+z-x))
}

// inconsistent counts the conductors of B that the volts put at no one point.
func (c *CrossFinding) inconsistent(tol float64) int {
	n := 0
	for j, m := range c.Fit.Misfit {
		if c.State[j] != CrossFloating && !(m <= tol) {
			n++
		}
	}
	return n
}

// name finds dead conductors, mapping, displacement and offset.
func (c *CrossFinding) name() {
	f := c.Fit
	live := c.dead()
	n := 0
	for _, ok := range live {
		if ok {
			n++
		}
	}
	if n < 3 {
		c.Fault = CrossDead
	}
	if n < 2 {
		return
	}
	from := complex(0, 0) // without all three the star point is not known: A's neutral stands for it
	if n == 3 {
		from = f.CentreB()
		if c.Fault == CrossAmbiguous && !c.even() {
			return
		}
		c.Offset = cmplx.Abs(from)
	}
	c.mapping(from, live)
	if !c.Mapped || n < 3 {
		return
	}
	switch {
	case c.Reversed:
		c.Fault = CrossSwapped
	case c.Clock != 0:
		c.Fault = CrossDisplaced
	case c.Places != 0:
		c.Fault = CrossRolled
	case c.Offset > OffsetShare*f.PhaseVoltsA() && c.radial():
		c.Fault = CrossUneven
	case c.Offset > OffsetShare*f.PhaseVoltsA():
		c.Fault = CrossOffset
	default:
		c.Fault = CrossInPhase
	}
}

// alongRays is how far, of the offset, conductors may stand off their own rays for their lengths alone to explain it. A star point that
// moves as a whole carries one conductor at least 0.866 of its way off its ray (our choice between 0 and that).
const alongRays = 0.3

// radial tells whether each conductor of B stands on the ray of its own of A from A's neutral, so that unlike lengths and not another
// neutral put B's centroid aside. The turn that is left is taken back first; the mapping is each to its own.
func (c *CrossFinding) radial() bool {
	back := Polar(1, -c.Turn)
	for j, b := range c.Fit.B {
		a := c.Fit.A[j]
		if !(math.Abs(imag(b*back*cmplx.Conj(a)))/cmplx.Abs(a) <= alongRays*c.Offset) {
			return false
		}
	}
	return true
}

// even tells whether B has the shape of a three-phase system.
func (c *CrossFinding) even() bool {
	_, pos, neg := Sequence(c.Fit.B)
	p, n := cmplx.Abs(pos), cmplx.Abs(neg)
	return math.Max(p, n) >= leastFit*c.Fit.PhaseVoltsA() && math.Min(p, n) <= evenShape*math.Max(p, n)
}

// dead marks the conductors that stand at A's neutral, and returns which are live. A conductor there is live all the same where the three
// together have the shape of a three-phase system: one corner of a system without a tied neutral may come to stand anywhere.
func (c *CrossFinding) dead() [3]bool {
	whole := c.State == [3]CrossState{} && c.even()
	var live [3]bool
	for j := range live {
		if !whole && c.State[j] == CrossLive && cmplx.Abs(c.Fit.B[j]) < deadNear*c.Fit.PhaseVoltsA() {
			c.State[j] = CrossAtNeutral
		}
		live[j] = c.State[j] == CrossLive
	}
	return live
}

// mapping finds which conductor of A each of B stands for.
func (c *CrossFinding) mapping(from complex128, live [3]bool) {
	_, even := c.Fit.turnAbout(from, evenPerms[0], live)
	_, odd := c.Fit.turnAbout(from, oddPerms[0], live)
	if !(math.Max(even, odd) >= leastFit) || math.Min(even, odd) > otherSense*math.Max(even, odd) {
		return
	}
	c.Mapped, c.Reversed = true, odd > even
	perms := evenPerms
	if c.Reversed {
		perms = oddPerms
	}
	c.Turn, c.OtherDeg = math.Inf(1), math.Inf(1)
	for n, p := range perms {
		deg, _ := c.Fit.turnAbout(from, p, live)
		switch {
		case math.Abs(deg) < math.Abs(c.Turn):
			c.Other, c.OtherDeg = c.Perm, c.Turn
			c.Perm, c.Turn = p, deg
			if !c.Reversed {
				c.Places = n
			}
		case math.Abs(deg) < math.Abs(c.OtherDeg):
			c.Other, c.OtherDeg = p, deg
		}
	}
	c.Clock = int(math.Round(c.Turn / 30))
	if !c.Reversed {
		c.Total, _ = c.Fit.turnAbout(from, evenPerms[0], live)
		return
	}
	k := 0
	for j, i := range c.Perm {
		if i != j {
			c.Pair[k] = j
			k++
		}
	}
}
