package checks

import (
	"fmt"
	"math"
	"math/cmplx"
	"strings"

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
			w.plainSay(Fail, "", "conductor %s of %s is dead: it stands at the neutral of %s, %s from it", c[j], g.B, g.A, Show(cmplx.Abs(found.Fit.B[j]), "V", 1))
		case power.CrossFloating:
			w.plainSay(Fail, "", "conductor %s of %s is connected to nothing: no point is so near to all three conductors of %s. Look for an open fuse, pole or link", c[j], g.B, g.A)
		}
	}
	switch {
	case found.Mapped && found.Fault == power.CrossDead && !g.Tied:
		// With a dead conductor the mapping of the other two rests on a tied neutral.
	case found.Mapped && (found.Reversed || found.Places != 0 || found.Clock != 0):
		w.plainStop("%s. Closing %s would be a short circuit", w.mappingWords(g, found), g.Device)
	case found.Fault == power.CrossInPhase:
		w.plainSay(Pass, "", "in phase: each conductor of %s stands for its own of %s, displaced by %s", g.B, g.A, Show(found.Turn, "°", 1))
	case found.Fault == power.CrossAmbiguous:
		w.plainSay(Inconclusive, "", "the volts fit no three-phase system on %s%s: which conductor is which cannot be told. Look for a fuse out, a link or a phase joined to another", g.B, joined(g, c, found))
	}
	if found.Fault == power.CrossUneven {
		w.plainSay(Fail, "", "%s: the neutrals agree, but the volts of %s are uneven. Look for a poor joint or contact, a fuse or a tap link of the phase that stands apart", unevenWords(g, c, found), g.B)
	}
	if found.Fault == power.CrossOffset || found.Fault == power.CrossInPhase && w.neutralsApart(g, found) {
		apart := math.Max(found.Offset, cmplx.Abs(found.Fit.NeutralB))
		w.plainSay(Fail, "", "the neutral of %s stands %s from that of %s: the neutrals are not tied, and a zero across one pole then proves nothing", g.B, Show(apart, "V", 1), g.A)
	}
}

// unevenWords names the conductor that stands apart from the other two, with the volts
// of each to the neutral.
func unevenWords(g *crossVolts, c [3]string, found power.CrossFinding) string {
	var volts [3]float64
	var words []string
	for j, b := range found.Fit.B {
		volts[j] = cmplx.Abs(b)
		words = append(words, Show(volts[j], "V", 1))
	}
	odd, most := 0, 0.0
	for j := range volts {
		if gap := math.Abs(volts[j] - (volts[(j+1)%3]+volts[(j+2)%3])/2); gap > most {
			odd, most = j, gap
		}
	}
	way := "low"
	if volts[odd] > volts[(odd+1)%3] {
		way = "high"
	}
	return fmt.Sprintf("conductor %s of %s is %s: %s, %s and %s stand %s from the neutral", c[odd], g.B, way, c[0], c[1], c[2], strings.Join(words, ", "))
}

// neutralsApart tells whether the volts to both neutrals put them apart though the
// centroids agree.
func (w *Work) neutralsApart(g *crossVolts, found power.CrossFinding) bool {
	return w.Has(phaseKeysOf("a_")...) && w.Has(phaseKeysOf("b_")...) && cmplx.Abs(found.Fit.NeutralB) > power.OffsetShare*found.Fit.PhaseVoltsA()
}

func phaseKeysOf(prefix string) []string { return withPrefix(prefix, phaseKeys) }

// joined names two conductors of B that stand at one point.
func joined(g *crossVolts, c [3]string, found power.CrossFinding) string {
	for j := range 3 {
		k := (j + 1) % 3
		if gap := cmplx.Abs(found.Fit.B[j] - found.Fit.B[k]); gap < 0.1*found.Fit.PhaseVoltsA() {
			return fmt.Sprintf("; %s and %s stand %s from one another", c[j], c[k], Show(gap, "V", 1))
		}
	}
	return ""
}

// mappingWords says how the conductors of B stand on those of A.
func (w *Work) mappingWords(g *crossVolts, found power.CrossFinding) string {
	c, _ := w.Plan.Conductors()
	var stands []string
	for j, i := range found.Perm {
		if i != j {
			stands = append(stands, fmt.Sprintf("%s %s stands at %s %s", g.B, c[j], g.A, c[i]))
		}
	}
	list := strings.Join(stands, ", ")
	turned := ""
	if found.Clock != 0 {
		turned = fmt.Sprintf(", and displaced by %s besides (%s)", Show(found.Turn, "°", 1), hours(found.Turn))
	}
	switch {
	case found.Reversed:
		return fmt.Sprintf("two conductors are crossed, %s and %s of %s, which reverses the sequence: %s%s", c[found.Pair[0]], c[found.Pair[1]], g.B, list, turned)
	case found.Clock == 0:
		return fmt.Sprintf("%s is rolled by %s: %s. Rotation is the same on both sides, which does not show this", g.B, []string{"", "one place", "two places"}[found.Places], list)
	}
	text := fmt.Sprintf("%s is displaced from %s by %s (%s): a clash of vector groups", g.B, g.A, Show(found.Total, "°", 1), hours(found.Total))
	if math.Abs(math.Abs(found.Turn)-math.Abs(found.OtherDeg)) < tieDeg {
		text += fmt.Sprintf(". Two mappings are about as near: %s at %s, and %s at %s",
			firstOn(g, c, found.Perm), Show(found.Turn, "°", 1), firstOn(g, c, found.Other), Show(found.OtherDeg, "°", 1))
	}
	return text
}

// tieDeg is how near to one another two mappings must be for both to be named:
// within 3° of 60° (our choice).
const tieDeg = 6

func firstOn(g *crossVolts, c [3]string, perm [3]int) string {
	return fmt.Sprintf("%s %s on %s %s", g.B, c[0], g.A, c[perm[0]])
}

// hours says an angle in clock hours of 30°, to the nearest, with what is left.
func hours(deg float64) string {
	n := math.Round(math.Abs(deg) / 30)
	word := "hours"
	if n == 1 {
		word = "hour"
	}
	way := "leading"
	if deg < 0 {
		way = "lagging"
	}
	return fmt.Sprintf("%s clock %s %s, %s off", significant(n, 2), word, way, Show(math.Abs(math.Abs(deg)-30*n), "°", 1))
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
		return []Doubt{{Fields: phaseKeysOf("b_"), Said: plain(fmt.Sprintf(
			"the line-to-neutral volts of %s do not meet in one neutral point: %s V apart from the volts across. Look for a slipped digit or two readings swapped", g.B, significant(found.Fit.MisfitB, 3)))}}
	}
	return nil
}

// doubtInconsistent names the reading to take again, or all that may be wrong.
func (in Input) doubtInconsistent(g *crossVolts, v power.CrossVolts, found power.CrossFinding) []Doubt {
	c, _ := in.Plan.Conductors()
	var fields, words []string
	for _, s := range found.Suspects {
		key, name, typed := crossKey(s.A, max(s.B, 0)), "", 0.0
		if s.B < 0 {
			key, name, typed = "a_"+lineKeys[s.A], fmt.Sprintf("%s %s-%s", g.A, c[s.A], c[(s.A+1)%3]), v.LineA[s.A]
		} else {
			name, typed = fmt.Sprintf("%s %s to %s %s", g.A, c[s.A], g.B, c[s.B]), v.Across[s.A][s.B]
		}
		fields = append(fields, key)
		words = append(words, suspectWords(name, typed, s))
	}
	switch len(words) {
	case 1:
		return []Doubt{{Fields: fields, Said: plain(words[0] + ". Take it again")}}
	case 0:
	default:
		return []Doubt{{Fields: fields, Said: plain("one of these does not agree with the rest: " + strings.Join(words, "; or ") + ". Take them again")}}
	}
	for j, m := range found.Fit.Misfit {
		if found.State[j] == power.CrossFloating || m <= crossTolerance(v) {
			continue
		}
		words = append(words, fmt.Sprintf("%s %s by %s", g.B, c[j], Show(m, "V", 1)))
		for i := range 3 {
			fields = append(fields, crossKey(i, j))
		}
	}
	return []Doubt{{Fields: append(withPrefix("a_", lineKeys), fields...), Said: plain(fmt.Sprintf(
		"the volts across meet in no point (%s), and no one reading explains it: take the line-to-line volts of %s and these again", strings.Join(words, ", "), g.A))}}
}

// suspectWords sets a reading beside what the rest predicts for it.
func suspectWords(name string, typed float64, s power.CrossSuspect) string {
	text := fmt.Sprintf("%s, %s, does not agree with the other readings, which give %s", name, spell(typed, "V"), Show(s.Predicted, "V", 1))
	if !math.IsNaN(s.Mirror) {
		return text + fmt.Sprintf(" or, with the other sequence, %s", Show(s.Mirror, "V", 1))
	}
	for _, by := range []float64{10, 100} {
		if near(typed*by, s.Predicted) || near(typed/by, s.Predicted) {
			return text + ": a decimal point may have slipped"
		}
	}
	return text
}
