package kinds

import (
	"fmt"
	"math"
	"math/cmplx"

	"handback/checks"
	"handback/checks/calc"
	"handback/checks/power"
)

// showCross shows what the nine volts come to.
func showCross(w *checks.Work, g *crossVolts, found power.CrossFinding) {
	c, _ := w.Plan.Conductors()
	l := crossExprs(func(key string) *calc.Expr {
		if !w.Has(key) {
			return nil
		}
		return w.Read(key)
	}, "")
	if found.Fault != power.CrossInconsistent { // else a wrong reading would show as wrong volts and angles
		showPhasors(w, g, l, found)
	}
	for j, name := range c {
		w.Show(fmt.Sprintf("misfit_l%d", j+1), "misfit of the three volts to "+g.B+" "+name, "V",
			l.solve("root mean square of what each misses the point by", false, func(f power.CrossFit) float64 { return f.Misfit[j] }))
	}
}

// showPhasors shows volts and angle of each conductor of B, the displacement and the offset.
func showPhasors(w *checks.Work, g *crossVolts, l crossLeaves, found power.CrossFinding) {
	c, _ := w.Plan.Conductors()
	for j, name := range c {
		at := found.Fit.B[j]
		w.Show(fmt.Sprintf("volts_b_l%d", j+1), g.B+" "+name+" to the neutral of "+g.A, "V",
			l.solve("distance from "+l.aboutWhat, false, func(f power.CrossFit) float64 { return cmplx.Abs(f.B[j]) }))
		if found.State[j] == power.CrossLive {
			base := power.Degrees(at)
			w.Show(fmt.Sprintf("angle_b_l%d", j+1), "angle of "+g.B+" "+name, "°",
				l.solve("angle about "+l.aboutWhat+", the positive sequence of A at 0°", false, func(f power.CrossFit) float64 { return unwrapped(power.Degrees(f.B[j]), base) }))
		}
	}
	if !math.IsNaN(found.Offset) {
		if found.Mapped {
			name, perm, near := "displacement, difference B − A", found.Perm, found.Turn
			switch {
			case found.Fault == power.CrossDisplaced:
				perm, near = [3]int{0, 1, 2}, found.Total
			case perm != [3]int{0, 1, 2}:
				name = "displacement besides, difference B − A"
			}
			w.Show("displacement", name, "°", l.displacement(perm, near))
		}
		w.Show("offset", "neutral of "+g.B+" from that of "+g.A, "V",
			l.solve("from "+l.aboutWhat+" to the centroid of B", false, func(f power.CrossFit) float64 { return cmplx.Abs(f.CentreB()) }))
		if l.phaseA && l.phaseB {
			w.Show("neutral_gap", "neutral terminal of "+g.B+" from that of "+g.A, "V",
				l.solve("both neutrals found from the volts to them", true, func(f power.CrossFit) float64 { return cmplx.Abs(f.NeutralB) }))
		}
	}
}

// nameCross says in words what stands between the two sides.
func nameCross(w *checks.Work, g *crossVolts, found power.CrossFinding) {
	c, _ := w.Plan.Conductors()
	for j, s := range found.State {
		switch s {
		case power.CrossAtNeutral:
			w.Say(checks.Fail, "", "conductor-dead", g.args(checks.Word("conductor", c[j]), checks.Num("away", cmplx.Abs(found.Fit.B[j]), "V"))...)
		case power.CrossFloating:
			w.Say(checks.Fail, "", "conductor-floating", g.args(checks.Word("conductor", c[j]))...)
		}
	}
	switch {
	case found.Mapped && found.Fault == power.CrossDead && !g.Tied:
		// With a dead conductor the mapping of the other two rests on a tied neutral.
	case found.Mapped && (found.Reversed || found.Places != 0 || found.Clock != 0):
		w.Stop("short-circuit", checks.Inner("why", mapping(w, g, found)), checks.Word("device", g.Device))
	case found.Fault == power.CrossInPhase:
		w.Say(checks.Pass, "", "in-phase", g.args(checks.Num("turn", found.Turn, "°"))...)
	case found.Fault == power.CrossAmbiguous:
		w.Say(checks.Inconclusive, "", "fits-no-system", g.args(joined(c, found)...)...)
	}
	if found.Fault == power.CrossUneven {
		w.Say(checks.Fail, "", "volts-uneven", g.args(uneven(c, found)...)...)
	}
	if found.Fault == power.CrossOffset || found.Fault == power.CrossInPhase && neutralVoltsApart(w, found) {
		apart := math.Max(found.Offset, cmplx.Abs(found.Fit.NeutralB))
		w.Say(checks.Fail, "", "neutrals-apart", g.args(checks.Num("apart", apart, "V"))...)
	}
}

// uneven names the conductor that stands apart from the other two, with the volts of
// each to the neutral.
func uneven(c [3]string, found power.CrossFinding) []checks.Arg {
	var read [3]float64
	for j, b := range found.Fit.B {
		read[j] = cmplx.Abs(b)
	}
	odd, most := 0, 0.0
	for j := range read {
		if gap := math.Abs(read[j] - (read[(j+1)%3]+read[(j+2)%3])/2); gap > most {
			odd, most = j, gap
		}
	}
	way := "low"
	if read[odd] > read[(odd+1)%3] {
		way = "high"
	}
	return []checks.Arg{checks.Word("odd", c[odd]), checks.Word("way", way), checks.WordList("conductors", c[:]...), checks.Volts("volts", read[:])}
}

// neutralVoltsApart tells whether the volts to both neutrals put them apart though the
// centroids agree.
func neutralVoltsApart(w *checks.Work, found power.CrossFinding) bool {
	return w.Has(phaseKeysOf("a_")...) && w.Has(phaseKeysOf("b_")...) && cmplx.Abs(found.Fit.NeutralB) > power.OffsetShare*found.Fit.PhaseVoltsA()
}

func phaseKeysOf(prefix string) []string { return withPrefix(prefix, phaseKeys) }

// joined names two conductors of B that stand at one point, nothing where none do.
func joined(c [3]string, found power.CrossFinding) []checks.Arg {
	for j := range 3 {
		k := (j + 1) % 3
		if gap := cmplx.Abs(found.Fit.B[j] - found.Fit.B[k]); gap < 0.1*found.Fit.PhaseVoltsA() {
			return []checks.Arg{checks.WordList("joined", c[j], c[k]), checks.Num("gap", gap, "V")}
		}
	}
	return nil
}

// mapping says how the conductors of B stand on those of A.
func mapping(w *checks.Work, g *crossVolts, found power.CrossFinding) checks.Said {
	c, _ := w.Plan.Conductors()
	var stands []checks.Said
	for j, i := range found.Perm {
		if i != j {
			stands = append(stands, checks.Say("stands-at", g.args(checks.Word("conductor", c[j]), checks.Word("at", c[i]))...))
		}
	}
	args := g.args(checks.Inners("stands", stands...))
	switch {
	case found.Reversed:
		args = append(args, checks.WordList("pair", c[found.Pair[0]], c[found.Pair[1]]))
		if found.Clock != 0 {
			args = append(args, checks.Num("turn", found.Turn, "°"), checks.Inner("hours", hours(found.Turn)))
		}
		return checks.Say("conductors-crossed", args...)
	case found.Clock == 0:
		return checks.Say("conductors-rolled", append(args, checks.Num("places", float64(found.Places), ""))...)
	}
	args = g.args(checks.Num("total", found.Total, "°"), checks.Inner("hours", hours(found.Total)))
	if math.Abs(math.Abs(found.Turn)-math.Abs(found.OtherDeg)) < tieDeg {
		args = append(args, checks.Inner("tie", checks.Say("two-mappings", g.args(checks.Word("conductor", c[0]), checks.Word("on", c[found.Perm[0]]), checks.Num("turn", found.Turn, "°"),
			checks.Word("other", c[found.Other[0]]), checks.Num("other_turn", found.OtherDeg, "°"))...)))
	}
	return checks.Say("sides-displaced", args...)
}

// tieDeg is how near to one another two mappings must be for both to be named:
// within 3° of 60° (our choice).
const tieDeg = 6

// hours says an angle in clock hours of 30°, to the nearest, with what is left.
func hours(deg float64) checks.Said {
	n := math.Round(math.Abs(deg) / 30)
	way := "leading"
	if deg < 0 {
		way = "lagging"
	}
	return checks.Say("clock-hours", checks.Num("hours", n, ""), checks.Word("way", way), checks.Num("off", math.Abs(math.Abs(deg)-30*n), "°"))
}

// doubtCrossVolts names readings that cannot be right: those of A as in every check
// of volts, volts below zero, a reading across that contradicts the rest, with what the
// rest predicts for it, and B's volts to neutral that meet in no point.
func doubtCrossVolts(in checks.Input, g *crossVolts) []checks.Doubt {
	out := doubtSide(in, "a_", []float64{crossNominal(in, g)})
	for i := range 3 {
		out = append(out, belowZero(in, "", [3]string{crossKey(i, 0), crossKey(i, 1), crossKey(i, 2)})...)
	}
	out = append(out, belowZero(in, "b_", phaseKeys)...)
	v, ok := crossReadings(in)
	if len(out) > 0 || !ok {
		return out
	}
	found := findCross(in, v)
	if found.err != nil {
		return nil // judged inconclusive, with the reason
	}
	if found.Fault == power.CrossInconsistent {
		return doubtInconsistent(in, g, v, found.CrossFinding)
	}
	if !(found.Fit.MisfitB <= crossTolerance(v)) {
		return []checks.Doubt{{Fields: phaseKeysOf("b_"), Said: checks.Say("neutrals-disagree", g.args(checks.Num("apart", found.Fit.MisfitB, "V"))...)}}
	}
	return nil
}

// doubtInconsistent names the reading to take again, or all that may be wrong.
func doubtInconsistent(in checks.Input, g *crossVolts, v power.CrossVolts, found power.CrossFinding) []checks.Doubt {
	c, _ := in.Plan.Conductors()
	form := in.Form()
	var fields []string
	var said []checks.Said
	for _, s := range found.Suspects {
		key, typed := "", 0.0
		if s.B < 0 {
			key, typed = "a_"+lineKeys[s.A], v.LineA[s.A]
		} else {
			key, typed = crossKey(s.A, s.B), v.Across[s.A][s.B]
		}
		f, _ := checks.FieldNamed(form, key)
		fields, said = append(fields, key), append(said, suspect(f, typed, s))
	}
	switch len(said) {
	case 1:
		return []checks.Doubt{{Fields: fields, Said: checks.Say("take-again", checks.Inner("why", said[0]))}}
	case 0:
	default:
		return []checks.Doubt{{Fields: fields, Said: checks.Say("one-disagrees", checks.Inners("suspects", said...))}}
	}
	for j, m := range found.Fit.Misfit {
		if found.State[j] == power.CrossFloating || m <= crossTolerance(v) {
			continue
		}
		said = append(said, checks.Say("misses-by", g.args(checks.Word("conductor", c[j]), checks.Num("by", m, "V"))...))
		for i := range 3 {
			fields = append(fields, crossKey(i, j))
		}
	}
	return []checks.Doubt{{Fields: append(withPrefix("a_", lineKeys), fields...), Said: checks.Say("no-common-point", g.args(checks.Inners("misses", said...))...)}}
}

// suspect sets a reading beside what the rest predicts for it.
func suspect(f checks.Field, typed float64, s power.CrossSuspect) checks.Said {
	args := []checks.Arg{checks.Label("field", f), checks.Num("read", typed, "V"), checks.Num("predicted", s.Predicted, "V")}
	if !math.IsNaN(s.Mirror) {
		return checks.Say("disagrees-either-sequence", append(args, checks.Num("mirror", s.Mirror, "V"))...)
	}
	for _, by := range []float64{10, 100} {
		if near(typed*by, s.Predicted) || near(typed/by, s.Predicted) {
			return checks.Say("disagrees-by-point", args...)
		}
	}
	return checks.Say("disagrees", args...)
}
