package checks

import (
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
			code := "pole-not-possible"
			if v >= 0 && v < least {
				code = "pole-too-low"
			}
			out = append(out, Doubt{[]string{keys[i], "u_a", "u_b"}, Say(code, Num("read", v, "V"), Num("a", a, "V"), Num("b", b, "V"), Num("least", least, "V"), Num("most", most, "V"))})
		}
	}
	if len(out) > 0 {
		return out
	}
	if at, crossed := in.crossedPoles(a, b); len(at) > 0 && len(at) < len(poleKeys) {
		return []Doubt{{at, Say("read-poles-again", Inner("why", crossed))}}
	}
	star := (a + b) / 2 / math.Sqrt(3)
	if len(volts) > 1 && slices.Max(volts)-slices.Min(volts) > poleSpread*star {
		return []Doubt{{keys, Say("poles-disagree", Num("low", slices.Min(volts), "V"), Num("high", slices.Max(volts), "V"))}}
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
				return []Doubt{{[]string{"angle", keys[i]}, Say("angle-against-pole", Num("angle", phi.Value, "°"), Num("gives", at, "V"), Num("read", v, "V"))}}
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
	return []Doubt{{fields, Say("in-step-against-groups", Num("angle", angle, "°"), Word("a", g.A), Word("group_a", ta.Group), Word("b", g.B), Word("group_b", tb.Group))}}
}

// crossedPoles names the poles that stand at line-to-line volts: there a conductor
// meets another than its own.
func (in Input) crossedPoles(a, b float64) (at []string, crossed Said) {
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
		return nil, Said{}
	case 1:
		others := slices.DeleteFunc(slices.Clone(lines[:]), func(l string) bool { return l == names[0] })
		return at, Say("pole-crossed", Word("pole", names[0]), in.readings(at), WordList("others", others...))
	case 2:
		return at, Say("poles-crossed", WordList("poles", names...), in.readings(at))
	}
	return at, Say("every-pole-crossed", in.readings(at), Num("about", math.Round(line), "V"))
}

// neutralsTied tells whether the neutrals of both sides are joined, without which volts
// across a pole show no angle: as the plan says, else as the cross-volts check it takes
// the angle from, else because some cross-volts check above passed. why says why not; told is
// false where nothing says whether they are.
func (in Input) neutralsTied(g *syncCheck) (tied, told bool, why Said) {
	if g.Tied != nil {
		return *g.Tied, true, Say("plan-says-untied")
	}
	if past := in.Before[g.Cross]; past.Answers != nil {
		return past.Finding.Verdict == Pass, true, Say("check-came-to", Word("check", g.Cross), Word("title", in.Plan.Check(g.Cross).Title), Word("verdict", past.Finding.Verdict.String()))
	}
	for id, past := range in.Before {
		if c := in.Plan.Check(id); c != nil && c.Kind.Name == "cross-volts" && past.Finding.Verdict == Pass {
			return true, true, Said{}
		}
	}
	return false, false, Said{}
}

// judgeNeutrals says what the angle from the poles rests on.
func (w *Work) judgeNeutrals(g *syncCheck) {
	keys, _ := w.poles()
	if len(keys) == 0 || w.Has("angle") {
		return
	}
	if _, volts := w.poles(); slices.Max(volts) == 0 {
		w.Caution("every-pole-zero")
	}
	switch tied, told, why := w.neutralsTied(g); {
	case !told:
		w.Caution("neutrals-perhaps-untied")
	case !tied:
		w.Say(Inconclusive, strings.Join(keys, " "), "poles-untied", Inner("why", why))
	}
}
