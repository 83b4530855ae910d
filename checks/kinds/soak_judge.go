package kinds

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"handback/checks"
	"handback/checks/calc"
	"handback/checks/power"
	"handback/checks/quantity"
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
func judgeSoak(w *checks.Work, g *soak) {
	rows := soakRows(w, g)
	if len(rows) == 0 {
		return
	}
	last := rows[len(rows)-1]
	if t := w.Plan.Transformer(g.Transformer); t != nil {
		load := calc.Datum("load at the last reading", last.load, "A")
		w.Show("load", "load at the last reading, of the rated current of "+t.ID, "%", load.Div(ratedAmps(t.Rated())).Times(100))
	}
	soakHold(w, g, "last", last.temp, last.ambient)
	warmest := slices.MaxFunc(rows, func(a, b soakRow) int { return cmp.Compare(over(w, a), over(w, b)) })
	if over(w, warmest) > over(w, last) {
		soakHold(w, g, "warmest", warmest.temp, warmest.ambient)
	}
	fits := soakFits(rows)
	if why := soakUnsteady(w, g, rows); !why.None() {
		drawSoak(w, g, rows, fits, why)
		w.Say(checks.Inconclusive, "", "no-final-temperature", checks.Inner("why", why))
		return
	}
	stands := soakStands(w, g, rows)
	why := soakCurve(w, rows, fits)
	drawSoak(w, g, rows, fits, why)
	switch {
	case why.None():
		final := soakPart(rows, fits, func(h power.Heating) float64 { return h.Final })
		soakHold(w, g, "final", final, lateAmbient(rows))
		w.Show("tau", "time constant", "min", soakPart(rows, fits, func(h power.Heating) float64 { return h.Tau }))
	case !stands:
		w.Say(checks.Inconclusive, "", "no-final-temperature", checks.Inner("why", why))
	}
}

// over is how far a reading stands over its ambient, or over 0 °C where none is read.
func over(w *checks.Work, r soakRow) float64 {
	if r.ambient == nil {
		return r.temp.Eval(w.Value)
	}
	return r.temp.Eval(w.Value) - r.ambient.Eval(w.Value)
}

// soakHold holds a temperature against every limit there is, as itself and as a
// rise over the ambient; which is last, warmest or final.
func soakHold(w *checks.Work, g *soak, which string, temp, ambient *calc.Expr) {
	name := which + " temperature of " + g.Point
	temp = calc.Named(name, "°C", temp)
	if l := g.tempLimit(); l != nil {
		w.Hold(which, name, "°C", temp, l)
	} else {
		w.Show(which, name, "°C", temp)
	}
	if l := g.riseLimit(w.Plan); l != nil && ambient != nil {
		w.Hold(which+"_rise", which+" rise of "+g.Point+" over the ambient", "K", temp.Sub(ambient), l)
		if ambient.Eval(w.Value) > coolingAir {
			w.Hold(which+"_hot", name+" in air above 40 °C", "°C", temp, checks.AtMost(coolingAir+l.High, "40 °C and that rise"))
		}
	}
}

// lateAmbient is the mean ambient of the last quarter of the soak, nil where none
// is read.
func lateAmbient(rows []soakRow) *calc.Expr {
	var late []*calc.Expr
	end := rows[len(rows)-1].minutes
	for _, r := range rows {
		if r.ambient != nil && r.minutes >= (1-lateShare)*end {
			late = append(late, r.ambient)
		}
	}
	if len(late) == 0 {
		return nil
	}
	return calc.Named("mean ambient of the last quarter", "°C", calc.Mean(late...))
}

// soakUnsteady says why neither a curve nor a standstill can be told from the
// readings; nothing when nothing forbids it.
func soakUnsteady(w *checks.Work, g *soak, rows []soakRow) checks.Said {
	var loads, air []float64
	mean := 0.0
	for i, r := range rows {
		loads, mean = append(loads, r.load), mean+r.load/float64(len(rows))
		if r.ambient != nil {
			air = append(air, r.ambient.Eval(w.Value))
		}
		x := r.temp.Eval(w.Value)
		switch {
		case !(x >= quantity.AbsoluteZero) || math.IsInf(x, 0):
			return checks.Say("no-temperature", checks.Num("read", x, "°C"))
		case i > 0 && !(r.minutes > rows[i-1].minutes):
			return checks.Say("times-do-not-rise")
		}
	}
	least, most := slices.Min(loads), slices.Max(loads)
	switch {
	case math.IsInf(mean, 0) || math.IsNaN(mean):
		return checks.Say("load-no-number")
	case !(most > 0):
		return checks.Say("no-load-carried")
	case soakIdle(w, g, least):
		return checks.Say("load-heats-nothing", checks.Num("read", least, "A"), checks.Num("least", 100*noLoadShare, "%"), checks.Word("transformer", g.Transformer))
	case !quantity.NotAbove(most-least, steadyLoad*mean):
		return checks.Say("load-moved", checks.Num("low", least, "A"), checks.Num("high", most, "A"), checks.Num("within", 100*steadyLoad, "%"))
	case len(air) > 0 && !quantity.NotAbove(slices.Max(air)-slices.Min(air), steadyAmbient):
		return checks.Say("ambient-moved", checks.Num("low", slices.Min(air), "°C"), checks.Num("high", slices.Max(air), "°C"), checks.Num("within", steadyAmbient, "K"))
	}
	return checks.Said{}
}

// soakIdle tells whether a load is none beside the rating, where the plan names the
// transformer.
func soakIdle(w *checks.Work, g *soak, load float64) bool {
	t := w.Plan.Transformer(g.Transformer)
	return t != nil && !(load >= noLoadShare*ratedAmps(t.Rated()).Eval(nil))
}

// soakStands tells whether the temperature stood, and says so: what it ran to is
// then what was read last.
func soakStands(w *checks.Work, g *soak, rows []soakRow) bool {
	end := rows[len(rows)-1].minutes
	from := -1
	for i, r := range rows {
		if quantity.NotBelow(end-r.minutes, steadyFor) {
			from = i
		}
	}
	if from < 0 {
		return false
	}
	var temps []*calc.Expr
	for _, r := range rows[from:] {
		temps = append(temps, r.temp)
	}
	minutes := end - rows[from].minutes
	pace := calc.Max(temps...).Sub(calc.Min(temps...)).Div(calc.Datum("hours", minutes/60, "h"))
	if x := w.Show("pace", fmt.Sprintf("change over the last %s min", quantity.Significant(minutes, 4)), "K/h", pace); !quantity.NotAbove(x, steadyPace) {
		return false
	}
	w.Say(checks.Pass, "", "temperature-stands", checks.Word("point", g.Point), checks.Num("most", steadyPace, "K/h"), checks.Num("over", minutes, "min"))
	return true
}

// soakCurve says why the curve through the readings does not count; nothing when it
// does. The readings then carry the scatter about it as their own error where that
// is larger than the meter's.
func soakCurve(w *checks.Work, rows []soakRow, fits soakFit) checks.Said {
	if len(rows) < fewestSoak {
		return checks.Say("too-few-readings", checks.Num("readings", float64(len(rows)), ""), checks.Num("wanted", fewestSoak, ""))
	}
	temps := make([]float64, len(rows))
	for i, r := range rows {
		temps[i] = r.temp.Eval(w.Value)
	}
	h := fits(temps)
	switch {
	case h.err != nil:
		return checks.Say("no-curve-fits", checks.Shown("why", h.err.Error()))
	case !(h.Final > h.Start):
		return checks.Say("temperature-falls")
	}
	t := studentT[min(len(rows)-fewestSoak, len(studentT)-1)]
	for _, r := range rows {
		w.Widen(r.temp.Key(), math.Sqrt(3)*h.Scatter*t/2)
	}
	u := w.Spread(soakPart(rows, fits, func(h power.Heating) float64 { return h.Tau }))
	if math.IsNaN(u) { // the meter's accuracy is not known: the scatter alone tells
		u = t * h.TauError
	}
	span := rows[len(rows)-1].minutes
	switch {
	case !(h.Tau > u):
		return checks.Say("bend-within-scatter", checks.Num("span", span, "min"))
	case !(span >= h.Tau):
		return checks.Say("span-too-short", checks.Num("span", span, "min"), checks.Num("tau", h.Tau, "min"))
	}
	return checks.Said{}
}

// soakFit is the curve through the temperatures of a soak's rows.
type soakFit func(temps []float64) soakFitted

type soakFitted struct {
	power.Heating
	err error
}

func soakFits(rows []soakRow) soakFit {
	minutes := make([]float64, len(rows))
	for i, r := range rows {
		minutes[i] = r.minutes
	}
	all := power.NewHeatings(minutes)
	return calc.Once(func(temps []float64) soakFitted {
		h, err := all.Fit(temps)
		return soakFitted{h, err}
	})
}

// soakPart is a value of the curve through the readings.
func soakPart(rows []soakRow, fits soakFit, part func(power.Heating) float64) *calc.Expr {
	temps := make([]*calc.Expr, len(rows))
	for i, r := range rows {
		temps[i] = r.temp
	}
	return calc.Solve(fmt.Sprintf("exponential curve by least squares through the %d readings", len(rows)), func(x []float64) float64 {
		h := fits(x)
		if h.err != nil {
			return math.NaN()
		}
		return part(h.Heating)
	}, temps...)
}
