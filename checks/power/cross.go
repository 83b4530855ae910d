package power

import (
	"fmt"
	"math/cmplx"
)

// CrossVolts are the volts read on two three-phase systems across the device that is open between them.
type CrossVolts struct {
	LineA  [3]float64    // between the conductors of A: L1-L2, L2-L3, L3-L1
	Across [3][3]float64 // Across[i][j] from conductor i of A to conductor j of B
	PhaseA [3]float64    // A to its neutral; all zero when not read
	PhaseB [3]float64    // B to its neutral; all zero when not read
}

// CrossFit is where the volts put the conductors, as phasors.
type CrossFit struct {
	A, B     [3]complex128 // conductors, V, from A's neutral; A's positive sequence at 0°
	Misfit   [3]float64    // r.m.s. misfit of the three volts to each conductor of B, V
	CentreA  complex128    // centroid of A, V; 0 when A's volts to neutral were not read
	NeutralB complex128    // where B's volts to neutral put its neutral, V; the centroid of B when not read or not found
	MisfitB  float64       // r.m.s. misfit of those, V; 0 when not read or not found
}

// PlaceCross finds both systems as points of one plane, with no assumption of balance on either side:
//
//	A     from the three volts between its conductors (Triangle), moved to its neutral when the volts to it were read (Neutral), else to its centroid
//	B_j   the point whose distances to A_1, A_2, A_3 best match Across[1..3][j] (Neutral)
//
// A is taken to have the sequence L1-L2-L3; whatever else B does is seen against it. All volts V, ≥ 0. ErrVolts and
// ErrTriangle as for Triangle, ErrFlat when A's conductors lie on one line (a point and its mirror image then fit alike),
// ErrConverge as for Neutral.
func PlaceCross(v CrossVolts) (CrossFit, error) { return new(CrossPlacer).Place(v) }

// CrossPlacer places systems one after the other, as PlaceCross does, of which a few volts differ: a conductor is sought anew only where its own
// volts or those of A are others.
type CrossPlacer struct{ found map[crossPoint]pointFound }

type crossPoint struct {
	a  [3]complex128
	to [3]float64
}

type pointFound struct {
	at     complex128
	misfit float64
	err    error
}

// point is Neutral.
func (p *CrossPlacer) point(a [3]complex128, to [3]float64) (complex128, float64, error) {
	key := crossPoint{a, to}
	f, ok := p.found[key]
	if !ok {
		f.at, f.misfit, f.err = Neutral(a, to)
		if p.found == nil {
			p.found = map[crossPoint]pointFound{}
		}
		p.found[key] = f
	}
	return f.at, f.misfit, f.err
}

// Sought is how many points were sought so far.
func (p *CrossPlacer) Sought() int { return len(p.found) }

// Place is PlaceCross.
func (p *CrossPlacer) Place(v CrossVolts) (CrossFit, error) {
	f, err := placeA(v, p.point)
	if err != nil {
		return CrossFit{}, err
	}
	for j := range f.B {
		if f.B[j], f.Misfit[j], err = p.point(f.A, v.to(j)); err != nil {
			return CrossFit{}, fmt.Errorf("conductor %d of side B: %w", j+1, err)
		}
	}
	f.NeutralB = f.CentreB()
	if v.PhaseB != [3]float64{} {
		if n, misfit, err := p.point(f.B, v.PhaseB); err == nil { // else B is flat: a dead conductor or two at one point
			f.NeutralB, f.MisfitB = n, misfit
		}
	}
	return f, nil
}

// placeA is the part of PlaceCross that places side A; find is Neutral.
func placeA(v CrossVolts, find func([3]complex128, [3]float64) (complex128, float64, error)) (f CrossFit, err error) {
	if f.A, err = Triangle(v.LineA); err != nil {
		return CrossFit{}, fmt.Errorf("side A: %w", err)
	}
	if v.PhaseA != [3]float64{} {
		n, _, err := find(f.A, v.PhaseA)
		if err != nil {
			return CrossFit{}, fmt.Errorf("neutral of side A: %w", err)
		}
		f.CentreA = -n
		for i := range f.A {
			f.A[i] -= n
		}
	}
	return f, nil
}

// to are the volts to conductor j of B.
func (v CrossVolts) to(j int) [3]float64 {
	return [3]float64{v.Across[0][j], v.Across[1][j], v.Across[2][j]}
}

// CentreB is the centroid of B's conductors, V from A's neutral: how far the star point of B stands from A's neutral.
func (f CrossFit) CentreB() complex128 { return (f.B[0] + f.B[1] + f.B[2]) / 3 }

// PhaseVoltsA is the mean distance of A's conductors from their centroid, V.
func (f CrossFit) PhaseVoltsA() float64 {
	s := 0.0
	for _, a := range f.A {
		s += cmplx.Abs(a - f.CentreA)
	}
	return s / 3
}

// Turn is the angle by which B, its conductors taken for those of A that perm names, is turned from A, in degrees, positive when
// B leads:
//
//	Turn = arg Σ (B_j − B̄)·conj(A_perm(j) − Ā)
//
// the rotation that brings the two nearest to one another by least squares; bars are the centroids. With perm 0, 1, 2 and systems
// without negative sequence it is the angle between the positive sequences. The amplitude of the sum, over the same sum of A with
// itself, is fit: near 1 where perm has the sequence right, near 0 where it does not.
func (f CrossFit) Turn(perm [3]int) (deg, fit float64) {
	return f.turnAbout(f.CentreB(), perm, [3]bool{true, true, true})
}

// turnAbout is Turn with B seen from a point, over the live conductors alone.
func (f CrossFit) turnAbout(from complex128, perm [3]int, live [3]bool) (deg, fit float64) {
	var sum complex128
	own := 0.0
	for j, i := range perm {
		if live[j] {
			a := f.A[i] - f.CentreA
			sum += (f.B[j] - from) * cmplx.Conj(a)
			own += real(a * cmplx.Conj(a))
		}
	}
	return Degrees(sum), cmplx.Abs(sum) / own
}
