package power_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"math/cmplx"
	"os"
	"testing"

	"pgregory.net/rapid"

	"handback/checks/power"
)

// crossTolerance is what these tests let three volts to one conductor miss a common point by, V.
const crossTolerance = 2.5

// crossCase is one pair of systems, worked outside this program.
type crossCase struct {
	Kind         string        `json:"kind"`
	PhaseA       [3]float64    `json:"a_ln"`
	LineA        [3]float64    `json:"a_ll"`
	PhaseB       [3]float64    `json:"b_ln"`
	Cross        [3][3]float64 `json:"cross"`
	Perm         [3]int        `json:"perm"`
	Displacement float64       `json:"displacement_deg"`
	Offset       float64       `json:"offset_V"`
	DegB         [3]*float64   `json:"b_deg"`
}

func loadCrossCases(t testing.TB) []crossCase {
	t.Helper()
	raw, err := os.ReadFile("../../testdata/cases/power-cross.json")
	if err != nil {
		t.Fatal(err)
	}
	var c struct {
		Source string
		Cross  []crossCase
	}
	d := json.NewDecoder(bytes.NewReader(raw))
	d.DisallowUnknownFields()
	if err := d.Decode(&c); err != nil {
		t.Fatal(err)
	}
	if c.Source == "" || len(c.Cross) == 0 {
		t.Fatalf("power-cross.json: source %q, %d cases", c.Source, len(c.Cross))
	}
	return c.Cross
}

// wantFaults are our words for the kinds of the case file.
var wantFaults = map[string]power.CrossFault{
	"in phase": power.CrossInPhase, "two swapped": power.CrossSwapped, "rolled": power.CrossRolled, "displaced": power.CrossDisplaced,
	"floating neutral": power.CrossOffset, "one missing": power.CrossDead,
}

func TestCases_cross(t *testing.T) {
	seen := map[string]int{}
	for i, c := range loadCrossCases(t) {
		seen[c.Kind]++
		for _, with := range []string{"line volts alone", "volts to A's neutral too", "volts to both neutrals"} {
			t.Run(fmt.Sprint(i, " ", c.Kind, ", ", with), func(t *testing.T) {
				v := power.CrossVolts{LineA: c.LineA, Across: c.Cross}
				slack := 0.35 // A's centroid against its neutral, V: its phases differ by up to 0.4 %
				if with != "line volts alone" {
					v.PhaseA, slack = c.PhaseA, 0.2
				}
				if with == "volts to both neutrals" {
					v.PhaseB = c.PhaseB
				}
				checkCross(t, c, must[power.CrossFinding](t)(power.JudgeCross(v, crossTolerance)), slack)
			})
		}
	}
	for kind := range wantFaults {
		if seen[kind] == 0 {
			t.Errorf("no case is %s", kind)
		}
	}
}

// checkCross holds a finding to what the case says; slack is how far a point may stand off, V.
func checkCross(t *testing.T, c crossCase, got power.CrossFinding, slack float64) {
	t.Helper()
	if got.Fault != wantFaults[c.Kind] {
		t.Errorf("fault %d, want %d", got.Fault, wantFaults[c.Kind])
	}
	perm, deg := got.Perm, got.Turn
	if math.Abs(math.Abs(deg)-60) < 3 && perm != c.Perm { // two mappings are as near
		perm, deg = got.Other, got.OtherDeg
	}
	if !got.Mapped || perm != c.Perm {
		t.Errorf("mapping %v (known: %v), want %v", perm, got.Mapped, c.Perm)
	}
	within(t, "displacement", deg, c.Displacement, 0.1)
	dead := 0
	for j, want := range c.DegB {
		if want == nil {
			dead++
			if got.State[j] != power.CrossAtNeutral {
				t.Errorf("conductor %d is dead, its state is %d", j+1, got.State[j])
			}
			continue
		}
		if got.State[j] != power.CrossLive {
			t.Errorf("conductor %d is live, its state is %d", j+1, got.State[j])
		}
		withinZ(t, fmt.Sprint("conductor ", j+1), got.Fit.B[j], power.Polar(c.PhaseB[j], *want), slack+0.1)
	}
	if dead == 0 {
		within(t, "offset", got.Offset, c.Offset, slack)
	}
	v := power.CrossVolts{Across: c.Cross}
	for j, m := range got.Fit.Misfit {
		if !(m <= 0.1) {
			t.Errorf("misfit of conductor %d is %g V", j+1, m)
		}
		squares := 0.0
		for i := range 3 {
			squares += math.Pow(cmplx.Abs(got.Fit.A[i]-got.Fit.B[j])-v.Across[i][j], 2)
		}
		within(t, fmt.Sprint("gaps of conductor ", j+1), math.Sqrt(squares/3), m, 1e-9)
	}
}

// pair is a true pair of systems, before it is read.
type pair struct {
	a, b   [3]complex128 // from A's neutral
	perm   [3]int
	deg    float64
	offset complex128
}

// volts are what an ideal meter with the resolution given shows.
func (p pair) volts(step float64) power.CrossVolts {
	read := func(x complex128) float64 { return math.Round(cmplx.Abs(x)/step) * step }
	centre := (p.b[0] + p.b[1] + p.b[2]) / 3
	var v power.CrossVolts
	for i := range 3 {
		v.LineA[i] = read(p.a[i] - p.a[(i+1)%3])
		v.PhaseA[i] = read(p.a[i])
		v.PhaseB[i] = read(p.b[i] - centre)
		for j := range 3 {
			v.Across[i][j] = read(p.a[i] - p.b[j])
		}
	}
	return v
}

var permutations = [][3]int{{0, 1, 2}, {1, 2, 0}, {2, 0, 1}, {0, 2, 1}, {2, 1, 0}, {1, 0, 2}}

// drawPair draws two systems of 100 to 690 V, each with up to 1 % negative and zero sequence, B up to 12 % away in volts.
func drawPair(r *rapid.T, reach float64) pair {
	draw := func(name string, low, high float64) float64 { return rapid.Float64Range(low, high).Draw(r, name) }
	ua := draw("A", 60, 400)
	ub := ua * draw("B over A", 0.88, 1.12)
	p := pair{perm: rapid.SampledFrom(permutations).Draw(r, "perm"), deg: draw("displacement", -reach, reach)}
	p.offset = power.Polar(ua*draw("offset", 0, 0.4), draw("offset angle", -180, 180))
	na, nb := power.Polar(ua*draw("negative A", 0, 0.01), draw("of", -180, 180)), power.Polar(ub*draw("negative B", 0, 0.01), draw("of", -180, 180))
	za := power.Polar(ua*draw("zero A", 0, 0.01), draw("of", -180, 180))
	for i := range 3 {
		turn := power.Polar(1, -120*float64(i))
		p.a[i] = complex(ua, 0)*turn + na*cmplx.Conj(turn) + za
		turn = power.Polar(1, -120*float64(p.perm[i]))
		p.b[i] = (complex(ub, 0)*turn+nb*cmplx.Conj(turn))*power.Polar(1, p.deg) + p.offset
	}
	return p
}

// Any true pair is found again from readings of 0.1 V: mapping, angle, volts and offset.
func TestJudgeCross_recovers(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		const step = 0.1
		p := drawPair(r, 55)
		v := p.volts(step)
		if rapid.Bool().Draw(r, "no neutral read") {
			v.PhaseA, v.PhaseB = [3]float64{}, [3]float64{}
		}
		got := must[power.CrossFinding](r)(power.JudgeCross(v, 0.006*v.LineA[0]))
		if !got.Mapped || got.Perm != p.perm {
			r.Fatalf("mapping %v (known: %v), want %v; fault %d", got.Perm, got.Mapped, p.perm, got.Fault)
		}
		volts := got.Fit.PhaseVoltsA()
		// The negative sequences of both turn the nearest rotation by the product of their shares at the most.
		within(r, "displacement", got.Turn, p.deg, (5*step/volts+1.2e-4)*180/math.Pi)
		want := [3]complex128{}
		a := v.PhaseA != [3]float64{}
		centre := (p.a[0] + p.a[1] + p.a[2]) / 3
		for j := range want {
			want[j] = p.b[j]
			if !a {
				want[j] -= centre
			}
			withinZ(r, fmt.Sprint("conductor ", j+1), got.Fit.B[j], want[j], 5*step)
		}
		within(r, "offset", got.Offset, cmplx.Abs((want[0]+want[1]+want[2])/3), 5*step)
		fault := power.CrossInPhase
		switch odd := got.Reversed; {
		case odd:
			fault = power.CrossSwapped
		case math.Abs(got.Turn) >= 15:
			fault = power.CrossDisplaced
		case p.perm != permutations[0]:
			fault = power.CrossRolled
		case got.Offset > 0.03*volts:
			fault = power.CrossOffset
		}
		if got.Fault != fault || len(got.Suspects) != 0 {
			r.Errorf("fault %d, suspects %v, want %d and none", got.Fault, got.Suspects, fault)
		}
	})
}

// A dead conductor is named whatever the mapping of the others.
func TestJudgeCross_dead(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		p := drawPair(r, 25)
		for j := range p.b {
			p.b[j] -= p.offset
		}
		dead := rapid.IntRange(0, 2).Draw(r, "dead")
		state := power.CrossAtNeutral
		p.b[dead] = 0
		v := p.volts(0.1)
		if rapid.Bool().Draw(r, "floating") {
			state = power.CrossFloating
			for i := range 3 {
				v.Across[i][dead] *= rapid.Float64Range(0.01, 0.85).Draw(r, "stray")
			}
		}
		got := must[power.CrossFinding](r)(power.JudgeCross(v, 0.006*v.LineA[0]))
		if got.Fault != power.CrossDead || got.State[dead] != state {
			r.Errorf("fault %d, states %v; conductor %d is in state %d", got.Fault, got.State, dead, state)
		}
		if !got.Mapped || got.Perm != p.perm {
			r.Errorf("mapping %v (known: %v), want %v", got.Perm, got.Mapped, p.perm)
		}
		within(r, "displacement", got.Turn, p.deg, 1.5) // the zero sequence of A is its phase volts' alone, its neutral's is not B's
	})
}

// A single reading far off is named, with what it should have been.
func TestJudgeCross_namesTheReading(t *testing.T) {
	tried, named := 0, 0
	rapid.Check(t, func(r *rapid.T) {
		p := drawPair(r, 55)
		v := p.volts(0.1)
		if rapid.Bool().Draw(r, "no neutral read") {
			v.PhaseA, v.PhaseB = [3]float64{}, [3]float64{}
		}
		line := v.LineA[0]
		i, j := rapid.IntRange(0, 2).Draw(r, "from"), rapid.IntRange(0, 2).Draw(r, "to")
		want := v.Across[i][j]
		by := line * rapid.Float64Range(0.08, 0.5).Draw(r, "spoil") * float64(1-2*rapid.IntRange(0, 1).Draw(r, "sign"))
		v.Across[i][j] = math.Abs(want + by)
		if math.Abs(v.Across[i][j]-want) < 0.08*line || !p.shows(v, i, j) {
			r.Skip("the volts to this conductor hang on this reading too little")
		}
		tried++
		got := must[power.CrossFinding](r)(power.JudgeCross(v, 0.006*line))
		if got.State[j] == power.CrossFloating {
			return // all three volts below what any point has: as well a conductor connected to nothing
		}
		if got.Fault != power.CrossInconsistent {
			r.Fatalf("fault %d with %v typed for %v V at %d,%d", got.Fault, v.Across[i][j], want, i, j)
		}
		near := 0.05 * line // where the two points left lie close together, the unbalance of B chooses between them
		holds := false
		for _, s := range got.Suspects {
			if s.A == i && s.B == j && (math.Abs(s.Predicted-want) < near || math.Abs(s.Mirror-want) < near) {
				holds = true
			}
		}
		if !holds {
			r.Errorf("suspects %v do not name %d,%d with %v V", got.Suspects, i, j, want)
		}
		if len(got.Suspects) == 1 {
			named++
			if math.IsNaN(got.Suspects[0].Mirror) != got.Mapped {
				r.Errorf("mapping known: %v, mirror %v V", got.Mapped, got.Suspects[0].Mirror)
			}
			if got.Mapped && got.Perm != p.perm {
				r.Errorf("mapping %v from the rest, want %v", got.Perm, p.perm)
			}
		}
	})
	t.Logf("%d tried, %d named alone", tried, named)
	if tried == 0 || named < tried*8/10 {
		t.Errorf("%d of %d spoiled readings were named alone", named, tried)
	}
}

// shows tells whether a spoiled reading can be seen at all: whether no point is within 2 % of all three volts to that conductor.
func (p pair) shows(v power.CrossVolts, i, j int) bool {
	_, misfit, err := power.Neutral(p.a, [3]float64{v.Across[0][j], v.Across[1][j], v.Across[2][j]})
	return err != nil || misfit > 0.02*v.LineA[0]
}

// One of A's own volts far off is named in the same way.
func TestJudgeCross_namesALineVolt(t *testing.T) {
	for k := range 3 {
		for _, by := range []float64{-40, 25, 60} {
			p := pair{}
			for i := range 3 {
				p.a[i], p.b[i] = power.Polar(240, -120*float64(i)), power.Polar(238, 2-120*float64(i))
			}
			v := p.volts(0.1)
			want := v.LineA[k]
			v.LineA[k] += by
			got := must[power.CrossFinding](t)(power.JudgeCross(v, crossTolerance))
			if got.Fault != power.CrossInconsistent || len(got.Suspects) != 1 || got.Suspects[0].A != k || got.Suspects[0].B != -1 {
				t.Errorf("line %d off by %v V: fault %d, suspects %v", k+1, by, got.Fault, got.Suspects)
				continue
			}
			within(t, "predicted", got.Suspects[0].Predicted, want, 1)
			if got.Perm != permutations[0] || got.Clock != 0 {
				t.Errorf("mapping %v, clock %d from the rest", got.Perm, got.Clock)
			}
		}
	}
}

func TestJudgeCross_special(t *testing.T) {
	star := 400 / math.Sqrt(3)
	line := [3]float64{400, 400, 400}
	// Printed figures of nine volts at 400 V with tied neutrals (derived from 2V·sin(δ/2)).
	for _, c := range []struct {
		name   string
		rows   [3][3]float64
		fault  power.CrossFault
		total  float64
		clock  int
		places int
	}{
		{"in phase", [3][3]float64{{0, 400, 400}, {400, 0, 400}, {400, 400, 0}}, power.CrossInPhase, 0, 0, 0},
		{"B lags 30°", [3][3]float64{{119.5, 446.1, 326.6}, {326.6, 119.5, 446.1}, {446.1, 326.6, 119.5}}, power.CrossDisplaced, -30, -1, 0},
		{"B leads 30°", [3][3]float64{{119.5, 326.6, 446.1}, {446.1, 119.5, 326.6}, {326.6, 446.1, 119.5}}, power.CrossDisplaced, 30, 1, 0},
		{"rolled", [3][3]float64{{400, 400, 0}, {0, 400, 400}, {400, 0, 400}}, power.CrossRolled, -120, 0, 1},
		{"opposed", [3][3]float64{{461.9, 230.9, 230.9}, {230.9, 461.9, 230.9}, {230.9, 230.9, 461.9}}, power.CrossDisplaced, 180, 0, 0},
		{"L2 and L3 crossed", [3][3]float64{{0, 400, 400}, {400, 400, 0}, {400, 0, 400}}, power.CrossSwapped, 0, 0, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := must[power.CrossFinding](t)(power.JudgeCross(power.CrossVolts{LineA: line, Across: c.rows}, crossTolerance))
			if got.Fault != c.fault {
				t.Errorf("fault %d, want %d", got.Fault, c.fault)
			}
			if c.fault == power.CrossSwapped {
				if got.Pair != [2]int{1, 2} {
					t.Errorf("pair %v", got.Pair)
				}
				return
			}
			within(t, "angle apart", math.Remainder(got.Total-c.total, 360), 0, 0.05)
			if c.total != 180 && (got.Places != c.places || got.Clock != c.clock) { // at 180° two mappings are as near
				t.Errorf("rolled %d places, clock %d, want %d and %d", got.Places, got.Clock, c.places, c.clock)
			}
		})
	}

	whole := func(b [3]complex128) power.CrossVolts {
		p := pair{b: b}
		for i := range 3 {
			p.a[i] = power.Polar(star, -120*float64(i))
		}
		v := p.volts(0.1)
		v.PhaseA, v.PhaseB = [3]float64{}, [3]float64{}
		return v
	}
	turned := func(i int) complex128 { return power.Polar(star, -120*float64(i)) }
	for _, c := range []struct {
		name  string
		b     [3]complex128
		fault power.CrossFault
	}{
		{"B dead", [3]complex128{}, power.CrossDead},
		{"one conductor live", [3]complex128{turned(0), 0, 0}, power.CrossDead},
		{"two conductors joined", [3]complex128{turned(0), turned(0), turned(2)}, power.CrossAmbiguous},
		{"one HV fuse of a Dyn blown", [3]complex128{turned(0), -turned(0) / 2, -turned(0) / 2}, power.CrossAmbiguous},
		{"corner at A's neutral, no neutral tied", [3]complex128{0, turned(1) - turned(0), turned(2) - turned(0)}, power.CrossOffset},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := must[power.CrossFinding](t)(power.JudgeCross(whole(c.b), crossTolerance))
			if got.Fault != c.fault || len(got.Suspects) != 0 {
				t.Errorf("fault %d, suspects %v, want %d", got.Fault, got.Suspects, c.fault)
			}
		})
	}
}

func TestJudgeCross_domain(t *testing.T) {
	good := power.CrossVolts{LineA: [3]float64{400, 400, 400}, Across: [3][3]float64{{0, 400, 400}, {400, 0, 400}, {400, 400, 0}}}
	for _, ll := range badVolts() {
		v := good
		v.LineA = ll
		_, err := power.JudgeCross(v, 1)
		refused(t, fmt.Sprint("line volts ", ll), err, power.ErrVolts)
	}
	for _, x := range []float64{math.NaN(), math.Inf(1), -1} {
		v := good
		v.Across[1][2] = x
		_, err := power.JudgeCross(v, 1)
		refused(t, fmt.Sprint("across ", x), err, power.ErrVolts)
		v = good
		v.PhaseA[1] = x
		_, err = power.JudgeCross(v, 1)
		refused(t, fmt.Sprint("to neutral ", x), err, power.ErrVolts)
		_, err = power.JudgeCross(good, x)
		refused(t, fmt.Sprint("tolerance ", x), err, power.ErrVolts)
	}
	v := good
	v.LineA = [3]float64{400, 400, 801}
	_, err := power.JudgeCross(v, 1)
	refused(t, "open triangle", err, power.ErrTriangle)
	v.LineA = [3]float64{400, 400, 800}
	_, err = power.JudgeCross(v, 1)
	refused(t, "flat triangle", err, power.ErrFlat)
}

func BenchmarkJudgeCross(b *testing.B) {
	for _, c := range []crossCase{loadCrossCases(b)[0], loadCrossCases(b)[3]} {
		b.Run(c.Kind, func(b *testing.B) {
			v := power.CrossVolts{LineA: c.LineA, Across: c.Cross, PhaseA: c.PhaseA, PhaseB: c.PhaseB}
			for b.Loop() {
				if _, err := power.JudgeCross(v, crossTolerance); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
