package kinds

import (
	"fmt"
	"math"
	"strings"

	"handback/checks"
	"handback/checks/plan"
	"handback/checks/quantity"
)

// crossVolts is what a cross-volts check is given.
type crossVolts struct {
	A       string            `plan:"side_a,need" doc:"what the running side is called, such as section A"`
	B       string            `plan:"side_b,need" doc:"what the side to be closed on to it is called, such as T2"`
	FromA   string            `plan:"transformer_a" ref:"transformer" doc:"the transformer that side A is live from: LV volts of it read a few minutes before with the same instrument serve again"`
	FromB   string            `plan:"transformer_b" ref:"transformer" doc:"the same of side B"`
	Device  string            `plan:"device,need" doc:"the device that is open between them and would close"`
	Tied    bool              `plan:"neutrals_tied,need" doc:"yes when the neutrals of both sides are joined while the volts are read, be it by a test link; without, the volts across prove nothing and the check cannot pass"`
	Board   string            `plan:"board" ref:"board" doc:"the board whose nominal volts these are; give it or nominal"`
	Nominal *quantity.Volt    `plan:"nominal,pos" doc:"nominal line-to-line volts; give it or board"`
	Limit   *quantity.Volt    `plan:"limit,pos" doc:"maximum volts from a conductor of A to its own of B"`
	Share   *quantity.Percent `plan:"limit_share,pos" doc:"the same limit as a share of the nominal line-to-line volts; 5 % when neither is given, which is about 5° apart (our choice)"`
}

// hourShare is what one clock hour of displacement brings across a pole, as a share
// of the line-to-line volts: 2·sin(15°)/√3.
const hourShare = 0.2988

var _ = checks.Define(checks.Spec[crossVolts]{
	About: plan.About{
		Name: "cross-volts", Title: "Volts across the open device", Group: "Live checks", Live: true,
		Joins: true, Across: true,
		Cautions: []string{liveCaution,
			"Both sides are live, up to twice the phase volts apart: use leads, meter and fuses rated for that. The device must be unable to close.",
			"Make sure that side B is live from its own source: a closed pole or a back-feed reads as if it were in phase. Prove the meter on a known live source before and after: an unlit or zero reading alone proves nothing."},
		Sources: []string{"limit across a pole: the plan; 5 % of nominal line-to-line volts, about 5° apart, where it gives none (our choice)",
			"neutral taken as not tied beyond 3 % of the phase volts: our choice"},
	},
	Validate: validateCrossVolts,
	Predict: func(p *plan.Plan, c *plan.Check, g *crossVolts) []plan.Prediction {
		in := checks.Input{Plan: p, Check: c}
		l, nominal := crossLimit(in, g), crossNominal(in, g)
		return []plan.Prediction{
			{Name: "each conductor to its own", Text: "0 V expected, " + l.Text("V"), Source: l.Source},
			{Name: "each conductor to the other two", Text: quantity.Spell(nominal, "V") + " expected", Source: "nominal volts, both sides in phase"},
			{Name: "the same, one clock hour apart", Text: fmt.Sprintf("%s to its own, %s and %s to the others", quantity.Spell(nominal*hourShare, "V"),
				quantity.Show(nominal*2*math.Sin(45*math.Pi/180)/math.Sqrt(3), "V", 1), quantity.Show(nominal*2*math.Sin(75*math.Pi/180)/math.Sqrt(3), "V", 1)), Source: "geometry"},
		}
	},
	Form:   formCrossVolts,
	Doubts: doubtCrossVolts,
	Judge:  judgeCrossVolts,
})

func validateCrossVolts(p *plan.Plan, c *plan.Check, g *crossVolts, say plan.Say) {
	if strings.TrimSpace(g.A) == strings.TrimSpace(g.B) {
		say("side_b", "%q is side A as well: two sides are wanted", g.B)
	}
	switch {
	case g.Board == "" && g.Nominal == nil:
		say("nominal", "missing: give nominal volts or a board, to know what to expect")
		return
	case g.Board != "" && g.Nominal != nil:
		say("nominal", "give nominal volts or a board, not both")
	}
	if g.Limit != nil && g.Share != nil {
		say("limit_share", "give limit or limit_share, not both")
	}
	in := checks.Input{Plan: p, Check: c}
	if l, top := crossLimit(in, g), hourShare*crossNominal(in, g); l.High >= top {
		say("limit", "%s is what one clock hour apart brings, %s, or more: give less", quantity.Spell(l.High, "V"), quantity.Spell(top, "V"))
	}
}

// args are the sides as words call them, with more.
func (g *crossVolts) args(more ...checks.Arg) []checks.Arg {
	return append([]checks.Arg{checks.Word("a", g.A), checks.Word("b", g.B)}, more...)
}

// crossNominal is the nominal line-to-line volts of both sides.
func crossNominal(in checks.Input, g *crossVolts) float64 {
	if g.Nominal != nil {
		return float64(*g.Nominal)
	}
	return nominal(in, g.Board)
}

// crossLimit is what a conductor of A may read to its own of B.
func crossLimit(in checks.Input, g *crossVolts) *checks.Limit {
	if g.Limit != nil {
		return checks.AtMost(float64(*g.Limit), "plan")
	}
	share := limitOf("cross-volts.limit_share", g.Share)
	return checks.AtMost(share.High/100*crossNominal(in, g), share.Source)
}

func formCrossVolts(in checks.Input, g *crossVolts) []checks.Field {
	c, _ := in.Plan.Conductors()
	nominal, limit := crossNominal(in, g), crossLimit(in, g).High
	around := &checks.Expect{Value: nominal, Low: 0.9 * nominal, High: 1.1 * nominal, Source: "nominal volts"}
	out := append([]checks.Field{meterField(in)}, lineVolts(in, "a_", g.A+" ", true, around)...)
	read, known := three(in, "a_", lineKeys)
	for i := range 3 {
		for j := range 3 {
			f := checks.Field{Key: crossKey(i, j), Label: fmt.Sprintf("%s %s to %s %s", g.A, c[i], g.B, c[j]), Sort: checks.Measured, Unit: "V", Need: true,
				Row: fmt.Sprintf("x%d", i+1), Meter: "meter", Example: "418.2", Hint: fmt.Sprintf("across %s, which stays open", g.Device)}
			switch {
			case i == j:
				f.Example, f.Expect = "1.4", &checks.Expect{Value: 0, Low: 0, High: limit, Source: "in phase"}
			case known:
				u := read[pairOf(i, j)]
				f.Expect = &checks.Expect{Value: u, Low: u - limit, High: u + limit, Source: "line-to-line volts of " + g.A + " read"}
			default:
				f.Expect = &checks.Expect{Value: nominal, Low: 0.9 * nominal, High: 1.1 * nominal, Source: "nominal volts"}
			}
			out = append(out, f)
		}
	}
	out = append(out, phaseVolts(in, "a_", g.A+" ", false, scaled(around, 1/math.Sqrt(3)))...)
	out = append(out, phaseVolts(in, "b_", g.B+" ", false, scaled(around, 1/math.Sqrt(3)))...)
	return atPoint(lvSide(in.Plan, g.FromA), "a_", atPoint(lvSide(in.Plan, g.FromB), "b_", out))
}

// judgeCrossVolts passes when each conductor of B stands for its own of A, in step,
// with the neutrals tied, and no volts from a conductor to its own exceed the limit:
//
//	V(A_i − B_i) ≤ limit      i = L1, L2, L3
//
// No balance is assumed. A is drawn as a triangle from its three line-to-line
// volts, about its neutral where the volts to it were read, else about its centroid;
// each B_j is the point whose three distances fit best. Then
//
//	displacement = arg Σ (B_j − B̄)·conj(A_p(j) − Ā)     °, positive when B leads A
//	offset       = |B̄ − N_A|                            V
//
//	p      which conductor of A each of B stands for: of six mappings the one of
//	       B's sequence that leaves the smallest displacement
//	Ā, B̄   centroids; N_A the neutral of A (Ā where its volts to neutral were not read)
//
// Conductors crossed, rolled, or displaced by a clock hour (30°) or more stop the
// work: closing would be a short circuit. A dead conductor fails. An offset beyond 3 % of
// the phase volts fails: where every conductor of B stands on the ray of its own of A,
// a phase is low or high; else the neutrals are not tied, and a zero across one pole then
// proves nothing; where the plan itself says not tied, the check is inconclusive at
// best. Readings that contradict one another, or fit no three-phase system, are
// inconclusive. Limits include their own value. Source: plane geometry; power.JudgeCross.
func judgeCrossVolts(w *checks.Work, g *crossVolts) {
	c, _ := w.Plan.Conductors()
	limit := crossLimit(w.Input, g)
	for i := range 3 {
		u := w.Read(crossKey(i, i))
		w.HoldField(crossKey(i, i), fmt.Sprintf("pole_l%d", i+1), fmt.Sprintf("volts across %s, pole %s", g.Device, c[i]), "V", u, limit)
	}
	v, ok := crossReadings(w.Input)
	if !ok {
		return
	}
	found := findCross(w.Input, v)
	if found.err != nil {
		w.Say(checks.Inconclusive, "", "volts-not-drawn", checks.Shown("why", found.err.Error()))
		return
	}
	showCross(w, g, found.CrossFinding)
	nameCross(w, g, found.CrossFinding)
	drawCross(w, g, found.CrossFinding)
	if !g.Tied {
		args := g.args()
		if !math.IsNaN(found.Offset) {
			args = append(args, checks.Num("offset", found.Offset, "V"))
		}
		w.Say(checks.Inconclusive, "", "sides-not-tied", args...)
	}
}
