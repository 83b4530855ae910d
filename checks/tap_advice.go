package checks

import (
	"fmt"
	"math"
)

// predictTapLinks prints the LV volts of every tap before anything is looked at,
// and what they mean for the planned one.
func predictTapLinks(p *Plan, c *Check) []Prediction {
	in := Input{Plan: p, Check: c}
	g := c.Given.(*tapLinks)
	t := p.Transformer(g.Transformer)
	hv, _ := in.tapHV(g)
	if math.IsNaN(hv) {
		return nil
	}
	var out []Prediction
	for i := range t.Taps {
		tap := &t.Taps[i]
		out = append(out, Prediction{Name: "LV volts at no load on tap " + tap.Position, Text: Show(t.lvAt(tap, hv), "V", 1), Source: in.tapHVSource(g)})
	}
	return append(out, in.predictTap(t.TapAt(g.To))...)
}

// lvAt is the no-load LV line-to-line volts that HV volts give on a tap.
func (t *Transformer) lvAt(tap *Tap, hv float64) float64 {
	return lvOn(t, tap, Datum("HV", hv, "V")).eval(nil)
}

// tapHV is the HV volts to predict from: those read, else the supply's usual.
// NaN when neither is known.
func (in Input) tapHV(g *tapLinks) (volts float64, read bool) {
	if hv, ok := in.hvRead(g.HVFrom); ok {
		return hv, true
	}
	if s := in.Plan.Plant.Supply; s != nil {
		return float64(s.Usual), false
	}
	return math.NaN(), false
}

// nearestTap is the tap whose LV volts come nearest to those wanted: the given one
// unless another comes nearer.
func (t *Transformer) nearestTap(tap *Tap, hv, wanted float64) *Tap {
	best := tap
	for i := range t.Taps {
		if math.Abs(t.lvAt(&t.Taps[i], hv)-wanted) < math.Abs(t.lvAt(best, hv)-wanted) {
			best = &t.Taps[i]
		}
	}
	return best
}

// bandOn is how the LV volts of a tap stand to the plan's band at the lowest and the
// highest expected HV volts; ok is false where the plan lacks one or the other.
func (in Input) bandOn(t *Transformer, tap *Tap) (hv, lv [2]float64, band *Limit, ok bool) {
	g := in.Check.Given.(*tapLinks)
	s, band := in.Plan.Plant.Supply, g.Band.limit(in.nominal(g.Board))
	if s == nil || band == nil {
		return hv, lv, nil, false
	}
	hv = [2]float64{or(s.Low, float64(s.Usual)), or(s.High, float64(s.Usual))}
	return hv, [2]float64{t.lvAt(tap, hv[0]), t.lvAt(tap, hv[1])}, band, true
}

// keeps tells whether values stand inside a limit.
func (l Limit) keeps(values [2]float64) bool {
	return decide(values[0], 0, l, false) == Pass && decide(values[1], 0, l, false) == Pass
}

// adviseTap says how the tap left serves the plan: whether another comes nearer to the
// wanted LV volts, and whether the LV volts keep their band at all expected HV volts.
// What speaks against the tap is a caution.
func (w *Work) adviseTap(tap *Tap) {
	g := w.Check.Given.(*tapLinks)
	t := w.Plan.Transformer(g.Transformer)
	if hv, read := w.tapHV(g); g.Wanted != nil && !math.IsNaN(hv) {
		from := "usual"
		if read {
			from = "read"
		}
		args := []Arg{Word("tap", tap.Position), Num("lv", t.lvAt(tap, hv), "V"), Num("wanted", float64(*g.Wanted), "V"), Num("hv", hv, "V"), Word("hv_from", from)}
		if best := t.nearestTap(tap, hv, float64(*g.Wanted)); best == tap {
			w.Say(Pass, "", "nearest-tap", args...)
		} else {
			w.Caution("other-tap-nearer", append(args, Word("other", best.Position), Num("other_lv", t.lvAt(best, hv), "V"))...)
		}
	}
	if hv, lv, band, ok := w.bandOn(t, tap); ok {
		args := []Arg{Word("tap", tap.Position), Num("hv_low", hv[0], "V"), Num("hv_high", hv[1], "V"), Num("lv_low", lv[0], "V"), Num("lv_high", lv[1], "V"),
			Inner("band", band.said("V")), Shown("source", band.Source)}
		if band.keeps(lv) {
			w.Say(Pass, "", "band-kept", args...)
		} else {
			w.Caution("band-not-kept", args...)
		}
	}
}

// predictTap is adviseTap of the planned tap, before anything is looked at.
func (in Input) predictTap(tap *Tap) []Prediction {
	g := in.Check.Given.(*tapLinks)
	t := in.Plan.Transformer(g.Transformer)
	var out []Prediction
	if hv, _ := in.tapHV(g); g.Wanted != nil && !math.IsNaN(hv) {
		best := t.nearestTap(tap, hv, float64(*g.Wanted))
		text := fmt.Sprintf("tap %s gives %s, nearest the wanted %s", best.Position, Show(t.lvAt(best, hv), "V", 1), spell(float64(*g.Wanted), "V"))
		if best != tap {
			text += fmt.Sprintf("; tap %s gives %s", tap.Position, Show(t.lvAt(tap, hv), "V", 1))
		}
		out = append(out, Prediction{Name: "tap advice", Text: text, Source: in.tapHVSource(g), Warn: best != tap})
	}
	hv, lv, band, ok := in.bandOn(t, tap)
	if !ok {
		return out
	}
	verb := "keeps"
	if !band.keeps(lv) {
		verb = "does not keep"
	}
	return append(out, Prediction{Name: "LV band", Source: band.Source, Warn: !band.keeps(lv),
		Text: fmt.Sprintf("with HV volts of %s to %s, tap %s gives %s to %s, which %s %s", spell(hv[0], "V"), spell(hv[1], "V"), tap.Position,
			Show(lv[0], "V", 1), Show(lv[1], "V", 1), verb, Between(band.Low, band.High, "").text("V"))})
}

func (in Input) tapHVSource(g *tapLinks) string {
	if hv, read := in.tapHV(g); read {
		return "HV " + spell(hv, "V") + " read"
	}
	return "usual HV volts"
}
