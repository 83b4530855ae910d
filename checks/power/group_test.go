package power_test

import (
	"fmt"
	"math"
	"math/cmplx"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"handback/checks/power"
)

// everyGroup parses every spelling the notation could have and returns those accepted.
func everyGroup(t *testing.T) []power.Group {
	t.Helper()
	var groups []power.Group
	for _, hv := range []string{"D", "DN", "Y", "YN", "Z", "ZN"} {
		for _, lv := range []string{"d", "dn", "y", "yn", "z", "zn"} {
			for clock := range 13 {
				s := fmt.Sprint(hv, lv, clock)
				g, err := power.ParseGroup(s)
				if err != nil {
					refused(t, s, err, power.ErrGroup)
					continue
				}
				if g.String() != s || g.Clock != clock {
					t.Errorf("%s came back as %s, clock %d", s, g, g.Clock)
				}
				groups = append(groups, g)
			}
		}
	}
	return groups
}

func TestParseGroup_every(t *testing.T) {
	// Five ways for each winding, six clock numbers of the right parity.
	if n := len(everyGroup(t)); n != 150 {
		t.Errorf("%d groups accepted, want 150", n)
	}
}

// The usual groups of IEC 60076-1 (from memory of its figures) and of rating plates.
func TestParseGroup_usual(t *testing.T) {
	for s, deg := range map[string]float64{
		"Dyn11": 30, "Dyn1": -30, "Dyn5": -150, "Yd11": 30, "YNd1": -30, "Yd5": -150, "Yzn11": 30, "Yzn5": -150, "Yy0": 0,
		"YNyn0": 0, "Yy6": 180, "Dd0": 0, "Dd6": 180, "Dzn0": 0, "Dz6": 180, "Dy7": 150, "Yd10": math.NaN(), "Dyn0": math.NaN(),
	} {
		g, err := power.ParseGroup(s)
		if math.IsNaN(deg) {
			refused(t, s, err, power.ErrGroup)
			continue
		}
		if err != nil {
			t.Errorf("%s: %v", s, err)
			continue
		}
		within(t, s, g.AngleDeg(), deg, 0)
	}
}

func TestParseGroup_refuses(t *testing.T) {
	for _, s := range []string{"", "D", "Dy", "Dyn", "dyn11", "DYN11", "Dyn12", "Dyn-1", "Dyn+1", "Dyn011", "Dyn11 ", " Dyn11", "Dyn 11", "DyN11",
		"Dnyn11", "Ddn0", "DNd0", "YNa0", "Yy0d5", "YNyn0+d", "Xy1", "Dx1", "Dyn1١", "Yd4", "Yy1", "Dz1", "Yz0", "Dy2"} {
		g, err := power.ParseGroup(s)
		refused(t, fmt.Sprintf("%q", s), err, power.ErrGroup)
		if g != (power.Group{}) {
			t.Errorf("%q: refused, yet gives %+v", s, g)
		}
	}
}

func FuzzParseGroup(f *testing.F) {
	for _, s := range []string{"Dyn11", "YNyn0", "Dzn6", "Dyn05", "", "D\xff"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		if g, err := power.ParseGroup(s); err == nil && g.String() != s {
			t.Errorf("%q came back as %q", s, g)
		}
	})
}

// terminalVolts returns the low-voltage phasors on L1, L2, L3 of a unit of this clock number hooked up to L1, L2, L3 = 1∠0, 1∠-120, 1∠120.
// The unit is a linear device: it turns the positive sequence at its terminals by -30° per hour and the negative by +30°.
func terminalVolts(clock int, h power.Hookup) [3]complex128 {
	var hv, lv, bar [3]complex128
	for phase, terminal := range h.HV {
		hv[terminal] = power.Polar(1, -120*float64(phase))
	}
	_, pos, neg := power.Sequence(hv)
	for terminal := range lv {
		turn := power.Polar(1, -120*float64(terminal))
		hour := power.Polar(1, -30*float64(clock))
		lv[terminal] = pos*hour*turn + neg*cmplx.Conj(hour*turn)
	}
	for phase, terminal := range h.LV {
		bar[phase] = lv[terminal]
	}
	return bar
}

func agree(a, b [3]complex128) bool {
	for i := range a {
		if !(cmplx.Abs(a[i]-b[i]) <= 1e-9) {
			return false
		}
	}
	return true
}

// Every answer is tried on phasors, and "not possible" against all 36 ways to connect the terminals.
func TestReconnect_againstPhasors(t *testing.T) {
	straight := power.Hookup{HV: [3]int{0, 1, 2}, LV: [3]int{0, 1, 2}}
	orders := [][3]int{{0, 1, 2}, {1, 2, 0}, {2, 0, 1}, {0, 2, 1}, {1, 0, 2}, {2, 1, 0}}
	groups := everyGroup(t)
	if len(groups) == 0 {
		t.Fatal("no groups")
	}
	counts := map[bool]int{}
	for _, a := range groups {
		want := terminalVolts(a.Clock, straight)
		for _, b := range groups {
			h, possible := power.Reconnect(a, b)
			ok, remedy := power.Parallel(a, b)
			counts[possible]++
			if ok != agree(want, terminalVolts(b.Clock, straight)) || ok != (remedy == "") {
				t.Fatalf("%s with %s: ok %v, remedy %q", a, b, ok, remedy)
			}
			if possible {
				if !agree(want, terminalVolts(b.Clock, h)) {
					t.Fatalf("%s with %s: %+v does not agree", a, b, h)
				}
				continue
			}
			if !strings.HasPrefix(remedy, "not possible") {
				t.Fatalf("%s with %s: remedy %q", a, b, remedy)
			}
			for _, hv := range orders {
				for _, lv := range orders {
					if agree(want, terminalVolts(b.Clock, power.Hookup{HV: hv, LV: lv})) {
						t.Fatalf("%s with %s: called impossible, yet %v %v agrees", a, b, hv, lv)
					}
				}
			}
		}
	}
	if counts[true] == 0 || counts[false] == 0 {
		t.Errorf("one sided: %v", counts)
	}
}

// Clock numbers 1 and 11 (and 5 and 7) are joined by crossing the same two phases on both sides of one unit: a printed rule,
// IEC 60076-8 (from memory).
func TestParallel_words(t *testing.T) {
	const safe = "; dead, by authorised persons, then prove phase agreement across the open device"
	for _, c := range []struct{ a, b, want string }{
		{"Dyn11", "Yzn11", ""},
		{"Dyn11", "Dyn1", "cross two phases of the second transformer (Dyn1) on both sides: put its high-voltage terminals 1U, 1W, 1V on L1, L2, L3" +
			" and put its low-voltage terminals 2U, 2W, 2V on L1, L2, L3" + safe},
		{"Dyn5", "Yd7", "cross two phases of the second transformer (Yd7) on both sides: put its high-voltage terminals 1U, 1W, 1V on L1, L2, L3" +
			" and put its low-voltage terminals 2U, 2W, 2V on L1, L2, L3" + safe},
		{"Dyn5", "Dyn1", "leave the high voltage of the second transformer as it is and put its low-voltage terminals 2V, 2W, 2U on L1, L2, L3" + safe},
		{"Yy0", "Yy4", "leave the high voltage of the second transformer as it is and put its low-voltage terminals 2W, 2U, 2V on L1, L2, L3" + safe},
		{"Dyn11", "Yy0", "not possible at the terminals: Dyn11 and Yy0 are 30° apart; do not connect them in parallel"},
		{"Yy0", "Dd6", "not possible at the terminals: Yy0 and Dd6 are 180° apart; do not connect them in parallel"},
	} {
		a, b := must[power.Group](t)(power.ParseGroup(c.a)), must[power.Group](t)(power.ParseGroup(c.b))
		ok, got := power.Parallel(a, b)
		if ok != (c.want == "") || got != c.want {
			t.Errorf("%s with %s: %v %q\nwant %q", a, b, ok, got, c.want)
		}
	}
}

func TestParallel_isMutual(t *testing.T) {
	groups := everyGroup(t)
	rapid.Check(t, func(r *rapid.T) {
		a, b := rapid.SampledFrom(groups).Draw(r, "a"), rapid.SampledFrom(groups).Draw(r, "b")
		_, there := power.Reconnect(a, b)
		_, back := power.Reconnect(b, a)
		if there != back {
			r.Errorf("%s with %s %v, the other way %v", a, b, there, back)
		}
	})
}
