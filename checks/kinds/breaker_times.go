package kinds

import (
	"fmt"
	"strings"

	"handback/checks"
	"handback/checks/calc"
	"handback/checks/plan"
	"handback/checks/quantity"
)

// breakerTimes is what a breaker-times check is given.
type breakerTimes struct {
	Device      string           `plan:"device,need" doc:"what the breaker is called"`
	Open        *timeBand        `plan:"open" doc:"opening time of each pole: from the release energised to the contacts parted"`
	Close       *timeBand        `plan:"close" doc:"closing time of each pole: from the release energised to the contacts touching"`
	OpenSpread  *quantity.Second `plan:"open_spread,pos" doc:"maximum spread of the poles when opening; a sixth of a cycle when not given"`
	CloseSpread *quantity.Second `plan:"close_spread,pos" doc:"maximum spread of the poles when closing; a quarter of a cycle when not given"`
	Coils       []coil           `plan:"coils" doc:"releases whose minimum operating volts are read"`
	Source      string           `plan:"source" doc:"where the plan's own limits come from; plan when not given"`
}

// timeBand is what a time may be.
type timeBand struct {
	Low  *quantity.Second `plan:"low,pos" doc:"shortest time that passes, such as 30 ms"`
	High *quantity.Second `plan:"high,need,pos" doc:"longest time that passes, such as 45 ms"`
}

// coil is a release of a breaker.
type coil struct {
	ID     string            `plan:"id,need" doc:"short name used in answers"`
	Name   string            `plan:"name,need" doc:"what it is called on the sheet, such as trip coil 1"`
	Does   string            `plan:"does,need" one:"open|close" doc:"open or close"`
	Supply string            `plan:"supply,need" one:"ac|dc" doc:"its control volts: ac or dc"`
	Volts  quantity.Volt     `plan:"volts,need,pos" doc:"rated control volts, such as 110 V"`
	Share  *quantity.Percent `plan:"share,pos" doc:"share of the rated volts at which it operates at the latest; 85 % for closing and for opening on ac, 70 % for opening on dc, when not given"`
}

// Shares of the rated control volts from which a release must operate: a shunt opening
// release from 70 % d.c. or 85 % a.c., a closing one from 85 %, to 110 % (IEC 62271-1,
// clause on releases, from memory).
const (
	leastOpenDC = 70.0
	leastOther  = 85.0
)

// Spread of the poles as a share of a cycle of the rated frequency (IEC 62271-100, clause
// on simultaneity of poles, from memory).
const (
	openCycle  = 6
	closeCycle = 4
)

// A breaker takes longer than the fastest and less than the slowest once its release is
// energised, s (our choice): a time in seconds typed as milliseconds falls outside.
const fastest, slowest = 2e-3, 2.0

var _ = checks.Define(checks.Spec[breakerTimes]{
	About: plan.About{
		Name: "breaker-times", Title: "Operating times of a breaker", Group: "Dead checks", Dead: true,
		Cautions: []string{deadCaution, testCaution,
			"Breaker withdrawn, or isolated on both sides, and in test position: an operation must connect nothing. Springs and drives hold energy after the supply is off; keep hands and tools out of mechanism and contacts whenever they are charged, and lock or discharge them before leads are moved.",
			"Say aloud before each operation. Nobody stands in front of the arc vents or within reach of the drive."},
		Sources: []string{"times: the plan, from the maker's data", "spread of the poles: a sixth of a cycle opening, a quarter of a cycle closing, IEC 62271-100, or the plan",
			"minimum volts of a release: 70 % d.c. and 85 % a.c. opening, 85 % closing, of the rated control volts, IEC 62271-1, or the plan"},
	},
	Validate: validateBreakerTimes,
	Predict:  predictBreakerTimes,
	Form:     breakerTimesForm,
	Doubts:   doubtBreakerTimes,
	Judge:    judgeBreakerTimes,
})

// operation is one of the two: its poles are timed.
type operation struct {
	does, name string
	band       *timeBand
	spread     *quantity.Second
	share      float64 // of a cycle, one over
}

// operations are those that the plan has timed.
func (g *breakerTimes) operations() []operation {
	var out []operation
	for _, o := range []operation{{"open", "opening", g.Open, g.OpenSpread, openCycle}, {"close", "closing", g.Close, g.CloseSpread, closeCycle}} {
		if o.band != nil {
			out = append(out, o)
		}
	}
	return out
}

func validateBreakerTimes(p *plan.Plan, c *plan.Check, g *breakerTimes, say plan.Say) {
	if len(g.operations()) == 0 && len(g.Coils) == 0 {
		say("", "give open, close, coils or several: nothing is read otherwise")
	}
	for _, o := range g.operations() {
		if o.band.Low != nil && o.band.High != nil && *o.band.Low >= *o.band.High {
			say(o.does+".low", "%s is not below high, %s", inMilliseconds(float64(*o.band.Low)), inMilliseconds(float64(*o.band.High)))
		}
		if o.spread == nil && p.System.Frequency == 0 {
			say(o.does+"_spread", "missing: neither given here nor told by the frequency of the system")
		}
	}
	for key, unused := range map[string]bool{"open_spread": g.Open == nil && g.OpenSpread != nil, "close_spread": g.Close == nil && g.CloseSpread != nil} {
		if unused {
			say(key, "no poles are timed: %s is missing", strings.TrimSuffix(key, "_spread"))
		}
	}
	if len(g.operations()) > 0 {
		needReads(p, "", c.Meter, "duration", say)
	}
	needIDs("coils", plan.IDsOf(g.Coils, func(c coil) string { return c.ID }), say)
}

func (g *breakerTimes) source() string {
	if g.Source != "" {
		return g.Source
	}
	return "plan"
}

// timeLimit holds the time of a pole, ms.
func (g *breakerTimes) timeLimit(o operation) *checks.Limit {
	return checks.Between(1e3*quantity.OrNaN(o.band.Low), 1e3*quantity.OrNaN(o.band.High), g.source())
}

// spreadLimit holds the spread of the poles, ms.
func (g *breakerTimes) spreadLimit(p *plan.Plan, o operation) *checks.Limit {
	if o.spread != nil {
		return checks.AtMost(1e3*float64(*o.spread), g.source())
	}
	cycle := map[float64]string{openCycle: "a sixth", closeCycle: "a quarter"}[o.share]
	return checks.AtMost(1e3/(o.share*float64(p.System.Frequency)), cycle+" of a cycle, IEC 62271-100")
}

// inMilliseconds spells a time of a breaker.
func inMilliseconds(seconds float64) string { return quantity.Spell(roundTo(1e3*seconds, 3), "ms") }

// limit holds the least volts at which a release operates, as a share of its rated ones.
func (c coil) limit(g *breakerTimes) *checks.Limit {
	switch {
	case c.Share != nil:
		return checks.AtMost(float64(*c.Share), g.source())
	case c.Does == "open" && c.Supply == "dc":
		return checks.AtMost(leastOpenDC, "IEC 62271-1")
	}
	return checks.AtMost(leastOther, "IEC 62271-1")
}

func (c coil) field() string { return fieldKey(c.ID, "volts") }

// poleKeys are the fields of an operation's poles.
func (o operation) poleKeys() [3]string {
	return [3]string{o.does + "_l1", o.does + "_l2", o.does + "_l3"}
}

func breakerTimesForm(in checks.Input, g *breakerTimes) []checks.Field {
	out := []checks.Field{meterField(in)}
	c, _ := in.Plan.Conductors()
	for _, o := range g.operations() {
		l := g.timeLimit(o)
		e := &checks.Expect{Value: l.High / 1e3, Low: 0, High: l.High / 1e3, Source: l.Source}
		if o.band.Low != nil {
			e.Low, e.Value = l.Low/1e3, (l.Low+l.High)/2e3
		}
		for i, key := range o.poleKeys() {
			out = append(out, checks.Field{Key: key, Label: o.name + " time " + c[i], Sort: checks.Measured, Unit: "ms", Need: true, Row: o.does, Meter: "meter",
				Hint: "at rated control volts, all poles in one operation", Example: quantity.Significant(1e3*e.Value, 3), Expect: e})
		}
	}
	for _, k := range g.Coils {
		most := k.limit(g).High / 100 * float64(k.Volts)
		out = append(out, checks.Field{Key: k.field(), Label: k.Name + ", minimum volts at which it operates", Sort: checks.Measured, Unit: "V", Need: true, Meter: "meter", Bounds: true,
			Hint: "raised from below, a fresh pulse each time, never slowly through a coil that heats; with > where it did not operate", Example: quantity.Significant(0.9*most, 3),
			Expect: &checks.Expect{Value: most, Low: 0, High: most, Source: k.limit(g).Source}})
	}
	return out
}

// doubtBreakerTimes names times that no breaker has, or not beside its other poles, and
// least volts that no release has.
func doubtBreakerTimes(in checks.Input, g *breakerTimes) []checks.Doubt {
	var out []checks.Doubt
	for _, o := range g.operations() {
		keys := o.poleKeys()
		for _, key := range keys {
			if a, ok := in.Answers[key]; ok && !(a.Value >= fastest && a.Value <= slowest) {
				out = append(out, checks.Doubt{Fields: []string{key}, Said: checks.Say("no-breaker-time", checks.NumIn("read", a.Value, "ms"), checks.NumIn("least", fastest, "ms"), checks.NumIn("most", slowest, "ms"))})
			}
		}
		out = append(out, checks.NotYetDoubted(slipped(in, "", keys, "ms"), out)...)
	}
	for _, k := range g.Coils {
		if a, ok := in.Answers[k.field()]; ok && (!(a.Value > 0) || a.Value > 1.5*float64(k.Volts)) {
			out = append(out, checks.Doubt{Fields: []string{k.field()}, Said: checks.Say("no-release-volts", checks.Word("coil", k.Name), checks.Num("read", a.Value, "V"), checks.Num("rated", float64(k.Volts), "V"))})
		}
	}
	return out
}

// judgeBreakerTimes passes when each pole opens and closes within its time, the poles
// within the spread of one another, and every release operates at its least volts or
// below:
//
//	low ≤ t ≤ high     max t − min t ≤ spread     100·U_least/U_rated ≤ share
//
//	t        from the release energised to the contacts parted or touching, ms  > 0
//	spread   opening a sixth, closing a quarter of a cycle (IEC 62271-100, from memory),
//	         3.33 and 5 ms at 50 Hz, where the plan gives none
//	share    70 % for an opening release on d.c., 85 % on a.c. and for closing
//	         (IEC 62271-1, from memory), where the plan gives none
//
// Limits include their own value. One instrument reads all poles, so the reading share of
// its error all but falls out of the spread. A release that did not operate up to some
// volts is a bound, ">77 V": above the limit it fails, else it leaves open whether the
// release would have operated. A doubted time gives no spread.
func judgeBreakerTimes(w *checks.Work, g *breakerTimes) {
	inDoubt := checks.Doubted(doubtBreakerTimes(w.Input, g))
	for _, o := range g.operations() {
		times, sound := make([]*calc.Expr, 3), true
		for i, key := range o.poleKeys() {
			times[i] = w.ReadIn(key)
			if inDoubt(key) {
				sound = false
				continue
			}
			w.HoldField(key, "time_"+key, times[i].Label(), "ms", times[i], g.timeLimit(o))
		}
		if sound {
			w.Hold("spread_"+o.does, "spread of the poles, "+o.name, "ms", calc.Max(times...).Sub(calc.Min(times...)), g.spreadLimit(w.Plan, o))
		}
	}
	for _, k := range g.Coils {
		if inDoubt(k.field()) {
			continue
		}
		rated := calc.Datum("rated volts of "+k.Name, float64(k.Volts), "V")
		w.HoldBounded(k.field(), "least_"+strings.ReplaceAll(k.ID, "-", "_"), k.Name+", minimum volts as a share of the rated", "%", w.Read(k.field()).Div(rated).Times(100), k.limit(g))
	}
}

// predictBreakerTimes prints the limits before anything is read.
func predictBreakerTimes(p *plan.Plan, c *plan.Check, g *breakerTimes) []plan.Prediction {
	var out []plan.Prediction
	for _, o := range g.operations() {
		l, spread := g.timeLimit(o), g.spreadLimit(p, o)
		out = append(out, plan.Prediction{Name: o.name + " time of each pole", Text: checks.Between(l.Low, l.High, "").Text("ms"), Source: l.Source},
			plan.Prediction{Name: "spread of the poles, " + o.name, Text: "at most " + inMilliseconds(spread.High/1e3), Source: spread.Source})
	}
	for _, k := range g.Coils {
		l := k.limit(g)
		out = append(out, plan.Prediction{Name: k.Name + ", minimum volts", Source: l.Source,
			Text: fmt.Sprintf("operates at %s or below, %s of %s", quantity.Spell(roundTo(l.High/100*float64(k.Volts), 4), "V"), quantity.Spell(l.High, "%"), quantity.Spell(float64(k.Volts), "V"))})
	}
	if m := p.Meter(c.Meter); m != nil && len(m.Ranges) > 0 {
		for _, o := range g.operations() {
			if r, ok := m.RangeFor("duration", quantity.OrNaN(o.band.High)); ok && r.Resolution != nil && r.Resolution.Value > g.spreadLimit(p, o).High/1e3/5 {
				out = append(out, plan.Prediction{Name: m.Name, Source: "our choice", Warn: true,
					Text: fmt.Sprintf("shows %s steps, more than a fifth of the spread of %s: it hardly shows it", inMilliseconds(r.Resolution.Value), inMilliseconds(g.spreadLimit(p, o).High/1e3))})
			}
		}
	}
	return out
}
