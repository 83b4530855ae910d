package kinds

import (
	"fmt"
	"math"

	"handback/checks"
	"handback/checks/calc"
	"handback/checks/plan"
	"handback/checks/quantity"
)

// predictTapLinks prints the LV volts of every tap before anything is looked at,
// and what they mean for the planned one.
func predictTapLinks(p *plan.Plan, c *plan.Check, g *tapLinks) []plan.Prediction {
	in := checks.Input{Plan: p, Check: c}
	t := p.Transformer(g.Transformer)
	hv, _ := tapHV(in, g)
	if math.IsNaN(hv) {
		return nil
	}
	var out []plan.Prediction
	for i := range t.Taps {
		tap := &t.Taps[i]
		out = append(out, plan.Prediction{Name: "LV volts at no load on tap " + tap.Position, Text: quantity.Show(lvAt(t, tap, hv), "V", 1), Source: tapHVSource(in, g)})
	}
	return append(out, predictTap(in, g, t.TapAt(g.To))...)
}

// lvAt is the no-load LV line-to-line volts that HV volts give on a tap.
func lvAt(t *plan.Transformer, tap *plan.Tap, hv float64) float64 {
	return lvOn(t, tap, calc.Datum("HV", hv, "V")).Eval(nil)
}

// tapHV is the HV volts to predict from: those read, else the supply's usual.
// NaN when neither is known.
func tapHV(in checks.Input, g *tapLinks) (volts float64, read bool) {
	if hv, ok := hvRead(in, g.HVFrom); ok {
		return hv, true
	}
	if s := in.Plan.Plant.Supply; s != nil {
		return float64(s.Usual), false
	}
	return math.NaN(), false
}

// nearestTap is the tap whose LV volts come nearest to those wanted: the given one
// unless another comes nearer.
func nearestTap(t *plan.Transformer, tap *plan.Tap, hv, wanted float64) *plan.Tap {
	best := tap
	for i := range t.Taps {
		if math.Abs(lvAt(t, &t.Taps[i], hv)-wanted) < math.Abs(lvAt(t, best, hv)-wanted) {
			best = &t.Taps[i]
		}
	}
	return best
}

// bandOn is how the LV volts of a tap stand to the plan's band at the lowest and the
// highest expected HV volts; ok is false where the plan lacks one or the other.
func bandOn(in checks.Input, g *tapLinks, t *plan.Transformer, tap *plan.Tap) (hv, lv [2]float64, band *checks.Limit, ok bool) {
	s, band := in.Plan.Plant.Supply, g.Band.limit(nominal(in, g.Board))
	if s == nil || band == nil {
		return hv, lv, nil, false
	}
	hv = [2]float64{or(s.Low, float64(s.Usual)), or(s.High, float64(s.Usual))}
	return hv, [2]float64{lvAt(t, tap, hv[0]), lvAt(t, tap, hv[1])}, band, true
}

// keeps tells whether values stand inside a limit.
func keeps(l checks.Limit, values [2]float64) bool {
	return checks.Decide(values[0], 0, l, false) == checks.Pass && checks.Decide(values[1], 0, l, false) == checks.Pass
}

// adviseTap says how the tap left serves the plan: whether another comes nearer to the
// wanted LV volts, and whether the LV volts keep their band at all expected HV volts.
// What speaks against the tap is a caution.
func adviseTap(w *checks.Work, g *tapLinks, tap *plan.Tap) {
	t := w.Plan.Transformer(g.Transformer)
	if hv, read := tapHV(w.Input, g); g.Wanted != nil && !math.IsNaN(hv) {
		from := "usual"
		if read {
			from = "read"
		}
		args := []checks.Arg{checks.Word("tap", tap.Position), checks.Num("lv", lvAt(t, tap, hv), "V"), checks.Num("wanted", float64(*g.Wanted), "V"), checks.Num("hv", hv, "V"), checks.Word("hv_from", from)}
		if best := nearestTap(t, tap, hv, float64(*g.Wanted)); best == tap {
			w.Say(checks.Pass, "", "nearest-tap", args...)
		} else {
			w.Caution("other-tap-nearer", append(args, checks.Word("other", best.Position), checks.Num("other_lv", lvAt(t, best, hv), "V"))...)
		}
	}
	if hv, lv, band, ok := bandOn(w.Input, g, t, tap); ok {
		args := []checks.Arg{checks.Word("tap", tap.Position), checks.Num("hv_low", hv[0], "V"), checks.Num("hv_high", hv[1], "V"), checks.Num("lv_low", lv[0], "V"), checks.Num("lv_high", lv[1], "V"),
			checks.Inner("band", band.Said("V")), checks.Shown("source", band.Source)}
		if keeps(*band, lv) {
			w.Say(checks.Pass, "", "band-kept", args...)
		} else {
			w.Caution("band-not-kept", args...)
		}
	}
}

// predictTap is adviseTap of the planned tap, before anything is looked at.
func predictTap(in checks.Input, g *tapLinks, tap *plan.Tap) []plan.Prediction {
	t := in.Plan.Transformer(g.Transformer)
	var out []plan.Prediction
	if hv, _ := tapHV(in, g); g.Wanted != nil && !math.IsNaN(hv) {
		best := nearestTap(t, tap, hv, float64(*g.Wanted))
		text := fmt.Sprintf("tap %s gives %s, nearest the wanted %s", best.Position, quantity.Show(lvAt(t, best, hv), "V", 1), quantity.Spell(float64(*g.Wanted), "V"))
		if best != tap {
			text += fmt.Sprintf("; tap %s gives %s", tap.Position, quantity.Show(lvAt(t, tap, hv), "V", 1))
		}
		out = append(out, plan.Prediction{Name: "tap advice", Text: text, Source: tapHVSource(in, g), Warn: best != tap})
	}
	hv, lv, band, ok := bandOn(in, g, t, tap)
	if !ok {
		return out
	}
	verb := "keeps"
	if !keeps(*band, lv) {
		verb = "does not keep"
	}
	return append(out, plan.Prediction{Name: "LV band", Source: band.Source, Warn: !keeps(*band, lv),
		Text: fmt.Sprintf("with HV volts of %s to %s, tap %s gives %s to %s, which %s %s", quantity.Spell(hv[0], "V"), quantity.Spell(hv[1], "V"), tap.Position,
			quantity.Show(lv[0], "V", 1), quantity.Show(lv[1], "V", 1), verb, checks.Between(band.Low, band.High, "").Text("V"))})
}

func tapHVSource(in checks.Input, g *tapLinks) string {
	if hv, read := tapHV(in, g); read {
		return "HV " + quantity.Spell(hv, "V") + " read"
	}
	return "usual HV volts"
}
