package kinds

import (
	"math"
	"slices"
	"time"

	"handback/checks"
	"handback/checks/calc"
	"handback/checks/plan"
	"handback/checks/quantity"
)

// judgeSync passes when volts, frequency and angle lie inside the limit set, the
// angle taken to the moment the contacts meet:
//
//	ΔU = 100·(U_B − U_A)/U_A      Δf = f_B − f_A
//	φ_t = φ + 360·Δf·t
//	sin²(φ/2) = (3·V² − (U_A − U_B)²)/(4·U_A·U_B)     where the pole volts V are read
//
//	U_A, U_B   line-to-line volts, A the running bar   V    > 0
//	f_A, f_B   frequencies                             Hz
//	φ          angle, positive when B leads A          °    −180 to 180
//	V          volts across one open pole              V    |U_A − U_B|/√3 to (U_A + U_B)/√3; tied neutrals
//	t          closing time                            s    ≥ 0
//
// Pole volts cannot tell which side leads, so their angle is judged at its worst,
// φ_t = |φ| + |360·Δf·t|, on every pole; where reading errors would put the square
// below 0, φ is 0. Where an angle is read as well, both are judged. Where neither is
// read, φ is the displacement of the cross-volts check the plan names, with the
// uncertainty of its readings, and the finding holds from the time those were taken. Limits include
// their own value; see limits for their sources. Within one digit of the meter,
// Δf of same-source is zero and is not judged by its uncertainty.
//
// A side that is dead, or under 80 % of nominal volts (our choice), is named and fails:
// nothing then shows that the sides are in step. A pole at line-to-line volts stops the
// work and names the crossed conductors; so do sides 30° apart or more when the
// contacts meet (our choice). Without tied neutrals poles show no angle.
// A finding goes stale `fresh` after the time of the check. Shown besides: volts
// across a pole, now and at touch, V = √(U_A² + U_B² − 2·U_A·U_B·cos φ_t)/√3, and
// V/|Z_A + Z_B|, the current at closing, where both transformers are given.
func judgeSync(w *checks.Work, g *syncCheck) {
	judgeFresh(w, g)
	if judgeDead(w, g) {
		return
	}
	du, df, angle := g.limits(digit(w, "f_a", "f_b"))
	ua, ub := w.Read("u_a"), w.Read("u_b")
	w.Hold("du", "volts, difference B − A", "%", ub.Sub(ua).Div(ua).Times(100), du)
	slip := calc.Named("slip", "Hz", w.Read("f_b").Sub(w.Read("f_a")))
	judgeSlip(w, g, slip, df)
	turn := calc.Named("turn while closing", "°", calc.K(360).Mul(slip).Mul(calc.Datum("closing time", or(g.Closing, 0), "s")))
	touch := judgeAngle(w, g, turn, angle)
	if touch == nil {
		return
	}
	pole := calc.Named("volts across a pole at touch", "V", poleVolts(ua, ub, touch))
	w.Show("pole_volts_touch", "volts across a pole when the contacts meet", "V", pole)
	if a, b := w.Plan.Transformer(g.A), w.Plan.Transformer(g.B); g.A != "" && (a == nil || b == nil) {
		w.Caution("closing-current-not-foretold", checks.Word("a", g.A), checks.Word("b", g.B))
	} else if g.A != "" {
		current := calc.Named("current at closing", "A", pole.Div(loopOhms(a, b)))
		w.Show("closing_current", "current at closing", "A", current)
		for i, t := range []*plan.Transformer{a, b} {
			w.Show("closing_share_"+"ab"[i:i+1], "current at closing of the rated current of "+t.ID, "%", current.Div(ratedAmps(t.Rated())).Times(100))
		}
	}
}

// freshUntil is when the check goes stale, and when it counts as taken. A time of check ahead
// of the clock does not make it last longer.
func freshUntil(in checks.Input, g *syncCheck) (until, at time.Time) {
	at = in.Answers["at"].Time()
	if at.IsZero() {
		return at, at
	}
	if at.After(in.At) {
		at = in.At
	}
	if crossed := in.Came(g.Cross).At; takesCross(in, g) && !crossed.IsZero() && crossed.Before(at) {
		at = crossed // the angle is as old as its reading
	}
	fresh := staysFresh
	if g.Fresh != nil {
		fresh = time.Duration(float64(*g.Fresh) * float64(time.Second))
	}
	return at.Add(fresh), at
}

// judgeFresh says when the check was stale as it was judged.
func judgeFresh(w *checks.Work, g *syncCheck) {
	until, at := freshUntil(w.Input, g)
	source := "our choice"
	if g.Fresh != nil {
		source = "plan"
	}
	if !at.IsZero() && w.At.After(until) {
		w.Say(checks.Inconclusive, "at", "check-too-old", checks.At("taken", at), checks.At("until", until), checks.Word("source", source))
	}
}

// judgeDead names a dead side and fails; it tells whether there was one.
func judgeDead(w *checks.Work, g *syncCheck) bool {
	switch w.Word("state") {
	case deadBar:
		w.Say(checks.Fail, "state", "dead-bar")
		return true
	case deadLine:
		w.Say(checks.Fail, "state", "dead-line")
		return true
	}
	if !w.Has("u_a", "u_b") {
		return false
	}
	levels := levels(w.Input, nil, []string{g.A, g.B})
	a, b, dead := w.Answers["u_a"].Value, w.Answers["u_b"].Value, deadUnder(levels)
	read := []checks.Arg{checks.Num("a", a, "V"), checks.Num("b", b, "V")}
	switch {
	case a >= 0 && b >= 0 && math.Max(a, b) < dead:
		w.Say(checks.Fail, "u_a u_b", "both-dead", read...)
	case a >= 0 && a < deadShare*b:
		w.Say(checks.Fail, "u_a", "reads-dead-bar", read...)
	case b >= 0 && b < deadShare*a:
		w.Say(checks.Fail, "u_b", "reads-dead-line", read...)
	default:
		return judgeLow(w, levels)
	}
	return true
}

// judgeLow fails sides that are neither dead nor live; it tells whether there was one.
func judgeLow(w *checks.Work, levels []float64) bool {
	least := checks.LeastLive
	if len(levels) > 0 {
		least = liveShare * slices.Min(levels) * (1 - quantity.Slack)
	}
	found := false
	for i, key := range []string{"u_a", "u_b"} {
		if u := w.Value(key); u < least {
			w.Say(checks.Fail, key, "side-low", checks.Word("side", "AB"[i:i+1]), checks.Num("read", u, "V"), checks.Num("least", least, "V"), checks.Num("share", liveShare*100, "%"))
			found = true
		}
	}
	return found
}

// deadUnder are the line-to-line volts under which both sides are dead, and not merely low.
func deadUnder(levels []float64) float64 {
	if len(levels) == 0 {
		return checks.LeastLive
	}
	return deadShare * slices.Min(levels)
}

func judgeSlip(w *checks.Work, g *syncCheck, slip *calc.Expr, limit *checks.Limit) {
	switch {
	case limit == nil:
		w.Show("df", "frequency, difference B − A", "Hz", slip)
		w.Say(checks.Inconclusive, "f_b", "slip-without-limit")
	case g.Limits == "same-source" && g.DF == nil:
		if !w.Answered(slip) {
			return
		}
		df := w.Show("df", "frequency, difference B − A", "Hz", slip)
		args := []checks.Arg{checks.Num("slip", df, "Hz"), checks.Num("most", limit.High, "Hz"), checks.Shown("source", limit.Source)}
		if checks.Decide(df, 0, *limit, false) == checks.Pass {
			w.Say(checks.Pass, "f_b", "no-slip", args...)
		} else {
			w.Say(checks.Fail, "f_b", "slip-on-one-source", args...)
		}
	default:
		w.Hold("df", "frequency, difference B − A", "Hz", slip, limit)
	}
}

// clockHour is the displacement of neighbouring vector groups: two sides that stand so
// far apart are no two sides of one supply, and nobody accepts closing them.
const clockHour = 30

// stopApart stops on sides that stand a clock hour apart or more, by volts across the
// poles that can be.
func stopApart(w *checks.Work, g *syncCheck, angles []*calc.Expr) {
	if len(doubtPoles(w.Input, g)) > 0 {
		return
	}
	most := 0.0
	for _, e := range angles {
		if e != nil && w.Answered(e) {
			most = math.Max(most, math.Abs(math.Remainder(e.Eval(w.Value), 360)))
		}
	}
	if quantity.NotBelow(most, clockHour) {
		w.Stop("short-circuit", checks.Inner("why", checks.Say("sides-apart", checks.Num("angle", most, "°"))))
	}
}

// judgeAngle holds the angle at touch, from the angle read and from every pole,
// and gives the one to work on with: the angle read, else the largest of the poles.
// Where neither was read it is that of the cross-volts check; nil when there is none.
func judgeAngle(w *checks.Work, g *syncCheck, turn *calc.Expr, limit *checks.Limit) *calc.Expr {
	var touch *calc.Expr
	ua, ub := w.Read("u_a"), w.Read("u_b")
	if takesCross(w.Input, g) {
		return angleAcross(w, g, turn, limit)
	}
	if w.Has("angle") {
		phi := w.Read("angle")
		touch = calc.Named("angle at touch", "°", phi.Add(turn))
		w.Show("pole_volts", "volts across a pole now", "V", poleVolts(ua, ub, phi))
		w.HoldField("angle", "angle_touch", "angle when the contacts meet", "°", touch, limit)
	}
	var poles []*calc.Expr
	for _, key := range poleKeys {
		if !w.Has(key) {
			continue
		}
		v := w.Read(key)
		phi := calc.Named("angle from "+v.Label(), "°", angleFromPole(ua, ub, v))
		worst := calc.Named("maximum angle when the contacts meet from "+v.Label(), "°", phi.Add(calc.Abs(turn)))
		w.Show("angle_"+key, phi.Label(), "°", phi)
		w.HoldField(key, "angle_touch_"+key, worst.Label(), "°", worst, limit)
		poles = append(poles, worst)
	}
	judgeNeutrals(w, g)
	if a, b, ok := sides(w.Input); ok {
		if at, crossed := crossedPoles(w.Input, a, b); len(at) > 0 {
			w.Stop("short-circuit", checks.Inner("why", crossed))
		} else {
			stopApart(w, g, append(poles, touch))
		}
	}
	switch {
	case len(poles) != 0 && len(poles) != len(poleKeys):
		w.Say(checks.Missing, "p1", "poles-unread", checks.Num("read", float64(len(poles)), ""))
	case len(poles) == 0 && touch == nil:
		w.Say(checks.Missing, "angle", "no-angle-read")
	case touch == nil:
		touch = calc.Named("maximum angle when the contacts meet", "°", calc.Max(poles...))
	}
	return touch
}

// takesCross tells whether the angle is that of an earlier cross-volts check.
func takesCross(in checks.Input, g *syncCheck) bool {
	return g.Cross != "" && !in.Answers.Have("angle") && !slices.ContainsFunc(poleKeys, func(key string) bool { return in.Answers.Have(key) })
}

// angleAcross holds the angle at touch from the displacement that the nine volts of
// the cross-volts check give; nil when they give none.
func angleAcross(w *checks.Work, g *syncCheck, turn *calc.Expr, limit *checks.Limit) *calc.Expr {
	l, ok := crossPast(w, g.Cross)
	if !ok {
		return nil
	}
	phi := calc.Named("angle from check "+g.Cross, "°", l.displacement([3]int{0, 1, 2}, 0))
	touch := calc.Named("angle at touch", "°", phi.Add(turn))
	w.Show("angle_cross", "angle by the volts across, check "+g.Cross, "°", phi)
	w.Show("pole_volts", "volts across a pole now", "V", poleVolts(w.Read("u_a"), w.Read("u_b"), phi))
	w.Hold("angle_touch", "angle when the contacts meet", "°", touch, limit)
	return touch
}

// poleVolts is √((U_A − U_B)² + 4·U_A·U_B·sin²(φ/2))/√3, which is the cosine rule
// written so that small angles keep their digits.
func poleVolts(ua, ub, phi *calc.Expr) *calc.Expr {
	gap := ua.Sub(ub).Pow(2)
	return calc.Sqrt(gap.Add(calc.K(4).Mul(ua).Mul(ub).Mul(calc.SinDeg(phi.Div(calc.K(2))).Pow(2)))).Div(calc.Sqrt(calc.K(3)))
}

// angleFromPole is φ from poleVolts turned round: 2·arcsin √((3·V² − (U_A − U_B)²)/(4·U_A·U_B)),
// 0 where reading errors put the root's square below 0. The cosine rule says the same
// and loses half its digits at the small angles of sides in step.
func angleFromPole(ua, ub, v *calc.Expr) *calc.Expr {
	square := calc.K(3).Mul(v.Pow(2)).Sub(ua.Sub(ub).Pow(2)).Div(calc.K(4).Mul(ua).Mul(ub))
	return calc.K(2).Mul(calc.ArcSinDeg(calc.Sqrt(calc.Max(calc.K(0), calc.Min(calc.K(1), square)))))
}

// digit is one digit of the meter where it read the named fields, the coarsest of
// them; NaN when the plan does not give it.
func digit(w *checks.Work, fields ...string) float64 {
	coarsest := 0.0
	m := w.Plan.Meter(w.Word("meter"))
	for _, key := range fields {
		f, _ := checks.FieldNamed(w.Form(), key)
		if m == nil || !w.Has(key) {
			return math.NaN()
		}
		r, ok := m.RangeFor(quantity.QuantityOf(f.Unit), w.Answers[key].Value)
		if !ok || r.Resolution == nil {
			return math.NaN()
		}
		coarsest = math.Max(coarsest, r.Resolution.Value)
	}
	return coarsest
}
