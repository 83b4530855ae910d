package checks

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"handback/checks/power"
)

const (
	// poleDrift is how far a pole may miss what the sides require though the meter is
	// better, as a share of their volts: the supply moves between readings (our choice).
	poleDrift = 0.002
	// poleCrude is the same where the meter's accuracy is not known (our choice).
	poleCrude = 0.005
	// poleSpread is how far the three poles may read apart, as a share of the volts to
	// neutral: what negative sequence within its limits on both sides leaves (our choice).
	poleSpread = 0.05
	// lineNear is how near to line-to-line volts a pole counts as standing there (our choice).
	lineNear = 0.1
	// inStep is the angle under which the sides are taken as in step against plates that
	// put them a clock hour apart: half of it (our choice).
	inStep = 15.0
)

// sides are the volts of both sides; ok is false where one was not read or is dead
// beside the other.
func (in Input) sides() (a, b float64, ok bool) {
	ua, okA := in.Answers["u_a"]
	ub, okB := in.Answers["u_b"]
	a, b = ua.Value, ub.Value
	return a, b, okA && okB && math.Min(a, b) > deadShare*math.Max(a, b)
}

// poles are the volts read across the poles with their keys.
func (in Input) poles() (keys []string, volts []float64) {
	for _, k := range poleKeys {
		if p, ok := in.Answers[k]; ok {
			keys, volts = append(keys, k), append(volts, p.Value)
		}
	}
	return keys, volts
}

// poleSlack is how far the volts across a pole may miss those that the sides require, V.
func (in Input) poleSlack(a, b, v float64) float64 {
	high := math.Max(a, b) / math.Sqrt(3)
	m := in.Plan.Meter(in.Answers["meter"].Word)
	if m == nil {
		return poleCrude * high
	}
	sum := 0.0
	for _, x := range []float64{a / math.Sqrt(3), b / math.Sqrt(3), v} {
		r, ok := m.rangeFor("voltage", x)
		_, span, step, known := r.error(x)
		if !ok || !known {
			return poleCrude * high
		}
		sum += square(span + step)
	}
	return math.Max(2*math.Sqrt(sum/3), poleDrift*high)
}

// doubtPoles names volts across poles that stand at no angle of these sides, or at no
// one angle, and those that contradict the angle read or the vector groups.
func (in Input) doubtPoles(g *syncCheck) []Doubt {
	a, b, ok := in.sides()
	keys, volts := in.poles()
	if !ok {
		return nil
	}
	least, most := math.Abs(a-b)/math.Sqrt(3), (a+b)/math.Sqrt(3)
	var out []Doubt
	for i, v := range volts {
		if tol := in.poleSlack(a, b, v); v < 0 || v < least-tol || v > most+tol {
			why := ""
			if v >= 0 && v < least {
				why = ": look for a lead off, a blown fuse of the meter or a pole that is closed"
			}
			out = append(out, Doubt{[]string{keys[i], "u_a", "u_b"}, fmt.Sprintf("%s V across a pole is not possible between %s and %s V: %s to %s V is%s",
				significant(v, 5), significant(a, 5), significant(b, 5), significant(least, 4), significant(most, 4), why)})
		}
	}
	if len(out) > 0 {
		return out
	}
	if at, words := in.crossedPoles(a, b); len(at) > 0 && len(at) < len(poleKeys) {
		return []Doubt{{at, words + ": read every pole again, each lead on its own conductor"}}
	}
	star := (a + b) / 2 / math.Sqrt(3)
	if len(volts) > 1 && slices.Max(volts)-slices.Min(volts) > poleSpread*star {
		return []Doubt{{keys, fmt.Sprintf("the poles read from %s to %s, which no one angle gives: look for a slipped digit, a lead on another conductor or a neutral that is not tied",
			spell(slices.Min(volts), "V"), spell(slices.Max(volts), "V"))}}
	}
	return in.doubtAngles(g, a, b)
}

// doubtAngles names an angle that contradicts the poles, and sides in step that their
// vector groups put apart.
func (in Input) doubtAngles(g *syncCheck, a, b float64) []Doubt {
	keys, volts := in.poles()
	phi, read := in.Answers["angle"]
	if read && len(volts) > 0 {
		at := poleVolts(K(a), K(b), K(phi.Value)).eval(nil)
		for i, v := range volts {
			if math.Abs(v-at) > poleSpread*(a+b)/2/math.Sqrt(3) {
				return []Doubt{{[]string{"angle", keys[i]}, fmt.Sprintf("an angle of %s gives %s across a pole, not %s: one of the two is wrong", spell(phi.Value, "°"), Show(at, "V", 1), spell(v, "V"))}}
			}
		}
	}
	ta, tb := in.Plan.Transformer(g.A), in.Plan.Transformer(g.B)
	if g.Limits != "same-source" || ta == nil || tb == nil {
		return nil
	}
	ga, errA := power.ParseGroup(ta.Group)
	gb, errB := power.ParseGroup(tb.Group)
	if errA != nil || errB != nil {
		return nil
	}
	if _, can := power.Reconnect(ga, gb); can {
		return nil
	}
	fields, angle := keys, math.Abs(phi.Value)
	if read {
		fields = []string{"angle"}
	} else if len(volts) > 0 {
		angle = angleFromPole(K(a), K(b), K(slices.Max(volts))).eval(nil)
	}
	if len(fields) == 0 || !(angle < inStep) {
		return nil
	}
	return []Doubt{{fields, fmt.Sprintf("%s in step, but one supply through %s (%s) and %s (%s) stands clock hours apart, and no reconnection at the terminals cures that: look at the plates and at what was read",
		spell(angle, "°"), g.A, ta.Group, g.B, tb.Group)}}
}

// crossedPoles names the poles that stand at line-to-line volts: there a conductor
// meets another than its own.
func (in Input) crossedPoles(a, b float64) (at []string, words string) {
	lines, _ := in.Plan.Conductors()
	line := (a + b) / 2
	var names []string
	for i, k := range poleKeys {
		if p, ok := in.Answers[k]; ok && math.Abs(p.Value-line) <= lineNear*line {
			at, names = append(at, k), append(names, lines[i])
		}
	}
	switch len(at) {
	case 0:
		return nil, ""
	case 1:
		others := slices.DeleteFunc(slices.Clone(lines[:]), func(l string) bool { return l == names[0] })
		return at, fmt.Sprintf("pole %s at line volts, %s: %s and %s crossed", names[0], spell(in.Answers[at[0]].Value, "V"), names[0], strings.Join(others, " or "))
	case 2:
		return at, fmt.Sprintf("poles %s and %s at line volts, %s and %s: %s and %s crossed", names[0], names[1], spell(in.Answers[at[0]].Value, "V"), spell(in.Answers[at[1]].Value, "V"), names[0], names[1])
	}
	return at, fmt.Sprintf("every pole at line volts, about %s: each conductor meets another than its own, or the sides stand 120° apart", spell(math.Round(line), "V"))
}

// neutralsTied tells whether the neutrals of both sides are joined, without which volts
// across a pole show no angle: as the plan says, else as the cross-volts check it takes
// the angle from, else because some cross-volts check above passed. The words say why
// not; said is false where nothing does.
func (in Input) neutralsTied(g *syncCheck) (tied, said bool, why string) {
	if g.Tied != nil {
		return *g.Tied, true, "the plan says that the neutrals of the two sides are not tied"
	}
	if past := in.Before[g.Cross]; past.Answers != nil {
		return past.Finding.Verdict == Pass, true, fmt.Sprintf("check %s (%s) came to %s", g.Cross, in.Plan.Check(g.Cross).Title, past.Finding.Verdict)
	}
	for id, past := range in.Before {
		if c := in.Plan.Check(id); c != nil && c.Kind.Name == "cross-volts" && past.Finding.Verdict == Pass {
			return true, true, ""
		}
	}
	return false, false, ""
}

// judgeNeutrals says what the angle from the poles rests on.
func (w *Work) judgeNeutrals(g *syncCheck) {
	keys, _ := w.poles()
	if len(keys) == 0 || w.Has("angle") {
		return
	}
	if _, volts := w.poles(); slices.Max(volts) == 0 {
		w.Caution("Every pole reads 0 V, as it would with a lead off, a blown fuse of the meter or the device closed: read from a conductor of A to another of B with the same leads, which must show line-to-line volts.")
	}
	switch tied, said, why := w.neutralsTied(g); {
	case !said:
		w.Caution("Volts across the open poles show the angle only while the neutrals of both sides are tied, which the plan does not say: make sure of it, or take the volts across from each conductor to all three.")
	case !tied:
		w.Say(Inconclusive, strings.Join(keys, " "), "%s: volts across the poles then show no angle. Tie them, be it by a test link, or read the angle", why)
	}
}
