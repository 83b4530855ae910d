package checks

import (
	"fmt"
	"math"
	"math/cmplx"

	"handback/checks/power"
)

// showCross shows what the nine volts come to.
func (w *Work) showCross(g *crossVolts, found power.CrossFinding) {
	c, _ := w.Plan.Conductors()
	l := crossExprs(func(key string) *Expr {
		if !w.Has(key) {
			return nil
		}
		return w.Read(key)
	}, "")
	if found.Fault != power.CrossInconsistent { // else a wrong reading would show as wrong volts and angles
		w.showPhasors(g, l, found)
	}
	for j, name := range c {
		w.Show(fmt.Sprintf("misfit_l%d", j+1), "misfit of the three volts to "+g.B+" "+name, "V",
			l.solve("root mean square of what each misses the point by", false, func(f power.CrossFit) float64 { return f.Misfit[j] }))
	}
}

// showPhasors shows volts and angle of each conductor of B, the displacement and the offset.
func (w *Work) showPhasors(g *crossVolts, l crossLeaves, found power.CrossFinding) {
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
			name, perm, near := "displacement, B less A", found.Perm, found.Turn
			switch {
			case found.Fault == power.CrossDisplaced:
				perm, near = [3]int{0, 1, 2}, found.Total
			case perm != [3]int{0, 1, 2}:
				name = "displacement besides, B less A"
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
func (w *Work) nameCross(g *crossVolts, found power.CrossFinding) {
	c, _ := w.Plan.Conductors()
	for j, s := range found.State {
		switch s {
		case power.CrossAtNeutral:
			w.Say(Fail, "", "conductor-dead", g.args(Word("conductor", c[j]), Num("away", cmplx.Abs(found.Fit.B[j]), "V"))...)
		case power.CrossFloating:
			w.Say(Fail, "", "conductor-floating", g.args(Word("conductor", c[j]))...)
		}
	}
	switch {
	case found.Mapped && found.Fault == power.CrossDead && !g.Tied:
		// With a dead conductor the mapping of the other two rests on a tied neutral.
	case found.Mapped && (found.Reversed || found.Places != 0 || found.Clock != 0):
		w.Stop("short-circuit", Inner("why", w.mapping(g, found)), Word("device", g.Device))
	case found.Fault == power.CrossInPhase:
		w.Say(Pass, "", "in-phase", g.args(Num("turn", found.Turn, "°"))...)
	case found.Fault == power.CrossAmbiguous:
		w.Say(Inconclusive, "", "fits-no-system", g.args(joined(c, found)...)...)
	}
	if found.Fault == power.CrossUneven {
		w.Say(Fail, "", "volts-uneven", g.args(uneven(c, found)...)...)
	}
	if found.Fault == power.CrossOffset || found.Fault == power.CrossInPhase && w.neutralsApart(g, found) {
		apart := math.Max(found.Offset, cmplx.Abs(found.Fit.NeutralB))
		w.Say(Fail, "", "neutrals-apart", g.args(Num("apart", apart, "V"))...)
	}
}

// uneven names the conductor that stands apart from the other two, with the volts of
// each to the neutral.
func uneven(c [3]string, found power.CrossFinding) []Arg {
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
	return []Arg{Word("odd", c[odd]), Word("way", way), WordList("conductors", c[:]...), volts("volts", read[:])}
}

// neutralsApart tells whether the volts to both neutrals put them apart though the
// centroids agree.
func (w *Work) neutralsApart(g *crossVolts, found power.CrossFinding) bool {
	return w.Has(phaseKeysOf("a_")...) && w.Has(phaseKeysOf("b_")...) && cmplx.Abs(found.Fit.NeutralB) > power.OffsetShare*found.Fit.PhaseVoltsA()
}

func phaseKeysOf(prefix string) []string { return withPrefix(prefix, phaseKeys) }

// joined names two conductors of B that stand at one point, nothing where none do.
func joined(c [3]string, found power.CrossFinding) []Arg {
	for j := range 3 {
		k := (j + 1) % 3
		if gap := cmplx.Abs(found.Fit.B[j] - found.Fit.B[k]); gap < 0.1*found.Fit.PhaseVoltsA() {
			return []Arg{WordList("joined", c[j], c[k]), Num("gap", gap, "V")}
		}
	}
	return nil
}

// mapping says how the conductors of B stand on those of A.
func (w *Work) mapping(g *crossVolts, found power.CrossFinding) Said {
	c, _ := w.Plan.Conductors()
	var stands []Said
	for j, i := range found.Perm {
		if i != j {
			stands = append(stands, Say("stands-at", g.args(Word("conductor", c[j]), Word("at", c[i]))...))
		}
	}
	args := g.args(Inners("stands", stands...))
	switch {
	case found.Reversed:
		args = append(args, WordList("pair", c[found.Pair[0]], c[found.Pair[1]]))
		if found.Clock != 0 {
			args = append(args, Num("turn", found.Turn, "°"), Inner("hours", hours(found.Turn)))
		}
		return Say("conductors-crossed", args...)
	case found.Clock == 0:
		return Say("conductors-rolled", append(args, Num("places", float64(found.Places), ""))...)
	}
	args = g.args(Num("total", found.Total, "°"), Inner("hours", hours(found.Total)))
	if math.Abs(math.Abs(found.Turn)-math.Abs(found.OtherDeg)) < tieDeg {
		args = append(args, Inner("tie", Say("two-mappings", g.args(Word("conductor", c[0]), Word("on", c[found.Perm[0]]), Num("turn", found.Turn, "°"),
			Word("other", c[found.Other[0]]), Num("other_turn", found.OtherDeg, "°"))...)))
	}
	return Say("sides-displaced", args...)
}

// tieDeg is how near to one another two mappings must be for both to be named:
// within 3° of 60° (our choice).
const tieDeg = 6

// hours says an angle in clock hours of 30°, to the nearest, with what is left.
func hours(deg float64) Said {
	n := math.Round(math.Abs(deg) / 30)
	way := "leading"
	if deg < 0 {
		way = "lagging"
	}
	return Say("clock-hours", Num("hours", n, ""), Word("way", way), Num("off", math.Abs(math.Abs(deg)-30*n), "°"))
}

// doubtCrossVolts names readings that cannot be right: those of A as in every check
// of volts, volts below zero, a reading across that contradicts the rest, with what the
// rest predicts for it, and B's volts to neutral that meet in no point.
func doubtCrossVolts(in Input) []Doubt {
	g := in.Check.Given.(*crossVolts)
	out := in.doubtSide("a_", []float64{in.crossNominal(g)})
	for i := range 3 {
		out = append(out, belowZero(in, "", [3]string{crossKey(i, 0), crossKey(i, 1), crossKey(i, 2)})...)
	}
	out = append(out, belowZero(in, "b_", phaseKeys)...)
	v, ok := in.crossReadings()
	if len(out) > 0 || !ok {
		return out
	}
	found, err := power.JudgeCross(v, crossTolerance(v))
	if err != nil {
		return nil // judged inconclusive, with the reason
	}
	if found.Fault == power.CrossInconsistent {
		return in.doubtInconsistent(g, v, found)
	}
	if !(found.Fit.MisfitB <= crossTolerance(v)) {
		return []Doubt{{Fields: phaseKeysOf("b_"), Said: Say("neutrals-disagree", g.args(Num("apart", found.Fit.MisfitB, "V"))...)}}
	}
	return nil
}

// doubtInconsistent names the reading to take again, or all that may be wrong.
func (in Input) doubtInconsistent(g *crossVolts, v power.CrossVolts, found power.CrossFinding) []Doubt {
	c, _ := in.Plan.Conductors()
	form := in.Form()
	var fields []string
	var said []Said
	for _, s := range found.Suspects {
		key, typed := "", 0.0
		if s.B < 0 {
			key, typed = "a_"+lineKeys[s.A], v.LineA[s.A]
		} else {
			key, typed = crossKey(s.A, s.B), v.Across[s.A][s.B]
		}
		f, _ := FieldNamed(form, key)
		fields, said = append(fields, key), append(said, suspect(f, typed, s))
	}
	switch len(said) {
	case 1:
		return []Doubt{{Fields: fields, Said: Say("take-again", Inner("why", said[0]))}}
	case 0:
	default:
		return []Doubt{{Fields: fields, Said: Say("one-disagrees", Inners("suspects", said...))}}
	}
	for j, m := range found.Fit.Misfit {
		if found.State[j] == power.CrossFloating || m <= crossTolerance(v) {
			continue
		}
		said = append(said, Say("misses-by", g.args(Word("conductor", c[j]), Num("by", m, "V"))...))
		for i := range 3 {
			fields = append(fields, crossKey(i, j))
		}
	}
	return []Doubt{{Fields: append(withPrefix("a_", lineKeys), fields...), Said: Say("no-common-point", g.args(Inners("misses", said...))...)}}
}

// suspect sets a reading beside what the rest predicts for it.
func suspect(f Field, typed float64, s power.CrossSuspect) Said {
	args := []Arg{Label("field", f), Num("read", typed, "V"), Num("predicted", s.Predicted, "V")}
	if !math.IsNaN(s.Mirror) {
		return Say("disagrees-either-sequence", append(args, Num("mirror", s.Mirror, "V"))...)
	}
	for _, by := range []float64{10, 100} {
		if near(typed*by, s.Predicted) || near(typed/by, s.Predicted) {
			return Say("disagrees-by-point", args...)
		}
	}
	return Say("disagrees", args...)
}
