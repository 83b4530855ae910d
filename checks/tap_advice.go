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
	hv, source := in.tapHV(g)
	if math.IsNaN(hv) {
		return nil
	}
	var out []Prediction
	for i := range t.Taps {
		tap := &t.Taps[i]
		out = append(out, Prediction{Name: "LV volts at no load on tap " + tap.Position, Text: Show(t.lvAt(tap, hv), "V", 1), Source: source})
	}
	return append(out, in.tapAdvice(t.TapAt(g.To))...)
}

// lvAt is the no-load LV line-to-line volts that HV volts give on a tap.
func (t *Transformer) lvAt(tap *Tap, hv float64) float64 {
	return lvOn(t, tap, Datum("HV", hv, "V")).eval(nil)
}

// tapHV is the HV volts to predict from: those read, else the supply's usual.
// NaN when neither is known.
func (in Input) tapHV(g *tapLinks) (volts float64, source string) {
	if hv, ok := in.hvRead(g.HVFrom); ok {
		return hv, "HV " + spell(hv, "V") + " read"
	}
	if s := in.Plan.Plant.Supply; s != nil {
		return float64(s.Usual), "usual HV volts"
	}
	return math.NaN(), ""
}

// tapAdvice says how a tap serves the plan: whether another comes nearer to the
// wanted LV volts, and whether the LV volts keep their band at all expected HV
// volts. Warn marks what speaks against the tap.
func (in Input) tapAdvice(tap *Tap) []Prediction {
	g := in.Check.Given.(*tapLinks)
	t := in.Plan.Transformer(g.Transformer)
	var out []Prediction
	if hv, source := in.tapHV(g); g.Wanted != nil && !math.IsNaN(hv) {
		wanted := float64(*g.Wanted)
		best := tap
		for i := range t.Taps {
			if math.Abs(t.lvAt(&t.Taps[i], hv)-wanted) < math.Abs(t.lvAt(best, hv)-wanted) {
				best = &t.Taps[i]
			}
		}
		text := fmt.Sprintf("tap %s gives %s, nearest the wanted %s", best.Position, Show(t.lvAt(best, hv), "V", 1), spell(wanted, "V"))
		if best != tap {
			text += fmt.Sprintf("; tap %s gives %s", tap.Position, Show(t.lvAt(tap, hv), "V", 1))
		}
		out = append(out, Prediction{Name: "tap advice", Text: text, Source: source, Warn: best != tap})
	}
	s, band := in.Plan.Plant.Supply, g.Band.limit(in.nominal(g.Board))
	if s == nil || band == nil {
		return out
	}
	low, high := or(s.Low, float64(s.Usual)), or(s.High, float64(s.Usual))
	keeps := decide(t.lvAt(tap, low), 0, *band, false) == Pass && decide(t.lvAt(tap, high), 0, *band, false) == Pass
	verb := "keeps"
	if !keeps {
		verb = "does not keep"
	}
	return append(out, Prediction{Name: "LV band", Source: band.Source, Warn: !keeps,
		Text: fmt.Sprintf("with HV volts of %s to %s, tap %s gives %s to %s, which %s %s", spell(low, "V"), spell(high, "V"), tap.Position,
			Show(t.lvAt(tap, low), "V", 1), Show(t.lvAt(tap, high), "V", 1), verb, Between(band.Low, band.High, "").text("V"))})
}
