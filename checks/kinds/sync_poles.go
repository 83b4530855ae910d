package kinds

import (
	"math"
	"slices"
	"strings"

	"handback/checks"
	"handback/checks/calc"
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
func sides(in checks.Input) (a, b float64, ok bool) {
	ua, okA := in.Answers["u_a"]
	ub, okB := in.Answers["u_b"]
	a, b = ua.Value, ub.Value
	return a, b, okA && okB && math.Min(a, b) > deadShare*math.Max(a, b)
}

// poles are the volts read across the poles with their keys.
func poles(in checks.Input) (keys []string, volts []float64) {
	for _, k := range poleKeys {
		if p, ok := in.Answers[k]; ok {
			keys, volts = append(keys, k), append(volts, p.Value)
		}
	}
	return keys, volts
}

// poleSlack is how far the volts across a pole may miss those that the sides require, V.
func poleSlack(in checks.Input, a, b, v float64) float64 {
	high := math.Max(a, b) / math.Sqrt(3)
	m := in.Plan.Meter(in.Answers["meter"].Word)
	if m == nil {
		return poleCrude * high
	}
	sum := 0.0
	for _, x := range []float64{a / math.Sqrt(3), b / math.Sqrt(3), v} {
		r, ok := m.RangeFor("voltage", x)
		_, span, step, known := r.ErrorAt(x)
		if !ok || !known {
			return poleCrude * high
		}
		sum += calc.Square(span + step)
	}
	return math.Max(2*math.Sqrt(sum/3), poleDrift*high)
}

// doubtPoles names volts across poles that stand at no angle of these sides, or at no
// one angle, and those that contradict the angle read or the vector groups.
func doubtPoles(in checks.Input, g *syncCheck) []checks.Doubt {
	a, b, ok := sides(in)
	keys, volts := poles(in)
	if !ok {
		return nil
	}
	least, most := math.Abs(a-b)/math.Sqrt(3), (a+b)/math.Sqrt(3)
	var out []checks.Doubt
	for i, v := range volts {
		if tol := poleSlack(in, a, b, v); v < 0 || v < least-tol || v > most+tol {
			code := "pole-not-possible"
			if v >= 0 && v < least {
				code = "pole-too-low"
			}
			out = append(out, checks.Doubt{Fields: []string{keys[i], "u_a", "u_b"}, Said: checks.Say(code, checks.Num("read", v, "V"), checks.Num("a", a, "V"), checks.Num("b", b, "V"), checks.Num("least", least, "V"), checks.Num("most", most, "V"))})
		}
	}
	if len(out) > 0 {
		return out
	}
	if at, crossed := crossedPoles(in, a, b); len(at) > 0 && len(at) < len(poleKeys) {
		return []checks.Doubt{{Fields: at, Said: checks.Say("read-poles-again", checks.Inner("why", crossed))}}
	}
	star := (a + b) / 2 / math.Sqrt(3)
	if len(volts) > 1 && slices.Max(volts)-slices.Min(volts) > poleSpread*star {
		return []checks.Doubt{{Fields: keys, Said: checks.Say("poles-disagree", checks.Num("low", slices.Min(volts), "V"), checks.Num("high", slices.Max(volts), "V"))}}
	}
	return doubtAngles(in, g, a, b)
}

// doubtAngles names an angle that contradicts the poles, and sides in step that their
// vector groups put apart.
func doubtAngles(in checks.Input, g *syncCheck, a, b float64) []checks.Doubt {
	keys, volts := poles(in)
	phi, read := in.Answers["angle"]
	if read && len(volts) > 0 {
		at := poleVolts(calc.K(a), calc.K(b), calc.K(phi.Value)).Eval(nil)
		for i, v := range volts {
			if math.Abs(v-at) > poleSpread*(a+b)/2/math.Sqrt(3) {
				return []checks.Doubt{{Fields: []string{"angle", keys[i]}, Said: checks.Say("angle-against-pole", checks.Num("angle", phi.Value, "°"), checks.Num("gives", at, "V"), checks.Num("read", v, "V"))}}
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
		angle = angleFromPole(calc.K(a), calc.K(b), calc.K(slices.Max(volts))).Eval(nil)
	}
	if len(fields) == 0 || !(angle < inStep) {
		return nil
	}
	return []checks.Doubt{{Fields: fields, Said: checks.Say("in-step-against-groups", checks.Num("angle", angle, "°"), checks.Word("a", g.A), checks.Word("group_a", ta.Group), checks.Word("b", g.B), checks.Word("group_b", tb.Group))}}
}

// crossedPoles names the poles that stand at line-to-line volts: there a conductor
// meets another than its own.
func crossedPoles(in checks.Input, a, b float64) (at []string, crossed checks.Said) {
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
		return nil, checks.Said{}
	case 1:
		others := slices.DeleteFunc(slices.Clone(lines[:]), func(l string) bool { return l == names[0] })
		return at, checks.Say("pole-crossed", checks.Word("pole", names[0]), readings(in, at), checks.WordList("others", others...))
	case 2:
		return at, checks.Say("poles-crossed", checks.WordList("poles", names...), readings(in, at))
	}
	return at, checks.Say("every-pole-crossed", readings(in, at), checks.Num("about", math.Round(line), "V"))
}

// neutralsTied tells whether the neutrals of both sides are joined, without which volts
// across a pole show no angle: as the plan says, else as the cross-volts check it takes
// the angle from, else because some cross-volts check above passed. why says why not; told is
// false where nothing says whether they are.
func neutralsTied(in checks.Input, g *syncCheck) (tied, told bool, why checks.Said) {
	if g.Tied != nil {
		return *g.Tied, true, checks.Say("plan-says-untied")
	}
	if past := in.Came(g.Cross); past.Taken() {
		return past.Finding.Verdict == checks.Pass, true, checks.Say("check-came-to", checks.Word("check", g.Cross), checks.Word("title", in.Plan.Check(g.Cross).Title), checks.Word("verdict", past.Finding.Verdict.String()))
	}
	for _, c := range in.Plan.Checks() {
		if c.Kind.Name == "cross-volts" && in.Came(c.ID).Finding.Verdict == checks.Pass {
			return true, true, checks.Said{}
		}
	}
	return false, false, checks.Said{}
}

// judgeNeutrals says what the angle from the poles rests on.
func judgeNeutrals(w *checks.Work, g *syncCheck) {
	keys, _ := poles(w.Input)
	if len(keys) == 0 || w.Has("angle") {
		return
	}
	if _, volts := poles(w.Input); slices.Max(volts) == 0 {
		w.Caution("every-pole-zero")
	}
	switch tied, told, why := neutralsTied(w.Input, g); {
	case !told:
		w.Caution("neutrals-perhaps-untied")
	case !tied:
		w.Say(checks.Inconclusive, strings.Join(keys, " "), "poles-untied", checks.Inner("why", why))
	}
}
