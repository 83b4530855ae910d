package kinds

import (
	"math"

	"handback/checks"
	"handback/checks/calc"
	"handback/checks/plan"
	"handback/checks/power"
	"handback/checks/quantity"
)

// unbalance is what an unbalance check is given.
type unbalance struct {
	Limit  *quantity.Percent `plan:"limit,pos" doc:"maximum negative-sequence unbalance u2; when not given 2 %, a level of supplies, or 1 % with motors: yes"`
	Motors bool              `plan:"motors" doc:"yes where the volts feed motors that run for long: they stand 1 %"`
	Source string            `plan:"source" doc:"where the plan's own limit comes from; plan when not given"`
	From   string            `plan:"volts_from" ref:"lv-volts" doc:"id of the lv-volts check that read the same volts: its readings are expected again"`
}

// The limits of u2 in per cent when the plan gives none: what a supply may have, and
// what motors stand for long.
const supplyUnbalance, motorUnbalance = 2, 1

var _ = checks.Define(checks.Spec[unbalance]{
	About: plan.About{
		Name: "unbalance", Title: "Voltage unbalance", Group: "Live checks", Live: true,
		Cautions: []string{liveCaution},
		Sources: []string{"u2 from three line-to-line volts: IEC 61000-4-30, 5.7.1", "limit of u2 2 %, a level of supplies: IEC 61000-2-2 and EN 50160, as means over 10 min; or the plan",
			"limit of u2 1 % for motors: IEC 60034-1 7.2.1.1",
			"maximum deviation from the mean: NEMA MG 1, shown beside it; the two differ, so a limit names its definition"},
	},
	Validate: func(p *plan.Plan, c *plan.Check, g *unbalance, say plan.Say) {
		if g.Limit != nil && *g.Limit >= 100 {
			say("limit", "%v %%: u2 goes from 0 to 100 %%, and a limit is a few per cent", float64(*g.Limit))
		}
		if g.Motors && g.Limit != nil && *g.Limit > motorUnbalance {
			say("limit", "%v %%: motors stand %d %% for long (IEC 60034-1); leave out limit or motors", float64(*g.Limit), motorUnbalance)
		}
		if g.Limit == nil && g.Source != "" {
			say("source", "says where a limit comes from, but no limit is given")
		}
	},
	Predict: func(_ *plan.Plan, _ *plan.Check, g *unbalance) []plan.Prediction {
		l := g.limit()
		return []plan.Prediction{{Name: "negative-sequence unbalance u2", Text: l.Text("%"), Source: l.Source}}
	},
	Form: func(in checks.Input, g *unbalance) []checks.Field {
		out := append([]checks.Field{meterField(in)}, lineVolts(in, "", "", true, nil)...)
		out = append(out, phaseVolts(in, "", "", false, nil)...)
		expectAgain(in, out, g.From)
		return atPoint(unbalancePoint(in, g), "", out)
	},
	Doubts: func(in checks.Input, g *unbalance) []checks.Doubt {
		var boards, incomers []string
		if c := in.Plan.Check(g.From); c != nil {
			read := c.Given.(*lvVolts)
			boards, incomers = []string{read.Board}, []string{read.incomer()}
		}
		return doubtSide(in, "", levels(in, boards, incomers))
	},
	Judge: judgeUnbalance,
})

// unbalancePoint is what the volts are read of: the transformer of the lv-volts check
// that is named, or of one above at the very same place; else the place itself.
func unbalancePoint(in checks.Input, g *unbalance) string {
	for _, c := range in.Plan.Checks() {
		if c == in.Check {
			break
		}
		read, ok := c.Given.(*lvVolts)
		if ok && (c.ID == g.From || g.From == "" && c.At != "" && c.At == in.Check.At) {
			return lvSide(in.Plan, read.Transformer)
		}
	}
	return in.Check.At
}

func (g *unbalance) limit() *checks.Limit {
	switch {
	case g.Limit == nil && g.Motors:
		return checks.AtMost(motorUnbalance, "motors for long, IEC 60034-1 7.2.1.1")
	case g.Limit == nil:
		return checks.AtMost(supplyUnbalance, "level of supplies, IEC 61000-2-2 and EN 50160")
	}
	if g.Source != "" {
		return checks.AtMost(float64(*g.Limit), g.Source)
	}
	return checks.AtMost(float64(*g.Limit), "plan")
}

// judgeUnbalance passes when the negative-sequence unbalance is at most the limit:
//
//	u2 = 100·√((1 − r)/(1 + r))     r = √(3 − 6β)     β = ΣU⁴/(ΣU²)²
//
//	U      line-to-line volts, V, able to close a triangle
//	u2     negative over positive sequence, 0 (balanced) to 100 % (one conductor dead)
//	limit  2 % when the plan gives none, a level of supplies (IEC 61000-2-2, EN 50160,
//	       from memory); 1 % with motors: yes (IEC 60034-1 7.2.1.1, second-hand);
//	       the limit itself passes
//
// Shown beside it and not judged: the greatest deviation 100·max|U − Um|/Um from
// the mean Um (NEMA MG 1), and, where the line-to-neutral volts were read, how
// far the neutral lies from the middle of the three conductors, in volts and in
// per cent of the positive sequence. Volts that close no triangle are doubted
// beforehand. The levels are means of the fundamental over 10 min; one r.m.s. reading
// is neither, which the finding says. Three magnitudes cannot tell the sequence: rotation is a check of
// its own. Source: IEC 61000-4-30:2015, 5.7.1.
func judgeUnbalance(w *checks.Work, g *unbalance) {
	w.Caution("one-reading")
	u := []*calc.Expr{w.Read("l1l2"), w.Read("l2l3"), w.Read("l3l1")}
	w.Hold("u2", "negative-sequence unbalance u2", "%", calc.NegativeShare(u), g.limit())
	w.Show("greatest_deviation", "maximum deviation from the mean (NEMA MG 1)", "%", greatestDeviation(u))
	all := sixVolts(w)
	w.Show("u0_volts", "displacement of the neutral from the middle", "V",
		calc.Solve("distance from the middle of the volt triangle to the point nearest to all three line-to-neutral readings", neutralOff(false), all...))
	w.Show("u0", "zero-sequence unbalance u0", "%", neutralShare(w))
}

// sixVolts are the line-to-line and the line-to-neutral volts.
func sixVolts(w *checks.Work) []*calc.Expr {
	var out []*calc.Expr
	for _, k := range append(lineKeys[:], phaseKeys[:]...) {
		out = append(out, w.Read(k))
	}
	return out
}

// neutralShare is how far the neutral stands from the middle of the conductors, in per
// cent of the positive sequence volts.
func neutralShare(w *checks.Work) *calc.Expr {
	return calc.Solve("displacement of the neutral over the positive sequence volts", neutralOff(true), sixVolts(w)...)
}

// greatestDeviation is the greatest deviation from the mean in per cent of it.
func greatestDeviation(u []*calc.Expr) *calc.Expr {
	mean := calc.Named("mean of the line-to-line volts", "V", calc.Mean(u...))
	return calc.Max(calc.Abs(u[0].Sub(mean)), calc.Abs(u[1].Sub(mean)), calc.Abs(u[2].Sub(mean))).Div(mean).Times(100)
}

// neutralOff gives the displacement of the neutral from six volts, L-L then L-N:
// in V, or as share of the positive sequence in per cent. NaN when the volts are
// impossible.
func neutralOff(share bool) func([]float64) float64 {
	return func(v []float64) float64 {
		points, err := power.Triangle([3]float64(v[:3]))
		if err != nil {
			return math.NaN()
		}
		n, _, err := power.Neutral(points, [3]float64(v[3:]))
		if err != nil {
			return math.NaN()
		}
		volts, ratio, err := power.ZeroSequence(points, n)
		if err != nil {
			return math.NaN()
		}
		if share {
			return 100 * ratio
		}
		return volts
	}
}
