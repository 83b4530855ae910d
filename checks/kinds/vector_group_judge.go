package kinds

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"handback/checks"
	"handback/checks/calc"
	"handback/checks/power"
)

// fits are the hands of which every reading stands within the tolerance, with its
// uncertainty added.
func (x tied) fits(in checks.Input, at func(string) float64, spread func(*calc.Expr) float64) []hand {
	limit := x.limit().High
	return slices.DeleteFunc(hands(), func(h hand) bool {
		for _, f := range x.feeds() {
			fed, across := leavesOf(f, func(key string) *calc.Expr { return calc.Reading(key, key, "V") })
			for i := range across {
				d := x.deviation(h, i, fed, across[i])
				u := spread(d)
				if math.IsNaN(u) {
					u = 0
				}
				if !(math.Abs(d.Eval(at)) <= limit+u) {
					return true
				}
			}
		}
		return false
	})
}

// judgeVectorGroup passes when every reading across the windings stands where the clock
// number of the plate puts it, and no other clock number fits as well:
//
//	d = 100·(read − expected)/(k·U)     −tolerance ≤ d ≤ tolerance
//
//	expected   from the volts between the HV terminals as they were read, see expected   V
//	k          rated LV over HV of the tap, both between terminals
//	U          the highest of the HV volts                                               V  > 0
//	tolerance  20 % when the plan gives none (our choice): the limit itself passes
//
// Twelve clock numbers are tried, and each with two LV terminals exchanged, which is no
// group. Neighbours stand at least 50 % of the LV volts apart in some reading, 27 % where
// HV and LV are alike, so that two never fit where the readings are good. A number other
// than the plate's that fits is named: with the plate's out of limits the check fails,
// with both within reach of the uncertainty it is inconclusive. Readings that fit none
// are doubted, and show nothing. A single-phase supply is fed twice, since one feed does
// not tell a group from two terminals exchanged.
func judgeVectorGroup(w *checks.Work, g *vectorGroup) {
	x, known := tiedOn(w.Input, g)
	if !known {
		w.Say(checks.Inconclusive, "", "tap-not-known", checks.Word("check", g.TapFrom))
		return
	}
	inDoubt := checks.Doubted(w.Doubts())
	plate, worst, whole := hand{clock: x.plate.Clock}, checks.Pass, true
	var fields []string
	for _, f := range g.feeds() {
		fed, across := leavesOf(f, w.Read)
		for i, read := range across {
			key := f.prefix + tiedKeys[i]
			fields = append(fields, key)
			if whole = whole && w.Answered(x.deviation(plate, i, fed, read)); inDoubt(key) {
				whole = false
			}
			w.Show("expected_"+key, f.name+tiedNames[i]+" of "+x.t.Group, "V", x.expected(plate, i, fed))
			worst = checks.Worst(worst, w.HoldField(key, "deviation_"+key, f.name+tiedNames[i]+" from that of "+x.t.Group, "%", x.deviation(plate, i, fed, read), x.limit()))
		}
	}
	if !whole || len(w.Doubts()) > 0 {
		return
	}
	others := slices.DeleteFunc(x.fits(w.Input, w.Value, w.Spread), func(h hand) bool { return h == plate })
	found := checks.Inners("found", x.names(others)...)
	said, transformer := strings.Join(fields, " "), checks.Word("transformer", x.t.ID)
	args := []checks.Arg{transformer, checks.Word("plate", x.t.Group)}
	switch {
	case worst == checks.Fail && len(others) > 0:
		w.Say(checks.Fail, said, "reads-as-other-group", append(args, found)...)
		w.Caution("other-group-dangerous", args...)
	case len(others) > 0:
		w.Say(checks.Inconclusive, said, "others-fit-too", append(args, found)...)
	case worst == checks.Pass:
		w.Say(checks.Pass, said, "group-of-plate", args...)
	}
}

// names are what hands are called, each once: a group of the plate's windings where they
// can have that clock number, else the windings that can.
func (x tied) names(hs []hand) []checks.Said {
	var out []checks.Said
	for _, h := range hs {
		g := x.plate
		g.Clock = h.clock
		said := checks.Say("clock-of-windings", checks.Word("clock", fmt.Sprint(h.clock)), checks.Word("windings", map[bool]string{true: "Dy, Yd or Yz", false: "Yy, Dd or Dz"}[h.clock%2 == 1]))
		if _, err := power.ParseGroup(g.String()); err == nil {
			said = checks.Say("group-named", checks.Word("group", g.String()))
		}
		if h.crossed {
			said = checks.Say("terminals-exchanged")
		}
		if !slices.ContainsFunc(out, said.Same) {
			out = append(out, said)
		}
	}
	return out
}
