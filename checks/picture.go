package checks

import (
	"fmt"
	"slices"

	"handback/checks/power"
)

// Diagram is the volts of conductors as the readings place them in one plane: what a
// handover draws. It decides nothing.
type Diagram struct {
	How     string // how it was drawn and what it cannot show
	Phasors []Phasor
}

// Phasor is one conductor of one side, from the diagram's common origin. V, finite.
type Phasor struct {
	Side, Name string
	Re, Im     float64
}

// Course is a reading over time, with the curve through it where one counts.
type Course struct {
	Name, Unit string
	Minutes    []float64 // of the readings after the first, rising
	Values     []float64 // as many, in Unit
	How        Said      // what the curve is, or why there is none
	Curve      func(minutes float64) float64
	Lines      []CourseLine
}

// CourseLine is a limit across a course, in its unit.
type CourseLine struct {
	Value float64
	Text  string
}

// Draw adds the three conductors of a side to the finding's diagram.
func (w *Work) Draw(how, side string, points [3]complex128) {
	if w.found.Diagram == nil {
		w.found.Diagram = &Diagram{How: how}
	}
	names, _ := w.Plan.Conductors()
	for i, p := range points {
		w.found.Diagram.Phasors = append(w.found.Diagram.Phasors, Phasor{side, names[i], real(p), imag(p)})
	}
}

// drawStar draws one side from its neutral, where the six volts agree on one.
func (w *Work) drawStar(side string) {
	ll, okLines := w.three("", lineKeys)
	ln, okPhases := w.three("", phaseKeys)
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
		Show(residual, "V", 2), w.order()), side, points)
}

// drawBoth draws the two sides of a balance about their centroids: each at its own
// angle where a cross-volts check that passed gives it, else at the angle assumed.
func (w *Work) drawBoth(g *parallelBalance) {
	if past := w.Before[g.Cross]; g.Cross != "" && past.Finding.Verdict == Pass {
		earlier := Input{Plan: w.Plan, Check: w.Plan.Check(g.Cross), Answers: past.Answers}
		v, ok := earlier.crossReadings()
		fit, err := power.PlaceCross(v)
		if !ok || err != nil {
			return
		}
		how := "each side about its centroid and at its own angle, by the nine volts of check " + g.Cross
		w.Draw(how, g.A, about(fit.A, fit.CentreA))
		w.Draw(how, g.B, about(fit.B, fit.CentreB()))
		return
	}
	lla, okA := w.three("a_", lineKeys)
	llb, okB := w.three("b_", lineKeys)
	if !okA || !okB {
		return
	}
	pa, errA := power.Triangle(lla)
	pb, errB := power.Triangle(llb)
	if errA != nil || errB != nil {
		return
	}
	how := "each side drawn from its three line-to-line volts about its centroid, both ASSUMED to stand at the same angle and in the same order: " +
		"volts of one side alone cannot show either. Only volts across the open device, conductor by conductor, do"
	w.Draw(how, g.A, pa)
	w.Draw(how, g.B, pb)
}

// drawCross draws both sides of an open device as the nine volts place them. Nothing
// is drawn where they contradict one another or a conductor hangs on nothing.
func (w *Work) drawCross(g *crossVolts, found power.CrossFinding) {
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
func (w *Work) drawSoak(g *soak, rows []soakRow, why Said) {
	c := Course{Name: "temperature of " + g.Point, Unit: "°C", How: Say("no-curve-drawn", Inner("why", why))}
	for _, r := range rows {
		c.Minutes, c.Values = append(c.Minutes, r.minutes), append(c.Values, r.temp.eval(w.value))
	}
	if h, err := power.FitHeating(c.Minutes, c.Values); why.None() && err == nil {
		c.Curve = h.At
		c.How = Say("curve-drawn", Num("start", h.Start, "°C"), Num("final", h.Final, "°C"), Num("tau", h.Tau, "min"))
	}
	if l := g.tempLimit(); l != nil {
		c.Lines = append(c.Lines, CourseLine{l.High, "limit " + spell(l.High, "°C") + " (" + l.Source + ")"})
	}
	if l, air := g.riseLimit(w.Plan), w.lateAmbient(rows); l != nil && air != nil {
		at := l.High + air.eval(w.value)
		c.Lines = append(c.Lines, CourseLine{at, fmt.Sprintf("limit %s: %s over the ambient of the last quarter (%s)", Show(at, "°C", 1), spell(l.High, "K"), l.Source)})
	}
	c.How = c.How.Of(w.Check.Kind.Name)
	w.plot(c)
}

func (w *Work) order() string {
	c, _ := w.Plan.Conductors()
	return c[0] + ", " + c[1] + ", " + c[2]
}
