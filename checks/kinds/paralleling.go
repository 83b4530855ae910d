package kinds

import (
	"fmt"
	"math"

	"handback/checks"
	"handback/checks/calc"
	"handback/checks/plan"
	"handback/checks/power"
	"handback/checks/quantity"
)

// What is taken where neither plan nor reading says.
const (
	assumedPowerFactor = 0.8  // lagging, standing for 0.7 to 1 (our choice)
	lowVoltageFactor   = 1.05 // c for the greatest current of an LV system held to +6 % (IEC 60909-0:2016, Table 1)
	wideVoltageFactor  = 1.10 // c where it may rise to +10 % (the same)
	mostOfRating       = 110  // % of its rating that a transformer may come to when all share the sum of their ratings: impedances 10 % apart bring it (our choice)
	supplyFactor       = 1.1  // c for the greatest current above 1 kV (IEC 60909-0:2016, Table 1)
)

// Tolerances of a short-circuit impedance that the plan does not give measured, as a
// share of it: two-winding transformer on its principal tapping, under 10 % and from
// 10 % on (IEC 60076-1, Table 1, from memory).
const (
	impedanceTolerance      = 10.0
	largeImpedanceTolerance = 7.5
)

// plateImpedance is the short-circuit impedance of the plate in per cent, within its
// tolerance. It never falls below the resistance that the load loss gives.
func plateImpedance(t *plan.Transformer) *calc.Expr {
	z, tolerance := float64(t.Impedance), impedanceTolerance
	if z >= 10 {
		tolerance = largeImpedanceTolerance
	}
	if t.ImpedanceU != nil {
		tolerance = float64(*t.ImpedanceU)
	}
	least := 100 * float64(t.LoadLoss) / float64(t.Rating)
	return calc.Uncertain("impedance of "+t.ID, z, math.Max(z*(1-tolerance/100), math.Min(least, z)), z*(1+tolerance/100), "%")
}

// assumedFactor is the power factor that stands for one nobody read.
func assumedFactor() *calc.Expr {
	return calc.Uncertain("power factor assumed", assumedPowerFactor, 0.7, 1, "")
}

// feed is a transformer on the tap it stands on, seen from the bar it feeds.
type feed struct {
	t      *plan.Transformer
	tap    *plan.Tap
	lv     float64      // no-load line-to-line volts on that tap, V
	amps   float64      // rated LV current, A
	source power.Source // per phase, ohms on its own rated LV
}

// feedOf works out a transformer on its tap at the usual HV volts, or at its rated
// HV volts where the plan gives no supply:
//
//	E = U_hv · U_lv / U_hv,tap      Z = (r + jx) · U_lv² / S
//
// The angle is that of its vector group. The error names a transformer whose tap
// is not known.
func feedOf(in checks.Input, id, tap, from string) (feed, error) {
	t, at := transformerOnTap(in, id, tap, from)
	if t == nil && in.Plan.Rated(id) != nil {
		return feed{}, fmt.Errorf("%s is no transformer: no impedance is on its plate, so how it shares a load is not predicted", id)
	}
	if t == nil {
		return feed{}, fmt.Errorf("no transformer %q in the plan", id)
	}
	if at == nil {
		return feed{}, fmt.Errorf("the tap %s stands on is not known: give it in the plan, or take the check that finds it", id)
	}
	return feedOn(in, t, at)
}

// feedOn is feed on a tap that is known.
func feedOn(in checks.Input, t *plan.Transformer, at *plan.Tap) (feed, error) {
	hv := float64(t.HV)
	if s := in.Plan.Plant.Supply; s != nil {
		hv = float64(s.Usual)
	}
	f := feed{t: t, tap: at}
	var err error
	if f.lv, err = power.LVNoLoad(hv, float64(t.LV), float64(at.HV)); err != nil {
		return feed{}, err
	}
	group, err := power.ParseGroup(t.Group)
	if err != nil {
		return feed{}, err
	}
	unit := unit(t)
	unit.NoLoadLL, unit.PhaseDeg = f.lv, group.AngleDeg()
	if f.source, err = unit.Source(float64(t.LV)); err != nil {
		return feed{}, err
	}
	f.amps, err = unit.RatedAmps(float64(t.LV))
	return f, err
}

// unit is the nameplate as package power takes it.
func unit(t *plan.Transformer) power.Transformer {
	return power.Transformer{RatedVA: float64(t.Rating), ImpedancePct: float64(t.Impedance), LoadLossW: float64(t.LoadLoss)}
}

// ratedAmps is the rated LV current I = S/(√3·U_lv), A.
func ratedAmps(t *plan.Rated) *calc.Expr {
	return calc.Named("rated current of "+t.ID, "A",
		calc.Datum("rating of "+t.ID, float64(t.Rating), "VA").Div(calc.Sqrt(calc.K(3)).Mul(calc.Datum("rated LV of "+t.ID, float64(t.Volts), "V"))))
}

// ohms are resistance and reactance per phase on the transformer's own rated LV, within
// the tolerance of its impedance:
//
//	Z_b = U_lv²/S      R = (P/S)·Z_b      X = √((z/100)² − (P/S)²)·Z_b
func ohms(t *plan.Transformer) (r, x *calc.Expr) {
	s := calc.Datum("rating of "+t.ID, float64(t.Rating), "VA")
	base := calc.Named("base impedance of "+t.ID, "Ω", calc.Datum("rated LV of "+t.ID, float64(t.LV), "V").Pow(2).Div(s))
	share := calc.Datum("load loss of "+t.ID, float64(t.LoadLoss), "W").Div(s)
	z := plateImpedance(t).Div(calc.K(100))
	r = calc.Named("resistance of "+t.ID, "Ω", share.Mul(base))
	x = calc.Named("reactance of "+t.ID, "Ω", calc.Sqrt(z.Pow(2).Sub(share.Pow(2))).Mul(base))
	return r, x
}

// loopOhms is |Z_A + Z_B| per phase: the loop a circulating current goes round
// holds both transformers one after the other, so their impedances add.
func loopOhms(a, b *plan.Transformer) *calc.Expr {
	ra, xa := ohms(a)
	rb, xb := ohms(b)
	return calc.Named("loop impedance", "Ω", calc.Sqrt(ra.Add(rb).Pow(2).Add(xa.Add(xb).Pow(2))))
}

// faultWith is the greatest three-phase short-circuit current of a board fed by
// the transformers together, from their common HV supply (IEC 60909-0, see
// power.FaultLevel; the correction factor K_T is applied). A supply without a fault
// level in the plan is taken as having no impedance, which errs to the safe side.
// c is the voltage factor of the board. It is held against the board's rating as it
// comes from the plates: the standard's factors stand for what they may be off.
func faultWith(in checks.Input, c float64, b *plan.Board, units ...*plan.Transformer) (power.Fault, error) {
	fc := power.FaultCase{C: c, NominalLV: float64(b.Nominal), Corrected: true,
		Supply: power.Supply{FaultVA: math.Inf(1), C: supplyFactor, RX: power.SupplyRX}}
	if s := in.Plan.Plant.Supply; s != nil && s.Fault != nil {
		fc.Supply.FaultVA = float64(*s.Fault)
	}
	for _, t := range units {
		fc.Units = append(fc.Units, power.FaultUnit{Transformer: unit(t), RatedLV: float64(t.LV)})
	}
	return power.FaultLevel(fc)
}

// faultPart is a part of a fault level as a computation, whose uncertainty is that of the
// impedances within their tolerances.
func faultPart(in checks.Input, how string, part func(power.Fault) float64, c float64, b *plan.Board, units ...*plan.Transformer) *calc.Expr {
	var args []*calc.Expr
	for _, t := range units {
		args = append(args, plateImpedance(t))
	}
	return calc.Solve(how, func(z []float64) float64 {
		moved := make([]*plan.Transformer, len(units))
		for i, t := range units {
			u := *t
			u.Impedance = quantity.Percent(z[i])
			moved[i] = &u
		}
		f, err := faultWith(in, c, b, moved...)
		if err != nil {
			return math.NaN()
		}
		return part(f)
	}, args...)
}

func initialAmps(f power.Fault) float64 { return f.InitialA }
func peakAmps(f power.Fault) float64    { return f.PeakA }

// showFaultTolerance shows how far the fault level with some transformers in may be off
// and says so where a rating that holds by the plates could be passed.
func showFaultTolerance(w *checks.Work, c float64, b *plan.Board, units ...*plan.Transformer) {
	w.Caution("motors-left-out")
	for _, part := range []struct {
		key, name string
		of        func(power.Fault) float64
		rating    string
		withstand *quantity.Ampere
	}{{"fault_tolerance", "fault current", initialAmps, "short-time", b.ShortTime}, {"peak_tolerance", "peak fault current", peakAmps, "peak", b.Peak}} {
		e := faultPart(w.Input, "IEC 60909-0, impedances within their tolerance (IEC 60076-1 Table 1, or the plan)", part.of, c, b, units...)
		x := w.Show(part.key, part.name+" with both in parallel, within the tolerance of the impedances", "A", e)
		if high := x + w.Spread(e); x <= quantity.OrNaN(part.withstand) && high > quantity.OrNaN(part.withstand) {
			w.Caution("beyond-rating-in-tolerance", checks.Word("rating", part.rating), checks.Num("current", high, "A"), checks.Num("withstand", float64(*part.withstand), "A"), checks.Word("board", b.ID))
		}
	}
}

// voltageFactor is c of a board: 1.10 where the plan lets its volts rise by more than
// 6 % of nominal, else 1.05 (IEC 60909-0:2016, Table 1).
func voltageFactor(p *plan.Plan, b *plan.Board) float64 {
	for _, band := range lineBands(p, b.ID) {
		if l := band.limit(float64(b.Nominal)); l != nil && quantity.Above(l.High, 1.06*float64(b.Nominal)) {
			return wideVoltageFactor
		}
	}
	return lowVoltageFactor
}

// lineBands are the bands that checks of the plan draw around a board's line volts.
func lineBands(p *plan.Plan, board string) []*Band {
	var out []*Band
	for _, c := range p.Checks() {
		switch g := c.Given.(type) {
		case *lvVolts:
			if g.Board == board {
				out = append(out, g.Line)
			}
		case *afterOpening:
			for _, s := range g.Sections {
				if s.Board == board {
					out = append(out, s.Band)
				}
			}
		}
	}
	return out
}

// groupsAgree tells whether two transformers agree in angle as they stand, by a code,
// and what would make them agree that stand apart.
func groupsAgree(a, b *plan.Transformer) (code, remedy string) {
	ga, errA := power.ParseGroup(a.Group)
	gb, errB := power.ParseGroup(b.Group)
	if errA != nil || errB != nil {
		return groupsUnreadable, ""
	}
	if ok, remedy := power.Parallel(ga, gb); !ok {
		return groupsApart, remedy
	}
	return groupsAlike, ""
}

const groupsAlike, groupsApart, groupsUnreadable = "groups-alike", "groups-apart", "groups-unreadable"

// groupsText is what groupsAgree tells, in words for what is no finding.
func groupsText(a, b *plan.Transformer) string {
	code, remedy := groupsAgree(a, b)
	is := map[string]string{groupsAlike: "have the same clock number", groupsApart: "do not have the same clock number: " + remedy, groupsUnreadable: "cannot be read"}[code]
	return fmt.Sprintf("vector groups %s of %s and %s of %s %s", a.Group, a.ID, b.Group, b.ID, is)
}

// needTapKnown notes a transformer with several taps none of which is named.
func needTapKnown(p *plan.Plan, key, transformer, tap, from string, say plan.Say) {
	t := p.Transformer(transformer)
	if t != nil && len(t.Taps) > 0 && t.Tap == "" && tap == "" && from == "" {
		say(key, "missing: %s has %d taps and the plan does not say which is in use", t.ID, len(t.Taps))
	}
}

// needTapFrom demands that the tap-links check id looks at that transformer.
func needTapFrom(p *plan.Plan, key, transformer, id string, say plan.Say) {
	if d := p.Check(id); d != nil && d.Kind.Name == "tap-links" {
		if g := d.Given.(*tapLinks); g.Transformer != transformer {
			say(key, "check %s looks at the taps of %s, not of %s", id, g.Transformer, transformer)
		}
	}
}
