package kinds

import (
	"fmt"
	"math"
	"strings"

	"handback/checks"
	"handback/checks/calc"
	"handback/checks/plan"
	"handback/checks/power"
	"handback/checks/quantity"
)

// ratio is what a ratio check is given.
type ratio struct {
	Transformer string `plan:"transformer,need" ref:"transformer" doc:"the transformer whose winding ratio is read"`
	tapChoice
	Limit     *quantity.Percent `plan:"limit,pos" doc:"the plan's own maximum deviation from nominal; IEC 60076-1 Table 1 when not given"`
	Other     *quantity.Percent `plan:"other_limit,pos" doc:"maximum deviation on taps other than the principal one; the same as there when not given"`
	Impedance *quantity.Percent `plan:"impedance,pos" doc:"measured short-circuit impedance at the principal tap; the nameplate's when not given"`
	Source    string            `plan:"source" doc:"where the plan's own limits come from; plan when not given"`
}

var ratioKeys = [3]string{"l1", "l2", "l3"}

// ratioLimit is the one half of IEC 60076-1 Table 1 that hangs on nothing, in per cent.
const ratioLimit = 0.5

var _ = checks.Define(checks.Spec[ratio]{
	About: plan.About{
		Name: "ratio", Title: "Winding ratio", Group: "Dead checks", Dead: true,
		Cautions: []string{deadCaution, testCaution,
			"Feed the HV side alone: volts fed to the LV side appear many times higher at the HV terminals. Keep everyone clear of both sides."},
		Sources: []string{"principal tap: the lower of ±0.5 % and a tenth of the impedance in per cent, IEC 60076-1 Table 1",
			"other taps: the plan as agreed with the maker, else the lesser of ±0.5 % and a tenth of the impedance, below which IEC 60076-1:1999 Table 1 item 2 does not go", "nominal ratio: the nameplate"},
	},
	Validate: validateRatio,
	Predict:  predictRatio,
	Form:     ratioForm,
	Doubts:   doubtRatios,
	Judge:    judgeRatio,
})

// testCaution stands on every check that feeds its own volts or current into the plant.
const testCaution = "Earths come off for a test only as the permit and the local rules for testing say. Fence off the area and warn everyone within reach."

func validateRatio(p *plan.Plan, c *plan.Check, g *ratio, say plan.Say) {
	g.validate(p, g.Transformer, say)
	for key, l := range map[string]*quantity.Percent{"limit": g.Limit, "other_limit": g.Other} {
		if l != nil && *l >= 10 {
			say(key, "%v %%: taps stand a few per cent apart, and a limit is well below that", float64(*l))
		}
	}
	if g.Limit == nil && g.Other == nil && g.Source != "" {
		say("source", "says where a limit comes from, but neither limit nor other_limit is given")
	}
	t := p.Transformer(g.Transformer)
	if t == nil {
		return
	}
	if v, err := power.ParseGroup(t.Group); err == nil && (v.HV == 'Z' || v.LV == 'Z') {
		say("transformer", "%s is %s: a zigzag winding is wound on two limbs, so what a reading shows depends on how the instrument is connected; "+
			"take it as a measure check with the maker's value", t.ID, t.Group)
	}
	if z := 100 * float64(t.LoadLoss) / float64(t.Rating); g.Impedance != nil && !(z < float64(*g.Impedance)) {
		say("impedance", "%s, but the load loss alone is %s of the rating: the resistance is part of the impedance", quantity.Spell(float64(*g.Impedance), "%"), quantity.Spell(z, "%"))
	}
}

// nominalRatio is the ratio of HV to LV turns on a tap:
//
//	N = (U_hv,tap/U_lv)·k     k = √3 for Dy, 1/√3 for Yd, 1 for Dd and Yy
//
// the volts of one HV winding over those of the LV winding on the same limb: a
// delta's winding has the line-to-line volts, a star's a √3rd of them.
func nominalRatio(t *plan.Transformer, tap *plan.Tap) *calc.Expr {
	e := calc.Datum("HV of tap "+tap.Position, float64(tap.HV), "V").Div(calc.Datum("rated LV", float64(t.LV), "V"))
	v, err := power.ParseGroup(t.Group)
	switch {
	case err != nil:
		panic("kinds: vector group " + t.Group + " was not validated")
	case v.HV == 'D' && v.LV == 'Y':
		e = e.Mul(calc.Sqrt(calc.K(3)))
	case v.HV == 'Y' && v.LV == 'D':
		e = e.Div(calc.Sqrt(calc.K(3)))
	}
	return calc.Named("nominal ratio", "1", e)
}

// limit is the greatest deviation on a tap, in per cent of nominal.
func (g *ratio) limit(t *plan.Transformer, tap *plan.Tap) *checks.Limit {
	principal := math.Abs(float64(tap.HV-t.HV)) <= quantity.Slack*float64(t.HV)
	source := "plan"
	if g.Source != "" {
		source = g.Source
	}
	switch {
	case !principal && g.Other != nil:
		return checks.Between(-float64(*g.Other), float64(*g.Other), source)
	case g.Limit != nil:
		return checks.Between(-float64(*g.Limit), float64(*g.Limit), source)
	}
	most, z, whose := ratioLimit, float64(t.Impedance), "nameplate"
	if g.Impedance != nil {
		z, whose = float64(*g.Impedance), "measured"
	}
	source = "IEC 60076-1 Table 1"
	if z/10 < most {
		most = z / 10
		source += fmt.Sprintf(", a tenth of the %s impedance of %s", whose, quantity.Spell(z, "%"))
	}
	if !principal {
		source = "IEC 60076-1:1999 Table 1 item 2, other taps" + strings.TrimPrefix(source, "IEC 60076-1 Table 1")
	}
	return checks.Between(-most, most, source)
}

func ratioForm(in checks.Input, g *ratio) []checks.Field {
	t := in.Plan.Transformer(g.Transformer)
	c, _ := in.Plan.Conductors()
	out := []checks.Field{meterField(in)}
	for _, r := range tapReads(in, g.Transformer, &g.tapChoice) {
		example, expect := "43.99", (*checks.Expect)(nil)
		if r.tap != nil {
			n, l := nominalRatio(t, r.tap).Eval(nil), g.limit(t, r.tap)
			example = quantity.Significant(n, 5)
			expect = &checks.Expect{Value: n, Low: n * (1 + l.Low/100), High: n * (1 + l.High/100), Source: "nameplate, " + r.words() + "; " + l.Source}
		}
		for i, key := range ratioKeys {
			out = append(out, checks.Field{Key: r.prefix + key, Label: r.name + "winding ratio " + c[i], Sort: checks.Measured, Unit: "1", Need: true, Row: r.prefix + "ratio", Meter: "meter",
				Hint: "HV turns over LV turns of one limb, not the ratio of the line-to-line volts", Example: example, Expect: expect})
		}
	}
	return out
}

// doubtRatios names readings that are no ratio of these windings: not above zero,
// turned over, the ratio of line-to-line volts in its place, or a slipped decimal.
func doubtRatios(in checks.Input, g *ratio) []checks.Doubt {
	t := in.Plan.Transformer(g.Transformer)
	var out []checks.Doubt
	for _, r := range tapReads(in, g.Transformer, &g.tapChoice) {
		for _, key := range ratioKeys {
			a, ok := in.Answers[r.prefix+key]
			if !ok {
				continue
			}
			if s := doubtRatio(a.Value, t, r.tap); !s.None() {
				out = append(out, checks.Doubt{Fields: []string{r.prefix + key}, Said: s})
			}
		}
	}
	return out
}

// doubtRatio says why x cannot be the ratio on a tap, nothing when it can.
func doubtRatio(x float64, t *plan.Transformer, tap *plan.Tap) checks.Said {
	read := checks.Num("read", x, "")
	if !(x > 0) {
		return checks.Say("ratio-not-above-zero", read)
	}
	if tap == nil {
		return checks.Said{}
	}
	n := nominalRatio(t, tap).Eval(nil)
	nominal := checks.Num("nominal", n, "")
	close := func(x, y float64) bool { return math.Abs(x-y) <= 0.05*y }
	switch {
	case close(x, n):
	case close(x, 1/n):
		return checks.Say("ratio-upside-down", read, nominal)
	case close(x, n*math.Sqrt(3)), close(x, n/math.Sqrt(3)):
		return checks.Say("ratio-of-line-volts", read, nominal)
	case near(x*10, n), near(x*100, n), near(x/10, n), near(x/100, n):
		return checks.Say("ratio-slipped", read, nominal)
	}
	return checks.Said{}
}

// judgeRatio passes when on every tap asked each phase's ratio N_m deviates from
// the nominal ratio N by no more than the limit:
//
//	d = 100·(N_m − N)/N      −limit ≤ d ≤ limit
//
//	N      (U_hv,tap/U_lv)·k, see nominalRatio    1  > 0
//	limit  at the principal tap (the one of rated HV volts) the lower of 0.5 and a
//	       tenth of the short-circuit impedance in per cent, IEC 60076-1 Table 1;
//	       item 1; at others the plan's, or the same: item 2 of the 1999 edition lets
//	       them be agreed, not less than the lesser of the two
//
// The limits include their own value. A phase out of limits that reads as
// another tap should is told so. A doubted reading gives no deviation. A tap that
// is not known leaves the check inconclusive.
func judgeRatio(w *checks.Work, g *ratio) {
	t := w.Plan.Transformer(g.Transformer)
	inDoubt := checks.Doubted(w.Doubts())
	for _, r := range tapReads(w.Input, g.Transformer, &g.tapChoice) {
		if r.tap == nil {
			w.Say(checks.Inconclusive, "", "tap-not-known", checks.Word("check", g.TapFrom))
			continue
		}
		n := nominalRatio(t, r.tap)
		w.Show(r.prefix+"nominal", r.name+"nominal ratio", "1", n)
		for _, key := range ratioKeys {
			if key = r.prefix + key; inDoubt(key) {
				continue
			}
			m := w.Read(key)
			v := w.HoldField(key, "deviation_"+key, m.Label()+" from nominal", "%", m.Sub(n).Div(n).Times(100), g.limit(t, r.tap))
			if v == checks.Fail {
				nameOtherTap(w, g, t, r.tap, key)
			}
		}
	}
}

// nameOtherTap says when a reading is what another tap should read.
func nameOtherTap(w *checks.Work, g *ratio, t *plan.Transformer, on *plan.Tap, key string) {
	for i := range t.Taps {
		tap := &t.Taps[i]
		n := nominalRatio(t, tap).Eval(nil)
		if tap != on && checks.Decide(100*(w.Value(key)-n)/n, 0, *g.limit(t, tap), false) == checks.Pass {
			f, _ := checks.FieldNamed(w.Form(), key)
			w.Caution("reads-as-other-tap", checks.Label("field", f), checks.Word("tap", tap.Position), checks.Num("nominal", n, ""))
		}
	}
}

// predictRatio prints the nominal ratio of every tap asked with its limits.
func predictRatio(p *plan.Plan, c *plan.Check, g *ratio) []plan.Prediction {
	t := p.Transformer(g.Transformer)
	var out []plan.Prediction
	for _, r := range tapReads((checks.Input{Plan: p, Check: c}), g.Transformer, &g.tapChoice) {
		if r.tap == nil {
			continue
		}
		l := g.limit(t, r.tap)
		out = append(out, plan.Prediction{Name: "winding ratio on " + r.words(), Source: l.Source,
			Text: fmt.Sprintf("%s, %s", quantity.Show(nominalRatio(t, r.tap).Eval(nil), "", 4), checks.Between(l.Low, l.High, "").Text("%"))})
	}
	return out
}
