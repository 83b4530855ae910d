package kinds

import (
	"fmt"
	"math"

	"handback/checks"
	"handback/checks/plan"
	"handback/checks/quantity"
)

// liveCaution stands on every check taken on or near live conductors.
const liveCaution = "Live conductors. Local rules, the permit and the person licensed to decide come first. Use leads of the circuit's category and the protection the rules ask; other hand and loose metal away; not alone where forbidden."

// deadCaution stands on every check taken on plant that must be dead.
const deadCaution = "Only on plant proved dead and earthed under the permit; else stop."

func needTap(p *plan.Plan, key, transformer, tap string, say plan.Say) {
	t := p.Transformer(transformer)
	if t == nil || tap == "" {
		return
	}
	if t.TapAt(tap) == nil {
		say(key, "transformer %s has no tap %q%s", t.ID, tap, plan.Nearest(tap, plan.IDsOf(t.Taps, func(t plan.Tap) string { return t.Position })))
	}
}

// planned is the instrument a check plans under one of its keys: the one given
// there, else the check's own.
func planned(c *plan.Check, given string) string {
	if given != "" {
		return given
	}
	return c.Meter
}

// needPlanned demands an instrument under key, or one of the check's own, and
// gives it; nil when there is none.
func needPlanned(p *plan.Plan, c *plan.Check, key, given string, say plan.Say) *plan.Meter {
	if planned(c, given) == "" {
		say(key, "missing: the id of an instrument, here or as the instrument of check %s", c.ID)
	}
	return p.Meter(planned(c, given))
}

// needTwoPeople demands that there is a second person to ask for.
func needTwoPeople(p *plan.Plan, key string, asked bool, say plan.Say) {
	if asked && len(p.People) < 2 {
		say(key, "two people must look, but the plan names %d", len(p.People))
	}
}

// needHVVolts demands that the measure check id reads one voltage.
func needHVVolts(p *plan.Plan, key, id string, say plan.Say) {
	if d := p.Check(id); d != nil && d.Kind.Name == "measure" {
		if g := d.Given.(*measure); quantity.QuantityOf(g.Unit) != "voltage" || len(g.Points) > 0 {
			say(key, "check %s does not read one voltage: its unit is %s and it names %d points", id, g.Unit, len(g.Points))
		}
	}
}

// hvRead is the voltage an earlier measure check read; ok is false when it was
// not taken or read no more than a bound.
func hvRead(in checks.Input, check string) (volts float64, ok bool) {
	a, ok := in.Came(check).Answers["value"]
	return a.Value, ok && a.Bound == ""
}

// nominal is a board's nominal line-to-line volts, NaN for no board.
func nominal(in checks.Input, board string) float64 {
	b := in.Plan.Board(board)
	if b == nil {
		return math.NaN()
	}
	return float64(b.Nominal)
}

// transformerOnTap finds a transformer and the tap it stands on: the position
// that the tap-links check named from left, or is to leave as long as it was not
// taken; else the planned one, else the nameplate's own. A transformer without a
// tap list stands on its rated HV volts. The tap is nil when it is not known.
func transformerOnTap(in checks.Input, id, planned, from string) (*plan.Transformer, *plan.Tap) {
	t := in.Plan.Transformer(id)
	if t == nil {
		return nil, nil
	}
	if in.Came(from).Taken() {
		return t, t.TapAt(leftTap(in, from))
	}
	if c := in.Plan.Check(from); c != nil {
		if links, ok := c.Given.(*tapLinks); ok {
			planned = links.To
		}
	}
	if planned == "" {
		planned = t.Tap
	}
	if planned == "" && len(t.Taps) == 0 {
		return t, &plan.Tap{Position: "rated", HV: t.HV}
	}
	return t, t.TapAt(planned)
}

// leftTap is the one position an earlier tap-links check left on all phases, or
// "" when it was not taken or the phases differ.
func leftTap(in checks.Input, check string) string {
	left := in.Came(check).Answers
	a := left["left_l1"].Word
	if a == "" || left["left_l2"].Word != a || left["left_l3"].Word != a {
		return ""
	}
	return a
}

// expectNoLoad predicts the no-load line-to-line volts of a transformer on a tap:
//
//	U = U_hv · U_lv,rated / U_hv,tap
//
// from the HV volts read by an earlier check, ± the tolerance in per cent; or from
// the usual HV volts and their expected range, ± the tolerance. nil when neither,
// or not the tap, is known.
func expectNoLoad(in checks.Input, t *plan.Transformer, tap *plan.Tap, hvFrom string, tolerance float64) *checks.Expect {
	if t == nil || tap == nil {
		return nil
	}
	k, tol := float64(t.LV)/float64(tap.HV), tolerance/100
	if hv, ok := hvRead(in, hvFrom); ok {
		u := hv * k
		return &checks.Expect{Value: u, Low: u * (1 - tol), High: u * (1 + tol), Source: fmt.Sprintf("HV %s read, tap %s", quantity.Spell(hv, "V"), tap.Position)}
	}
	s := in.Plan.Plant.Supply
	if s == nil {
		return nil
	}
	low, high := or(s.Low, float64(s.Usual)), or(s.High, float64(s.Usual))
	return &checks.Expect{Value: float64(s.Usual) * k, Low: low * k * (1 - tol), High: high * k * (1 + tol), Source: fmt.Sprintf("usual HV volts, tap %s", tap.Position)}
}

// againSlack is how far, in per cent, a reading taken again may stand from the
// first: what a supply moves in minutes (our choice).
const againSlack = 2

// expectAgain expects of each field of a form what an earlier check read under the
// same key.
func expectAgain(in checks.Input, form []checks.Field, check string) {
	for i, f := range form {
		a, ok := in.Came(check).Answers[f.Key]
		if !ok || f.Sort != checks.Measured {
			continue
		}
		form[i].Expect = &checks.Expect{Value: a.Value, Low: a.Value * (1 - againSlack/100.0), High: a.Value * (1 + againSlack/100.0), Source: "read by " + check}
	}
}

// needReads demands that a planned instrument may read a quantity.
func needReads(p *plan.Plan, key, id, of string, say plan.Say) {
	if m := p.Meter(id); m != nil {
		if why := m.Unreadable(of); why != "" {
			say(key, "%s", why)
		}
	}
}
