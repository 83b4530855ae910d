package kinds

import (
	"fmt"
	"math"
	"math/cmplx"
	"strings"

	"handback/checks"
	"handback/checks/calc"
	"handback/checks/plan"
	"handback/checks/power"
	"handback/checks/quantity"
)

// parallelBalance is what a parallel-balance check is given.
type parallelBalance struct {
	A           string            `plan:"a,need" ref:"transformer" doc:"the transformer on the bar already"`
	B           string            `plan:"b,need" ref:"transformer" doc:"the transformer that is to share the bar"`
	TapA        string            `plan:"tap_a" doc:"tap position of a in use; the transformer's own when not given"`
	TapFromA    string            `plan:"tap_from_a" ref:"tap-links" doc:"id of the tap-links check whose left position a stands on"`
	TapB        string            `plan:"tap_b" doc:"tap position of b in use; the transformer's own when not given"`
	TapFromB    string            `plan:"tap_from_b" ref:"tap-links" doc:"id of the tap-links check whose left position b stands on"`
	Board       string            `plan:"board,need" ref:"board" doc:"the board they are to share, whose ratings hold the fault level"`
	Difference  *quantity.Percent `plan:"difference,pos" doc:"maximum difference of volts, of a's; 1 % when not given (our choice)"`
	Circulating quantity.Percent  `plan:"circulating,need,pos" doc:"maximum circulating current, of each transformer's rated current, such as 10 %"`
	Match       *quantity.Percent `plan:"impedance_match,pos" doc:"how far the impedances in per cent may differ, of the smaller; 10 % when not given (common practice)"`
	Ratio       *float64          `plan:"rating_ratio,pos" doc:"maximum ratio of the ratings; 3 when not given (common practice)"`
	Cross       string            `plan:"cross_from" ref:"cross-volts" doc:"id of the cross-volts check whose phasors give the vector difference and the circulating current; without it both sides are taken to stand at the same angle"`
	Factor      *float64          `plan:"voltage_factor,pos" doc:"voltage factor c of the fault level (IEC 60909-0 Table 1); when not given 1.10 where a band of the plan lets the board rise by more than 6 %, else 1.05"`
}

var _ = checks.Define(checks.Spec[parallelBalance]{
	About: plan.About{
		Name: "parallel-balance", Title: "Balance before paralleling", Group: "Live checks", Live: true,
		Joins: true,
		Cautions: []string{liveCaution,
			"Equal volts do not prove phase: prove every pole before closing."},
		Sources: []string{"difference 1 %: our choice", "impedances within 10 %, ratings within 3:1: common practice, as textbooks on electrical machines have it",
			"circulating current: the plan",
			"fault level: IEC 60909-0, against the board's ratings"},
	},
	Validate: validateParallelBalance,
	Predict:  predictParallelBalance,
	Form: func(in checks.Input, g *parallelBalance) []checks.Field {
		a, tapA := transformerOnTap(in, g.A, g.TapA, g.TapFromA)
		b, tapB := transformerOnTap(in, g.B, g.TapB, g.TapFromB)
		ea, eb := expectNoLoad(in, a, tapA, "", 1), expectNoLoad(in, b, tapB, "", 1)
		out := []checks.Field{meterField(in)}
		out[0].Hint = "one instrument for both sides, by its id in the plan: its own error then cancels in the difference"
		neutral := bothNeutrals(in, g)
		out = append(out, lineVolts(in, "a_", g.A+" ", true, ea)...)
		if neutral {
			out = append(out, phaseVolts(in, "a_", g.A+" ", true, scaled(ea, 1/math.Sqrt(3)))...)
		}
		out = append(out, lineVolts(in, "b_", g.B+" ", true, eb)...)
		if neutral {
			out = append(out, phaseVolts(in, "b_", g.B+" ", true, scaled(eb, 1/math.Sqrt(3)))...)
		}
		return atPoint(lvSide(in.Plan, g.A), "a_", atPoint(lvSide(in.Plan, g.B), "b_", out))
	},
	Doubts: func(in checks.Input, g *parallelBalance) []checks.Doubt {
		out := append(doubtVolts(in, "a_"), doubtVolts(in, "b_")...)
		return append(out, checks.NotYetDoubted(doubtLive(in, levels(in, []string{g.Board}, []string{g.A, g.B}), sidesOf(lineKeys, "a_", "b_"), sidesOf(phaseKeys, "a_", "b_")), out)...)
	},
	Judge: judgeParallelBalance,
})

func validateParallelBalance(p *plan.Plan, c *plan.Check, g *parallelBalance, say plan.Say) {
	needTap(p, "tap_a", g.A, g.TapA, say)
	needTap(p, "tap_b", g.B, g.TapB, say)
	needTapFrom(p, "tap_from_a", g.A, g.TapFromA, say)
	needTapFrom(p, "tap_from_b", g.B, g.TapFromB, say)
	needTapKnown(p, "tap_a", g.A, g.TapA, g.TapFromA, say)
	needTapKnown(p, "tap_b", g.B, g.TapB, g.TapFromB, say)
	needCross(p, g.Cross, g.A, g.B, say)
	if g.A == g.B {
		say("b", "%q is a as well: two transformers are wanted", g.B)
	}
	if g.Ratio != nil && *g.Ratio < 1 {
		say("rating_ratio", "%v: the larger rating over the smaller is 1 or more", *g.Ratio)
	}
	if g.Factor != nil && (*g.Factor < 0.9 || *g.Factor > 1.1) {
		say("voltage_factor", "%v: IEC 60909-0 Table 1 gives 1.05 or 1.10 for the maximum current", *g.Factor)
	}
}

// bothNeutrals tells whether both transformers bring out an LV neutral, so that
// line-to-neutral volts can be read on both sides.
func bothNeutrals(in checks.Input, g *parallelBalance) bool {
	for _, id := range []string{g.A, g.B} {
		t := in.Plan.Transformer(id)
		if t == nil {
			return false
		}
		group, err := power.ParseGroup(t.Group)
		if err != nil || !group.LVNeutral {
			return false
		}
	}
	return true
}

// judgeParallelBalance passes when the volts of both sides agree, what difference
// there is drives no more circulating current than the plan allows, and the plates
// allow the two to share the board. From the readings, pair by pair:
//
//	d    = 100·(U_B − U_A)/U_A                        −difference ≤ d ≤ difference
//	ΔE_i = |(B_i − B̄) − (A_i − Ā)|                    shown
//	Ic   = max(ΔE_i, |U_A − U_B|/√3) / |Z_A + Z_B|    100·Ic/I_rated ≤ circulating, for each transformer
//	In   = max|(B_i − N_B) − (A_i − N_A)| / |Z_A + Z_B|    likewise, where both neutrals are out
//
//	U_A, U_B   line-to-line volts (d also line-to-neutral)  V    > 0
//	A, B       conductors of each side as phasors           V    from its line-to-line volts; Ā, B̄ their centroids
//	N_A, N_B   neutrals, found from the volts to neutral    V
//	Z_A, Z_B   R + jX per phase, each on its own rated LV   Ω    see Transformer.ohms; to neutral the same (our choice: so in
//	                                                             units with a delta winding)
//	I_rated    S/(√3·U_lv)                                  A
//
// Both sides are taken to stand at the same angle, which volts of one side alone
// cannot show: that is for the cross voltages. Without volts to neutral a triangle of
// volts does not tell either how it lies: the worst of laying the triangles over each
// other by any of their sides is held as well, and beyond the limit inconclusive. Where
// the plan names a cross-volts check, its phasors are taken instead, each side at its
// own angle.
//
// From the plates: equal clock numbers, else fail; impedances within impedance_match
// of the smaller; the larger rating over the smaller at most rating_ratio; fault
// current and peak with both in parallel (IEC 60909-0, greatest current) at most the board's
// short-time and peak withstand. A rating the plan does not give is inconclusive. c is
// 1.10 where a band of the plan lets the board rise by more than 6 %, else 1.05, or the
// plan's voltage_factor; how far the impedances may take the level is shown beside it.
// Limits include their own value.
func judgeParallelBalance(w *checks.Work, g *parallelBalance) {
	a, b := w.Plan.Transformer(g.A), w.Plan.Transformer(g.B)
	drive := phasorsApart(w, g)
	balanceVolts(w, g, drive.apart)
	balanceCurrent(w, g, a, b, "circulating", "circulating current", drive.phases, w.Hold)
	if drive.neutral != nil {
		balanceCurrent(w, g, a, b, "circulating_n", "circulating current (neutrals joined)", drive.neutral, w.Hold)
	}
	if drive.laid != nil {
		balanceCurrent(w, g, a, b, "circulating_most", "circulating current (however the volts lie)", drive.laid, holdLaid(w))
	}
	balancePlates(w, g, a, b)
	balanceFault(w, g, a, b)
	drawBoth(w, g)
}

// balanceVolts holds the difference of every pair and shows the vector differences.
func balanceVolts(w *checks.Work, g *parallelBalance, apart [3]*calc.Expr) {
	limit := limitOf("parallel-balance.difference", g.Difference)
	keys := lineKeys[:]
	if bothNeutrals(w.Input, g) {
		keys = append(append([]string{}, keys...), phaseKeys[:]...)
	}
	for _, k := range keys {
		ua, ub := w.Read("a_"+k), w.Read("b_"+k)
		pair := strings.TrimPrefix(ub.Label(), g.B+" ") + ", difference " + g.B + " − " + g.A
		w.Show("volts_"+k, pair, "V", ub.Sub(ua))
		w.HoldField("b_"+k, "diff_"+k, pair, "%", ub.Sub(ua).Div(ua).Times(100), limit)
	}
	lines, _ := w.Plan.Conductors()
	for i, name := range lines {
		w.Show(fmt.Sprintf("vector_l%d", i+1), "vector difference at "+name, "V", apart[i])
	}
}

// balanceCurrent holds a circulating current against each rating.
func balanceCurrent(w *checks.Work, g *parallelBalance, a, b *plan.Transformer, key, name string, driving *calc.Expr, hold func(key, name, unit string, e *calc.Expr, l *checks.Limit) checks.Verdict) {
	current := calc.Named(name, "A", driving.Div(loopOhms(a, b)))
	w.Show(key, name, "A", current)
	for i, t := range []*plan.Transformer{a, b} {
		hold(key+"_"+"ab"[i:i+1], name+" of the rated current of "+t.ID, "%",
			current.Div(ratedAmps(t.Rated())).Times(100), checks.AtMost(float64(g.Circulating), "plan"))
	}
}

// holdLaid is the holdMost of a current that the volts of each side alone do not tell.
func holdLaid(w *checks.Work) func(key, name, unit string, e *calc.Expr, l *checks.Limit) checks.Verdict {
	return func(key, name, unit string, e *calc.Expr, l *checks.Limit) checks.Verdict {
		return w.HoldMost(key, name, unit, e, l, checks.Say("cross-volts-decide"))
	}
}

// balancePlates holds vector group, impedance and rating against each other.
func balancePlates(w *checks.Work, g *parallelBalance, a, b *plan.Transformer) {
	sayGroups(w, a, b)
	za, zb := calc.Datum("impedance of "+a.ID, float64(a.Impedance), "%"), calc.Datum("impedance of "+b.ID, float64(b.Impedance), "%")
	w.Hold("impedance_match", "difference of the impedances, of the smaller", "%",
		calc.Max(za, zb).Sub(calc.Min(za, zb)).Div(calc.Min(za, zb)).Times(100), limitOf("parallel-balance.impedance_match", g.Match))
	sa, sb := calc.Datum("rating of "+a.ID, float64(a.Rating), "VA"), calc.Datum("rating of "+b.ID, float64(b.Rating), "VA")
	w.Hold("rating_ratio", "larger rating over the smaller", "",
		calc.Max(sa, sb).Div(calc.Min(sa, sb)), limitOf("parallel-balance.rating_ratio", g.Ratio))
}

// sayGroups says whether the vector groups agree.
func sayGroups(w *checks.Work, a, b *plan.Transformer) {
	verdict, args := checks.Fail, []checks.Arg{checks.Word("a", a.ID), checks.Word("group_a", a.Group), checks.Word("b", b.ID), checks.Word("group_b", b.Group)}
	code, remedy := groupsAgree(a, b)
	switch code {
	case groupsAlike:
		verdict = checks.Pass
	case groupsApart:
		args = append(args, checks.Shown("remedy", remedy))
	}
	w.Say(verdict, "", code, args...)
}

// balanceFault holds the fault level with both in parallel against the board's ratings.
func balanceFault(w *checks.Work, g *parallelBalance, a, b *plan.Transformer) {
	board := w.Plan.Board(g.Board)
	c := or(g.Factor, voltageFactor(w.Plan, board))
	f, err := faultWith(w.Input, c, board, a, b)
	if err != nil {
		w.Say(checks.Inconclusive, "", "no-fault-level", checks.Shown("why", err.Error()))
		return
	}
	how := faultHow(w.Input, c)
	give := func(x float64, how string) *calc.Expr {
		return calc.Solve(how, func([]float64) float64 { return x })
	}
	w.Show("kappa", "peak factor κ with both in parallel", "", give(f.Kappa, "1.02 + 0.98·e^(−3R/X), IEC 60909-0"))
	holdRating(w, "fault_both", "fault current with both in parallel", give(f.InitialA, how), board.ShortTime, "short-time", board)
	holdRating(w, "peak_both", "peak fault current with both in parallel", give(f.PeakA, "κ·√2 times the fault current, IEC 60909-0"), board.Peak, "peak", board)
	showFaultTolerance(w, c, board, a, b)
}

func holdRating(w *checks.Work, key, name string, e *calc.Expr, rating *quantity.Ampere, of string, b *plan.Board) {
	if rating == nil {
		v := w.Show(key, name, "A", e)
		w.Say(checks.Inconclusive, "", "no-rating", checks.Word("rating", of), checks.Num("current", v, "A"), checks.Word("board", b.ID))
		return
	}
	w.Hold(key, name, "A", e, checks.AtMost(float64(*rating), of+" withstand of "+b.ID))
}

// faultHow says in words what a fault level is worked out from.
func faultHow(in checks.Input, c float64) string {
	supply := "an HV supply without limit, as the plan gives no fault level"
	if s := in.Plan.Plant.Supply; s != nil && s.Fault != nil {
		supply = quantity.Spell(float64(*s.Fault)/1e6, "MVA") + " of HV supply"
	}
	return fmt.Sprintf("c·U_n/(√3·|Z_supply + Z_transformers|) with c = %s and %s, IEC 60909-0, motors left out", quantity.Significant(c, 4), supply)
}

// predictParallelBalance is the paralleling study from plan data alone.
func predictParallelBalance(p *plan.Plan, c *plan.Check, g *parallelBalance) []plan.Prediction {
	in := checks.Input{Plan: p, Check: c}
	a, b := p.Transformer(g.A), p.Transformer(g.B)
	code, _ := groupsAgree(a, b)
	out := []plan.Prediction{{Name: "vector groups", Text: groupsText(a, b), Source: "IEC 60076-8", Warn: code != groupsAlike}}
	out = append(out, predictBalance(in, g)...)
	return append(out, predictFault(in, g, a, b)...)
}

func predictBalance(in checks.Input, g *parallelBalance) []plan.Prediction {
	a, err := feedOf(in, g.A, g.TapA, g.TapFromA)
	var b feed
	if err == nil {
		b, err = feedOf(in, g.B, g.TapB, g.TapFromB)
	}
	var loop complex128
	if err == nil {
		loop, err = power.Circulating(a.source, b.source)
	}
	if err != nil {
		return []plan.Prediction{{Name: "balance", Text: err.Error(), Source: "nameplates", Warn: true}}
	}
	source := fmt.Sprintf("nameplates, tap %s of %s and %s of %s", a.tap.Position, a.t.ID, b.tap.Position, b.t.ID)
	diff, limit := 100*(b.lv-a.lv)/a.lv, limitOf("parallel-balance.difference", g.Difference).High
	out := []plan.Prediction{{Name: "no-load volts", Source: source, Warn: !quantity.NotAbove(math.Abs(diff), limit),
		Text: fmt.Sprintf("%s %s, %s %s: difference %s, ±%s %% allowed", a.t.ID, quantity.Show(a.lv, "V", 1), b.t.ID, quantity.Show(b.lv, "V", 1), quantity.Show(diff, "%", 2), quantity.Significant(limit, 4))}}
	amps := cmplx.Abs(loop)
	for _, f := range []feed{a, b} {
		pct := 100 * amps / f.amps
		out = append(out, plan.Prediction{Name: "circulating current, " + f.t.ID, Source: source, Warn: !quantity.NotAbove(pct, float64(g.Circulating)),
			Text: fmt.Sprintf("%s, %s of rated %s; %s allowed", quantity.Show(amps, "A", 1), quantity.Show(pct, "%", 2), quantity.Show(f.amps, "A", 0), quantity.Significant(float64(g.Circulating), 4)+" %")})
	}
	return append(out, predictShare([]feed{a, b})...)
}

func predictFault(in checks.Input, g *parallelBalance, a, b *plan.Transformer) []plan.Prediction {
	board := in.Plan.Board(g.Board)
	c := or(g.Factor, voltageFactor(in.Plan, board))
	var out []plan.Prediction
	for _, set := range []struct {
		name  string
		units []*plan.Transformer
	}{{a.ID + " alone", []*plan.Transformer{a}}, {b.ID + " alone", []*plan.Transformer{b}}, {"both in", []*plan.Transformer{a, b}}} {
		f, err := faultWith(in, c, board, set.units...)
		q := plan.Prediction{Name: "fault level, " + set.name, Source: faultHow(in, c), Warn: true}
		if err != nil {
			q.Text = err.Error()
		} else {
			q.Text = fmt.Sprintf("%s, peak %s (κ %s), against %s and %s of %s", kA(f.InitialA), kA(f.PeakA), quantity.Significant(f.Kappa, 3),
				ratingText(board.ShortTime, "short-time"), ratingText(board.Peak, "peak"), board.ID)
			q.Warn = !quantity.NotAbove(f.InitialA, quantity.OrNaN(board.ShortTime)) || !quantity.NotAbove(f.PeakA, quantity.OrNaN(board.Peak))
		}
		out = append(out, q)
	}
	return out
}

func kA(amps float64) string { return quantity.Show(amps/1000, "kA", 2) }

func ratingText(rating *quantity.Ampere, of string) string {
	if rating == nil {
		return "no " + of + " rating in the plan"
	}
	return quantity.Spell(float64(*rating)/1000, "kA") + " " + of
}
