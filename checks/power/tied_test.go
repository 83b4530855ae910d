package power_test

import (
	"fmt"
	"math"
	"math/cmplx"
	"slices"
	"testing"

	"handback/checks/power"
	"handback/testdata/outside"
)

// tiedVolts are the volts 1V-2V, 1V-2W, 1W-2V, 1W-2W by TieTurns, of high-voltage terminals
// at v and w against the tie.
func tiedVolts(clock int, crossed bool, k float64, v, w complex128) [4]float64 {
	fv, fw := power.TieTurns(clock, crossed)
	lv := complex(k*fv[0], 0)*v + complex(k*fv[1], 0)*w
	lw := complex(k*fw[0], 0)*v + complex(k*fw[1], 0)*w
	return [4]float64{cmplx.Abs(v - lv), cmplx.Abs(v - lw), cmplx.Abs(w - lv), cmplx.Abs(w - lw)}
}

// Worked by hand with the law of cosines for a balanced supply, IEC 60076-1's clock
// (from memory): 400 V and k 0.1 give 40 V, so that 1V-2V of clock 0 is 400 − 40 = 360,
// of 6 440, of 11 √(400² + 40² − 2·400·40·cos 30°) = 365.906; 1W-2V of 11 has a right
// angle, √(400² + 40²) = 401.995. Dyn11 is known by 1V-2V = 1W-2W = 1V-2W < 1W-2V, and
// Dyn1 by 1V-2V = 1W-2W = 1W-2V < 1V-2W.
func TestTieTurns_handbook(t *testing.T) {
	v, w := power.Polar(400, -150), power.Polar(400, 150)
	for clock, want := range map[int][4]float64{
		0: {360, 381.576, 381.576, 360}, 6: {440, 421.426, 421.426, 440}, 11: {365.906, 365.906, 401.995, 365.906}, 1: {365.906, 401.995, 365.906, 365.906},
	} {
		got := tiedVolts(clock, false, 0.1, v, w)
		for i := range got {
			if !(math.Abs(got[i]-want[i]) <= 1e-3*0.6) {
				t.Errorf("clock %d: %.4f, want %v", clock, got, want)
			}
		}
	}
}

// The low-voltage terminals of a wound model stand where its group says: windings on
// three limbs, joined as IEC 60076-1 draws the groups (from memory), with the volts of a
// limb's windings in the ratio of their turns. Nothing is turned by an angle here.
func TestTieTurns_woundModel(t *testing.T) {
	supplies := map[string][3]complex128{
		"balanced":     {power.Polar(231, 0), power.Polar(231, -120), power.Polar(231, 120)},
		"other way":    {power.Polar(231, 0), power.Polar(231, 120), power.Polar(231, -120)},
		"unbalanced":   {power.Polar(240, 3), power.Polar(225, -118), power.Polar(231, 124)},
		"U to V":       {200, -200, 0},
		"U to W, slid": {200, 17, -200},
	}
	tried := 0
	for _, g := range wound {
		for name, hv := range supplies {
			lv := g.lv(g.limbs(hv))
			// the rated ratio is that of the same windings on a balanced supply
			even := supplies["balanced"]
			rated := g.lv(g.limbs(even))
			k := cmplx.Abs(rated[0]-rated[1]) / cmplx.Abs(even[0]-even[1])
			want := [4]float64{}
			for i, pair := range [][2]int{{1, 1}, {1, 2}, {2, 1}, {2, 2}} {
				want[i] = cmplx.Abs((hv[pair[0]] - hv[0]) - (lv[pair[1]] - lv[0]))
			}
			got := tiedVolts(g.clock, false, k, hv[1]-hv[0], hv[2]-hv[0])
			tried++
			for i := range got {
				if !(math.Abs(got[i]-want[i]) <= 1e-9*400) {
					t.Errorf("%s, %s: %.5f, the windings give %.5f", g.name, name, got, want)
					break
				}
			}
		}
	}
	if tried < 24*len(supplies) {
		t.Errorf("%d tried", tried)
	}
}

// windings is a transformer as it is wound. limbs gives the volts of each limb's winding
// from those of the high-voltage terminals, lv the volts of 2U, 2V, 2W from those of limbs.
type windings struct {
	name  string
	clock int
	limbs func(hv [3]complex128) [3]complex128
	lv    func(limb [3]complex128) [3]complex128
}

// wound are Yy, Dd, Dy, Yd, Dz and Yz with every clock number they can have: a base
// connection each way round, with the names of low-voltage terminals moved on by one place
// for four hours, and the windings reversed for six.
var wound = func() []windings {
	star := func(hv [3]complex128) [3]complex128 { // no neutral: limbs add up to nothing
		n := (hv[0] + hv[1] + hv[2]) / 3
		return [3]complex128{hv[0] - n, hv[1] - n, hv[2] - n}
	}
	delta := func(hv [3]complex128) [3]complex128 { // each limb's winding from a terminal to the next
		return [3]complex128{hv[0] - hv[1], hv[1] - hv[2], hv[2] - hv[0]}
	}
	const turns = 0.07
	asStar := func(e [3]complex128) [3]complex128 { return [3]complex128{turns * e[0], turns * e[1], turns * e[2]} }
	asDelta := func(e [3]complex128) [3]complex128 { // limb 1 from 2U to 2V, 2 from 2V to 2W
		return [3]complex128{0, -turns * e[0], -turns * (e[0] + e[1])}
	}
	asZigzag := func(e [3]complex128) [3]complex128 { // half on its own limb, half reversed on the limb before
		return [3]complex128{turns * (e[0] - e[2]), turns * (e[1] - e[0]), turns * (e[2] - e[1])}
	}
	var out []windings
	for _, base := range []struct {
		name  string
		clock int // by drawing the phasors: the low voltage of terminal U against the high
		limbs func([3]complex128) [3]complex128
		lv    func([3]complex128) [3]complex128
	}{
		{"Yy", 0, star, asStar}, {"Dd", 0, delta, asDelta}, {"Dy", 11, delta, asStar}, {"Yd", 1, star, asDelta},
		{"Yz", 1, star, asZigzag}, {"Dz", 0, delta, asZigzag},
	} {
		for places := range 3 {
			for _, reversed := range []bool{false, true} {
				clock := base.clock + 4*places
				if reversed {
					clock += 6
				}
				out = append(out, windings{fmt.Sprintf("%s%d", base.name, clock%12), clock % 12, base.limbs, func(e [3]complex128) [3]complex128 {
					p := base.lv(e)
					q := [3]complex128{}
					for i := range q {
						q[i] = p[(i+places)%3] // 2U is where 2V was: 120° later
						if reversed {
							q[i] = -q[i]
						}
					}
					return q
				}})
			}
		}
	}
	return out
}()

// ngspice solves Dyn11, Dyn5 and Yd1 with magnetising inductances, and dependent sources for
// the low-voltage windings, fed by three unbalanced phases or by one with a terminal open.
func TestOutside_ngspiceTied(t *testing.T) {
	ngspice := outside.Tool(t, "ngspice")
	const turns = 0.07
	threePhases := []string{"vu u 0 ac 240 3", "vv v 0 ac 225 -118", "vw w 0 ac 231 124"}
	uToV := []string{"vu u v ac 230 0", "rv v 0 1", "rw w 0 1e9"}
	uToW := []string{"vu u w ac 230 0", "rw w 0 1", "rv v 0 1e9"}
	deltaHV := []string{"l1 u m1 30", "r1 m1 v 0.01", "l2 v m2 30", "r2 m2 w 0.01", "l3 w m3 30", "r3 m3 u 0.01"}
	starHV := []string{"l1 u m1 30", "r1 m1 n1 0.01", "l2 v m2 30", "r2 m2 n1 0.01", "l3 w m3 30", "r3 m3 n1 0.01"}
	y11 := []string{"ea a n2 u v 0.07", "eb b n2 v w 0.07", "ec c n2 w u 0.07"}
	y5 := []string{"ea n2 a u v 0.07", "eb n2 b v w 0.07", "ec n2 c w u 0.07"}
	d1 := []string{"ea a b u n1 0.07", "eb b c v n1 0.07", "ec c x w n1 0.07", "rx x a 1"}
	for _, c := range []struct {
		name      string
		clock     int
		k         float64
		feed      []string
		high, low []string
	}{
		{"Dyn11, three phases", 11, turns * math.Sqrt(3), threePhases, deltaHV, y11},
		{"Dyn11, U to V", 11, turns * math.Sqrt(3), uToV, deltaHV, y11},
		{"Dyn11, U to W", 11, turns * math.Sqrt(3), uToW, deltaHV, y11},
		{"Dyn5, U to W", 5, turns * math.Sqrt(3), uToW, deltaHV, y5},
		{"Yd1, three phases", 1, turns / math.Sqrt(3), threePhases, starHV, d1},
		{"Yd1, U to V", 1, turns / math.Sqrt(3), uToV, starHV, d1},
	} {
		d := deck{lines: slices.Concat(c.feed, c.high, c.low, []string{"vtie u a ac 0 0"}),
			reads: []string{"v(u)-v(v)", "v(v)-v(w)", "v(w)-v(u)", "v(v)-v(b)", "v(v)-v(c)", "v(w)-v(b)", "v(w)-v(c)"}}
		got := d.run(t, ngspice)
		// 1V on the real axis, 1W from the three sides
		v, along := got[0], (got[0]*got[0]+got[2]*got[2]-got[1]*got[1])/(2*got[0])
		w := complex(along, -math.Sqrt(math.Max(got[2]*got[2]-along*along, 0)))
		want := tiedVolts(c.clock, false, c.k, complex(v, 0), w)
		for i := range want {
			if !(math.Abs(got[3+i]-want[i]) <= 0.01) {
				t.Errorf("%s: ngspice reads %.4f, TieTurns gives %.4f", c.name, got[3:], want)
				break
			}
		}
	}
}
