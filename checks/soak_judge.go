package checks

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"handback/checks/power"
)

const (
	steadyLoad    = 0.10 // share of its mean that the load may move by in a soak one curve is drawn through (our choice)
	steadyAmbient = 5.0  // K the ambient may move by (our choice)
	steadyPace    = 1.0  // K an hour under which a temperature stands (IEC 60076-11, from memory)
	steadyFor     = 60.0 // min over which it is looked at
	coolingAir    = 40.0 // °C of cooling air up to which the rises of the classes hold (IEC 60076-11, from memory); warmer air takes its excess off them
	lateShare     = 0.25 // part of the soak whose ambient counts for the final rise (IEC 60076-2, from memory)
)

// studentT is t for a level of confidence of 95.45 %, from one degree of freedom
// (JCGM 100:2008, table G.2): the factor that takes the place of k = 2 when a
// scatter is known from few readings.
var studentT = []float64{13.97, 4.53, 3.31, 2.87, 2.65, 2.52, 2.43, 2.37, 2.32, 2.28, 2.25, 2.23, 2.21, 2.20, 2.18, 2.17, 2.16, 2.15, 2.14, 2.13}

// judgeSoak passes when the last reading, the warmest one and the temperature
// they run to are at most the limit:
//
//	θ(t) = θ∞ − (θ∞ − θ0)·e^(−t/τ) by least squares over all readings
//	θ ≤ limit      θ − θ_a ≤ rise of the class
//
//	θ, θ_a   temperature of the point and of the ambient                °C
//	θ∞, τ    what it runs to and its time constant                      °C, min
//	limit    of the plan;  rise: A 60, E 75, B 80, F 100, H 125,
//	         200 135, 220 150                                           °C, K
//
// In air above 40 °C the temperature is held against 40 °C and that rise as well.
// Limits include their own value. θ_a is that of the reading; for θ∞ the mean of the
// last quarter of the soak. U of θ∞ and τ: each reading moved by its meter's error,
// or by the scatter about the curve, √(Σr²/(n − 3))·t/2, where that is the larger.
//
// A load under 3 % of the rated current (our choice) heats nothing that shows: the
// finding is inconclusive, whether the temperature stood or not.
//
// θ∞ counts only when the load moved by at most 10 % and the ambient by 5 K, the
// temperature rises, the readings span at least τ, and τ is larger than its U, so
// that the bend is more than scatter. Otherwise the last reading alone is judged and
// the finding is inconclusive, unless that reading has failed or the temperature
// stood: no more than 1 K an hour over at least the last hour. Source: IEC 60076-11
// for the rises, which are for the mean of a winding at rated load.
func judgeSoak(w *Work) {
	g := w.Check.Given.(*soak)
	rows := w.soakRows(g)
	if len(rows) == 0 {
		return
	}
	last := rows[len(rows)-1]
	if t := w.Plan.Transformer(g.Transformer); t != nil {
		load := Datum("load at the last reading", last.load, "A")
		w.Show("load", "load at the last reading, of the rated current of "+t.ID, "%", load.Div(t.ratedAmps()).Times(100))
	}
	w.soakHold(g, "last", last.temp, last.ambient)
	warmest := slices.MaxFunc(rows, func(a, b soakRow) int { return cmp.Compare(w.over(a), w.over(b)) })
	if w.over(warmest) > w.over(last) {
		w.soakHold(g, "warmest", warmest.temp, warmest.ambient)
	}
	if why := w.soakUnsteady(g, rows); !why.None() {
		w.drawSoak(g, rows, why)
		w.Say(Inconclusive, "", "no-final-temperature", Inner("why", why))
		return
	}
	stands := w.soakStands(g, rows)
	why := w.soakCurve(rows)
	w.drawSoak(g, rows, why)
	switch {
	case why.None():
		final := w.soakPart(rows, func(h power.Heating) float64 { return h.Final })
		w.soakHold(g, "final", final, w.lateAmbient(rows))
		w.Show("tau", "time constant", "min", w.soakPart(rows, func(h power.Heating) float64 { return h.Tau }))
	case !stands:
		w.Say(Inconclusive, "", "no-final-temperature", Inner("why", why))
	}
}

// over is how far a reading stands over its ambient, or over 0 °C where none is read.
func (w *Work) over(r soakRow) float64 {
	if r.ambient == nil {
		return r.temp.eval(w.value)
	}
	return r.temp.eval(w.value) - r.ambient.eval(w.value)
}

// soakHold holds a temperature against every limit there is, as itself and as a
// rise over the ambient; which is last, warmest or final.
func (w *Work) soakHold(g *soak, which string, temp, ambient *Expr) {
	name := which + " temperature of " + g.Point
	temp = Named(name, "°C", temp)
	if l := g.tempLimit(); l != nil {
		w.Hold(which, name, "°C", temp, l)
	} else {
		w.Show(which, name, "°C", temp)
	}
	if l := g.riseLimit(w.Plan); l != nil && ambient != nil {
		w.Hold(which+"_rise", which+" rise of "+g.Point+" over the ambient", "K", temp.Sub(ambient), l)
		if ambient.eval(w.value) > coolingAir {
			w.Hold(which+"_hot", name+" in air above 40 °C", "°C", temp, AtMost(coolingAir+l.High, "40 °C and that rise"))
		}
	}
}

// lateAmbient is the mean ambient of the last quarter of the soak, nil where none
// is read.
func (w *Work) lateAmbient(rows []soakRow) *Expr {
	var late []*Expr
	end := rows[len(rows)-1].minutes
	for _, r := range rows {
		if r.ambient != nil && r.minutes >= (1-lateShare)*end {
			late = append(late, r.ambient)
		}
	}
	if len(late) == 0 {
		return nil
	}
	return Named("mean ambient of the last quarter", "°C", Mean(late...))
}

// soakUnsteady says why neither a curve nor a standstill can be told from the
// readings; nothing when nothing forbids it.
func (w *Work) soakUnsteady(g *soak, rows []soakRow) Said {
	var loads, air []float64
	mean := 0.0
	for i, r := range rows {
		loads, mean = append(loads, r.load), mean+r.load/float64(len(rows))
		if r.ambient != nil {
			air = append(air, r.ambient.eval(w.value))
		}
		x := r.temp.eval(w.value)
		switch {
		case !(x >= absoluteZero) || math.IsInf(x, 0):
			return Say("no-temperature", Num("read", x, "°C"))
		case i > 0 && !(r.minutes > rows[i-1].minutes):
			return Say("times-do-not-rise")
		}
	}
	least, most := slices.Min(loads), slices.Max(loads)
	switch {
	case math.IsInf(mean, 0) || math.IsNaN(mean):
		return Say("load-no-number")
	case !(most > 0):
		return Say("no-load-carried")
	case w.soakIdle(g, least):
		return Say("load-heats-nothing", Num("read", least, "A"), Num("least", 100*noLoadShare, "%"), Word("transformer", g.Transformer))
	case !(most-least <= steadyLoad*mean*(1+slack)):
		return Say("load-moved", Num("low", least, "A"), Num("high", most, "A"), Num("within", 100*steadyLoad, "%"))
	case len(air) > 0 && !(slices.Max(air)-slices.Min(air) <= steadyAmbient*(1+slack)):
		return Say("ambient-moved", Num("low", slices.Min(air), "°C"), Num("high", slices.Max(air), "°C"), Num("within", steadyAmbient, "K"))
	}
	return Said{}
}

// soakIdle tells whether a load is none beside the rating, where the plan names the
// transformer.
func (w *Work) soakIdle(g *soak, load float64) bool {
	t := w.Plan.Transformer(g.Transformer)
	return t != nil && !(load >= noLoadShare*t.ratedAmps().eval(nil))
}

// soakStands tells whether the temperature stood, and says so: what it ran to is
// then what was read last.
func (w *Work) soakStands(g *soak, rows []soakRow) bool {
	end := rows[len(rows)-1].minutes
	from := -1
	for i, r := range rows {
		if end-r.minutes >= steadyFor*(1-slack) {
			from = i
		}
	}
	if from < 0 {
		return false
	}
	var temps []*Expr
	for _, r := range rows[from:] {
		temps = append(temps, r.temp)
	}
	minutes := end - rows[from].minutes
	pace := Max(temps...).Sub(Min(temps...)).Div(Datum("hours", minutes/60, "h"))
	if x := w.Show("pace", fmt.Sprintf("change over the last %s min", significant(minutes, 4)), "K/h", pace); !(x <= steadyPace*(1+slack)) {
		return false
	}
	w.Say(Pass, "", "temperature-stands", Word("point", g.Point), Num("most", steadyPace, "K/h"), Num("over", minutes, "min"))
	return true
}

// soakCurve says why the curve through the readings does not count; nothing when it
// does. The readings then carry the scatter about it as their own error where that
// is larger than the meter's.
func (w *Work) soakCurve(rows []soakRow) Said {
	if len(rows) < fewestSoak {
		return Say("too-few-readings", Num("readings", float64(len(rows)), ""), Num("wanted", fewestSoak, ""))
	}
	minutes, temps := make([]float64, len(rows)), make([]float64, len(rows))
	for i, r := range rows {
		minutes[i], temps[i] = r.minutes, r.temp.eval(w.value)
	}
	h, err := power.FitHeating(minutes, temps)
	switch {
	case err != nil:
		return Say("no-curve-fits", Shown("why", err.Error()))
	case !(h.Final > h.Start):
		return Say("temperature-falls")
	}
	t := studentT[min(len(rows)-fewestSoak, len(studentT)-1)]
	for _, r := range rows {
		w.widen(r.temp.key, math.Sqrt(3)*h.Scatter*t/2)
	}
	u := w.spread(w.soakPart(rows, func(h power.Heating) float64 { return h.Tau }))
	if math.IsNaN(u) { // the meter's accuracy is not known: the scatter alone tells
		u = t * h.TauError
	}
	span := minutes[len(minutes)-1]
	switch {
	case !(h.Tau > u):
		return Say("bend-within-scatter", Num("span", span, "min"))
	case !(span >= h.Tau):
		return Say("span-too-short", Num("span", span, "min"), Num("tau", h.Tau, "min"))
	}
	return Said{}
}

// soakPart is a value of the curve through the readings.
func (w *Work) soakPart(rows []soakRow, part func(power.Heating) float64) *Expr {
	minutes, temps := make([]float64, len(rows)), make([]*Expr, len(rows))
	for i, r := range rows {
		minutes[i], temps[i] = r.minutes, r.temp
	}
	return Solve(fmt.Sprintf("exponential curve by least squares through the %d readings", len(rows)), func(x []float64) float64 {
		h, err := power.FitHeating(minutes, x)
		if err != nil {
			return math.NaN()
		}
		return part(h)
	}, temps...)
}
