package kinds

import (
	"cmp"
	"fmt"
	"math"

	"handback/checks"
	"handback/checks/calc"
	"handback/checks/plan"
	"handback/checks/quantity"
)

// lvVolts is what an lv-volts check is given.
type lvVolts struct {
	Transformer string            `plan:"transformer" ref:"transformer" doc:"the transformer whose LV volts are read"`
	Incomer     string            `plan:"incomer" ref:"incomer" doc:"the generator or feeder whose volts are read, in place of a transformer"`
	Board       string            `plan:"board" ref:"board" doc:"the board whose nominal volts the bands are drawn around"`
	Tap         string            `plan:"tap" doc:"tap position in use; the transformer's own when not given"`
	TapFrom     string            `plan:"tap_from" ref:"tap-links" doc:"id of the tap-links check whose left position is in use"`
	HVFrom      string            `plan:"hv_from" ref:"measure" doc:"id of the measure check that read the HV volts"`
	Line        *Band             `plan:"line_band" doc:"band of the line-to-line volts"`
	Phase       *Band             `plan:"phase_band" doc:"band of the line-to-neutral volts"`
	Tolerance   *quantity.Percent `plan:"tolerance,pos" doc:"maximum deviation from the predicted volts; 1 % when not given; of an incomer that is no transformer, from its rated volts where given"`
}

var _ = checks.Define(checks.Spec[lvVolts]{
	About: plan.About{
		Name: "lv-volts", Title: "LV volts at no load", Group: "Live checks", Live: true,
		Joins:    true,
		Cautions: []string{liveCaution},
		Sources: []string{"bands: IEC 60038, GB statute, ANSI C84.1 or the plan", "deviation from prediction 1 %: our choice",
			"neutral displaced at most 10 %: our choice"},
	},
	Validate: func(p *plan.Plan, c *plan.Check, g *lvVolts, say plan.Say) {
		g.needOne(p, say)
		needTap(p, "tap", g.Transformer, g.Tap, say)
		needHVVolts(p, "hv_from", g.HVFrom, say)
		g.Line.validate("line_band", say)
		g.Phase.validate("phase_band", say)
		if g.Board == "" && (g.Line != nil && g.Line.Standard != "" || g.Phase != nil && g.Phase.Standard != "") {
			say("board", "missing: a published band is drawn around a board's nominal volts")
		}
	},
	Predict: func(p *plan.Plan, c *plan.Check, g *lvVolts) []plan.Prediction {
		e := expectLV(checks.Input{Plan: p, Check: c}, g)
		if e == nil {
			return nil
		}
		return []plan.Prediction{{Name: "line-to-line volts", Source: e.Source,
			Text: fmt.Sprintf("%s expected, %s to %s", quantity.Show(e.Value, "V", 1), quantity.Show(e.Low, "V", 1), quantity.Show(e.High, "V", 1))}}
	},
	Form: func(in checks.Input, g *lvVolts) []checks.Field {
		e := expectLV(in, g)
		out := []checks.Field{meterField(in)}
		out = append(out, lineVolts(in, "", "", true, e)...)
		out = append(out, phaseVolts(in, "", "", true, scaled(e, 1/math.Sqrt(3)))...)
		return atPoint(lvSide(in.Plan, g.Transformer), "", out)
	},
	Doubts: func(in checks.Input, g *lvVolts) []checks.Doubt {
		return doubtSide(in, "", levels(in, []string{g.Board}, []string{g.incomer()}))
	},
	Judge: judgeLVVolts,
})

// neutralOffMost is how far the neutral of a transformer at no load may stand from the
// middle of its conductors, % of the positive sequence volts (our choice).
const neutralOffMost = 10

// incomer is the id of what the volts are read of.
func (g *lvVolts) incomer() string { return cmp.Or(g.Transformer, g.Incomer) }

// needOne demands a transformer or another incomer, and of the latter nothing that
// belongs to a transformer.
func (g *lvVolts) needOne(p *plan.Plan, say plan.Say) {
	switch {
	case g.incomer() == "":
		say("transformer", "missing: the transformer whose LV volts are read, or another incomer under incomer")
	case g.Transformer != "" && g.Incomer != "":
		say("incomer", "%s is given beside transformer %s: give one of the two", g.Incomer, g.Transformer)
	case g.Incomer != "" && p.Transformer(g.Incomer) != nil:
		say("incomer", "%s is a transformer: give it as transformer", g.Incomer)
	case g.Incomer != "" && (g.Tap != "" || g.TapFrom != "" || g.HVFrom != ""):
		say("incomer", "%s is no transformer: tap, tap_from and hv_from belong to one", g.Incomer)
	}
}

// expectLV predicts the line-to-line volts: of a transformer from its HV volts, of
// another incomer its rated ones, within the plan's tolerance or band.
func expectLV(in checks.Input, g *lvVolts) *checks.Expect {
	if x := in.Plan.Rated(g.Incomer); x != nil {
		u := float64(x.Volts)
		e := &checks.Expect{Value: u, Low: 0.9 * u, High: 1.1 * u, Source: "rated volts of " + x.ID}
		if band := g.Line.limit(nominal(in, g.Board)); g.Tolerance != nil {
			share := float64(*g.Tolerance) / 100
			e.Low, e.High = u*(1-share), u*(1+share)
		} else if band != nil {
			e.Low, e.High = orElse(band.Low, e.Low), orElse(band.High, e.High)
		}
		return e
	}
	t, tap := transformerOnTap(in, g.Transformer, g.Tap, g.TapFrom)
	return expectNoLoad(in, t, tap, g.HVFrom, limitOf("lv-volts.tolerance", g.Tolerance).High)
}

// judgeLVVolts passes when all six volts are inside their bands and, once the
// HV volts were read, no line-to-line reading is further than the tolerance from
// the prediction:
//
//	U_p = U_hv · U_lv,rated / U_hv,tap      d = 100·(U − U_p)/U_p      −tol ≤ d ≤ tol
//
// Of an incomer that is no transformer U_p is its rated volts, and d is judged where the
// plan gives a tolerance. And the neutral stands no further from the middle of the conductors than 10 % of the
// positive sequence volts (our choice): beyond it a neutral is lost or a conductor is
// to earth, and line-to-line volts do not show that.
//
//	U_hv      HV line-to-line volts read           V
//	U_lv      rated no-load LV line-to-line volts  V
//	U_hv,tap  HV volts of the tap in use           V
//	tol       1 % when the plan gives none (our choice)
//
// Limits include their own value. Bands: IEC 60038, GB statute, ANSI C84.1, plan.
func judgeLVVolts(w *checks.Work, g *lvVolts) {
	lines, phases := g.Line.limit(nominal(w.Input, g.Board)), g.Phase.phaseLimit(nominal(w.Input, g.Board))
	t, tap := transformerOnTap(w.Input, g.Transformer, g.Tap, g.TapFrom)
	var predicted *calc.Expr
	if hv, ok := w.Past(g.HVFrom, "value"); ok && t != nil && tap != nil {
		predicted = calc.Named("predicted volts", "V", hv.Mul(calc.Datum("rated LV", float64(t.LV), "V")).Div(calc.Datum("HV of tap "+tap.Position, float64(tap.HV), "V")))
		w.Show("predicted", "predicted line-to-line volts", "V", predicted)
	}
	if x := w.Plan.Rated(g.Incomer); x != nil && g.Tolerance != nil {
		predicted = calc.Datum("rated volts of "+x.ID, float64(x.Volts), "V")
	}
	for i, key := range append(lineKeys[:], phaseKeys[:]...) {
		u := w.Read(key)
		band := lines
		if i >= 3 {
			band = phases
		}
		if band != nil {
			w.HoldField(key, "band_"+key, u.Label(), "V", u, band)
		} else {
			w.Show("volts_"+key, u.Label(), "V", u)
		}
		if predicted != nil && i < 3 {
			d := u.Sub(predicted).Div(predicted).Times(100)
			w.HoldField(key, "deviation_"+key, u.Label()+" from predicted", "%", d, limitOf("lv-volts.tolerance", g.Tolerance))
		}
	}
	w.HoldField("l1n l2n l3n", "neutral_off", "neutral from the middle of the conductors, of the positive sequence", "%", neutralShare(w), checks.AtMost(neutralOffMost, "our choice"))
	drawStar(w, g.incomer())
	if predicted == nil && lines == nil && phases == nil {
		w.Say(checks.Inconclusive, "", "nothing-to-hold-against")
	}
}
