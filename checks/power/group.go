package power

import (
	"fmt"
	"strconv"
	"strings"
)

// Group is the vector group of a two-winding three-phase transformer in the notation of IEC 60076-1.
//
//	HV, LV                 winding connection: 'D' delta, 'Y' star, 'Z' zigzag, in capitals for both
//	HVNeutral, LVNeutral   neutral brought out (N, n); never with delta
//	Clock                  0 to 11: the low voltage lags the high voltage by 30° times this
type Group struct {
	HV, LV               byte
	HVNeutral, LVNeutral bool
	Clock                int
}

// ParseGroup reads a vector group such as "Dyn11": high-voltage letter D, Y or Z in capitals, low-voltage letter d, y or z,
// N or n after a star or zigzag whose neutral is brought out, clock number 0 to 11.
//
// The clock number is even when both windings are star or neither is (Yy, Dd, Dz, Zd, Zz) and odd otherwise (Dy, Yd, Yz,
// Zy). ErrGroup for all else: auto-connected, open and third windings are outside this notation. What is accepted is
// printed back unchanged by String. Source: IEC 60076-1, clause 7 (from memory of the clause number).
func ParseGroup(s string) (Group, error) {
	var g Group
	refuse := func(why string) (Group, error) {
		return Group{}, fmt.Errorf("%w: %q %s; want for example Dyn11, Yd1, YNyn0 or Dzn6", ErrGroup, s, why)
	}
	rest := s
	take := func(letters string) (byte, bool) {
		if rest == "" || strings.IndexByte(letters, rest[0]) < 0 {
			return 0, false
		}
		b := rest[0]
		rest = rest[1:]
		return b, true
	}
	var ok bool
	if g.HV, ok = take("DYZ"); !ok {
		return refuse("has no high-voltage letter D, Y or Z")
	}
	_, g.HVNeutral = take("N")
	if g.LV, ok = take("dyz"); !ok {
		return refuse("has no low-voltage letter d, y or z after the high-voltage one")
	}
	g.LV -= 'a' - 'A'
	_, g.LVNeutral = take("n")
	if g.HV == 'D' && g.HVNeutral || g.LV == 'D' && g.LVNeutral {
		return refuse("gives a delta a neutral")
	}
	clock, err := strconv.Atoi(rest)
	if err != nil || clock < 0 || clock > 11 || strconv.Itoa(clock) != rest {
		return refuse("has no clock number 0 to 11")
	}
	g.Clock = clock
	if odd := (g.HV == 'Y') != (g.LV == 'Y'); odd != (clock%2 == 1) {
		if odd {
			return refuse("cannot have an even clock number")
		}
		return refuse("cannot have an odd clock number")
	}
	return g, nil
}

// String returns the group in the notation that ParseGroup reads.
func (g Group) String() string {
	s := string(rune(g.HV))
	if g.HVNeutral {
		s += "N"
	}
	s += strings.ToLower(string(rune(g.LV)))
	if g.LVNeutral {
		s += "n"
	}
	return s + strconv.Itoa(g.Clock)
}

// AngleDeg returns the angle of the low voltage against the high voltage, in degrees in (-180, 180], positive leading:
//
//	angle = −30·Clock, brought into range
//
// Dyn11 gives 30, Dyn1 gives -30, Yd6 is no group, Yy6 gives 180.
func (g Group) AngleDeg() float64 { return wrap(-30 * float64(g.Clock)) }

// Hookup says which terminals of a transformer go to the phases L1, L2, L3: 0 for the terminal U, 1 for V, 2 for W.
type Hookup struct{ HV, LV [3]int }

// Reconnect returns how the terminals of b must go to the common phases so that b agrees in angle with a, which is connected U, V, W to
// L1, L2, L3, and whether that can be done at the terminals at all.
//
//	clock numbers equal             U, V, W on both sides
//	differing by 4 or 8             low voltage moved round by one place: each place adds 4 to the clock number of b
//	odd, and not of the above       V and W crossed on both sides, which turns clock n into 12 − n; moved round as well if need be
//	otherwise                       not possible at the terminals
//
// Both groups as from ParseGroup. Source: IEC 60076-8 (from memory); the geometry is exact for three symmetrical phases.
func Reconnect(a, b Group) (Hookup, bool) {
	h := Hookup{HV: [3]int{0, 1, 2}, LV: [3]int{0, 1, 2}}
	clock := b.Clock
	if (a.Clock-clock)%4 != 0 && clock%2 != 0 {
		h = Hookup{HV: [3]int{0, 2, 1}, LV: [3]int{0, 2, 1}}
		clock = -clock
	}
	short := ((a.Clock-clock)%12 + 12) % 12
	if short%4 != 0 {
		return Hookup{}, false
	}
	for range short / 4 {
		h.LV = [3]int{h.LV[1], h.LV[2], h.LV[0]}
	}
	return h, true
}

// Parallel reports whether transformers of groups a and b agree in angle as they stand (the same clock number), and if not, what would make
// them agree, in words. When ok the remedy is empty. Rules and source as Reconnect.
//
// Equal angles are necessary, not sufficient: ratio, impedance and rating have their own tests, a neutral may be brought out on one
// side only, and every reconnection must be proved across the open device before it is closed.
func Parallel(a, b Group) (ok bool, remedy string) {
	if a.Clock == b.Clock {
		return true, ""
	}
	h, possible := Reconnect(a, b)
	if !possible {
		return false, fmt.Sprintf("not possible at the terminals: %s and %s are %d° apart; do not connect them in parallel", a, b, apart(a, b))
	}
	var w strings.Builder
	if h.HV == [3]int{0, 1, 2} {
		w.WriteString("leave the high voltage of the second transformer as it is")
	} else {
		fmt.Fprintf(&w, "cross two phases of the second transformer (%s) on both sides: put its high-voltage terminals %s on L1, L2, L3", b, terminals('1', h.HV))
	}
	fmt.Fprintf(&w, " and put its low-voltage terminals %s on L1, L2, L3", terminals('2', h.LV))
	w.WriteString("; dead, by authorised persons, then prove phase agreement across the open device")
	return false, w.String()
}

// apart returns the angle between two groups in degrees, 0 to 180.
func apart(a, b Group) int {
	d := (a.Clock - b.Clock + 12) % 12
	return 30 * min(d, 12-d)
}

// terminals names terminals in the order given, as 1U, 1V, 1W (high voltage) or 2U, 2V, 2W (low voltage).
func terminals(side byte, order [3]int) string {
	names := make([]string, 3)
	for i, t := range order {
		names[i] = string([]byte{side, "UVW"[t]})
	}
	return strings.Join(names, ", ")
}
