package kinds

import (
	"fmt"
	"slices"

	"handback/checks"
	"handback/checks/power"
	"handback/checks/quantity"
)

// drawStar draws one side from its neutral, where the six volts agree on one.
func drawStar(w *checks.Work, side string) {
	ll, okLines := three(w.Input, "", lineKeys)
	ln, okPhases := three(w.Input, "", phaseKeys)
	if !okLines || !okPhases {
		return
	}
	points, err := power.Triangle(ll)
	if err != nil {
		return
	}
	neutral, residual, err := power.Neutral(points, ln)
	if err != nil || !(residual <= neutralResidual*(ll[0]+ll[1]+ll[2])/3) {
		return
	}
	for i := range points {
		points[i] -= neutral
	}
	w.Draw(fmt.Sprintf("drawn from the neutral that fits the three line-to-neutral volts best (they miss it by %s). Volts cannot show rotation: the order is taken as %s",
		quantity.Show(residual, "V", 2), order(w)), side, points)
}

// drawBoth draws the two sides of a balance about their centroids: each at its own
// angle where a cross-volts check that passed gives it, else at the angle assumed.
func drawBoth(w *checks.Work, g *parallelBalance) {
	if past := w.Came(g.Cross); g.Cross != "" && past.Finding.Verdict == checks.Pass {
		earlier := checks.Input{Plan: w.Plan, Check: w.Plan.Check(g.Cross), Answers: past.Answers}
		v, ok := crossReadings(earlier)
		fit, err := power.PlaceCross(v)
		if !ok || err != nil {
			return
		}
		how := "each side about its centroid and at its own angle, by the nine volts of check " + g.Cross
		w.Draw(how, g.A, about(fit.A, fit.CentreA))
		w.Draw(how, g.B, about(fit.B, fit.CentreB()))
		return
	}
	lla, okA := three(w.Input, "a_", lineKeys)
	llb, okB := three(w.Input, "b_", lineKeys)
	if !okA || !okB {
		return
	}
	pa, errA := power.Triangle(lla)
	pb, errB := power.Triangle(llb)
	if errA != nil || errB != nil {
		return
	}
	how := "each side drawn from its three line-to-line volts about its centroid, both ASSUMED to have the same angle and in the same order: " +
		"volts of one side alone cannot show either. Only volts across the open device, conductor by conductor, do"
	w.Draw(how, g.A, pa)
	w.Draw(how, g.B, pb)
}

// drawCross draws both sides of an open device as the nine volts place them. Nothing
// is drawn where they contradict one another or a conductor hangs on nothing.
func drawCross(w *checks.Work, g *crossVolts, found power.CrossFinding) {
	if found.Fault == power.CrossInconsistent || slices.Contains(found.State[:], power.CrossFloating) {
		return
	}
	from := "the centroid of " + g.A
	if w.Has(phaseKeysOf("a_")...) {
		from = "the neutral of " + g.A
	}
	how := fmt.Sprintf("%s from its three line-to-line volts, each conductor of %s where its three volts to %s put it, all seen from %s; no balance is assumed", g.A, g.B, g.A, from)
	if !g.Tied {
		how += ". The neutrals are NOT tied: where the one side stands to the other is chance"
	}
	w.Draw(how, g.A, found.Fit.A)
	w.Draw(how, g.B, found.Fit.B)
}

func about(p [3]complex128, centre complex128) [3]complex128 {
	for i := range p {
		p[i] -= centre
	}
	return p
}

// drawSoak draws the temperature over time, with the curve through it unless why
// says that none counts.
func drawSoak(w *checks.Work, g *soak, rows []soakRow, fits soakFit, why checks.Said) {
	c := checks.Course{Name: "temperature of " + g.Point, Unit: "°C", How: checks.Say("no-curve-drawn", checks.Inner("why", why))}
	for _, r := range rows {
		c.Minutes, c.Values = append(c.Minutes, r.minutes), append(c.Values, r.temp.Eval(w.Value))
	}
	if h := fits(c.Values); why.None() && h.err == nil {
		c.Curve = h.At
		c.How = checks.Say("curve-drawn", checks.Num("start", h.Start, "°C"), checks.Num("final", h.Final, "°C"), checks.Num("tau", h.Tau, "min"))
	}
	if l := g.tempLimit(); l != nil {
		c.Lines = append(c.Lines, checks.CourseLine{Value: l.High, Text: "limit " + quantity.Spell(l.High, "°C") + " (" + l.Source + ")"})
	}
	if l, air := g.riseLimit(w.Plan), lateAmbient(rows); l != nil && air != nil {
		at := l.High + air.Eval(w.Value)
		c.Lines = append(c.Lines, checks.CourseLine{Value: at, Text: fmt.Sprintf("limit %s: %s over the ambient of the last quarter (%s)", quantity.Show(at, "°C", 1), quantity.Spell(l.High, "K"), l.Source)})
	}
	c.How = c.How.Of(w.Check.Kind.Name)
	w.Plot(c)
}

func order(w *checks.Work) string {
	c, _ := w.Plan.Conductors()
	return c[0] + ", " + c[1] + ", " + c[2]
}
