package kinds

import (
	"fmt"
	"slices"

	"handback/checks"
	"handback/checks/calc"
	"handback/checks/plan"
	"handback/checks/quantity"
)

// temperatureRelay is what a temperature-relay check is given.
type temperatureRelay struct {
	Transformer string           `plan:"transformer" ref:"transformer" doc:"id of the transformer whose windings it guards; its insulation class bounds the trip"`
	Sensors     []relaySensor    `plan:"sensors,need" doc:"the sensors that the relay shows, 40 at most"`
	Spread      *quantity.Amount `plan:"spread" doc:"maximum difference of the sensors from one another on plant that is evenly warm, such as 3 K; wanted for more than one"`
	OverAmbient *quantity.Amount `plan:"over_ambient" doc:"how far a sensor may stand from the ambient, either way, on plant that stood dead until it was as cold as its room, such as 5 K; the ambient is asked when given"`
	SetPoints   []setPoint       `plan:"set_points,need" doc:"the set points of fans, alarm and trip, 40 at most"`
	Within      *quantity.Amount `plan:"within,need" doc:"how far a set point may stand from the plan's, either way, such as 1 K"`
	Source      string           `plan:"source" doc:"the settings sheet or maker's document that the values come from; plan when not given"`
}

type relaySensor struct {
	ID   string `plan:"id,need" doc:"short name used in answers"`
	Name string `plan:"name,need" doc:"what the sensor lies at, such as LV winding L1"`
}

// setPoint is one temperature at which the relay acts.
type setPoint struct {
	ID      string            `plan:"id,need" doc:"short name used in answers"`
	Does    string            `plan:"does,need" one:"fans off|fans on|alarm|trip" doc:"what the relay does there"`
	At      *quantity.Celsius `plan:"at,need" doc:"the temperature it is to be set to, such as 130 °C"`
	Reaches string            `plan:"reaches" doc:"where its contact must be seen to arrive, such as annunciator in the control room, or HV breaker opens; wanted of alarm and trip, asked when given"`
}

// setPointOrder is what a relay does as the temperature rises.
var setPointOrder = []string{"fans off", "fans on", "alarm", "trip"}

// What was seen of a contact at the place it must reach.
const (
	contactReached = "reached"
	contactFailed  = "did not reach"
)

// classHot is the temperature of each thermal class of insulation, °C (IEC 60085).
var classHot = map[string]float64{"A": 105, "E": 120, "B": 130, "F": 155, "H": 180, "200": 200, "220": 220}

var _ = checks.Define(checks.Spec[temperatureRelay]{
	About: plan.About{
		Name: "temperature-relay", Title: "Temperature relay", Group: "Other checks", Anywhere: true,
		Cautions: []string{
			"Sensors lie against windings: with the plant live, they and their leads may carry dangerous volts. Touch them and their terminals only on plant proved dead and earthed under the permit.",
			"A trip contact that is tried opens breakers: only with these in their test position or the plant dead. Fans start without warning: keep hands and tools out of them.",
		},
		Sources: []string{"set points, spread and places of contacts: the plan",
			"a contact is proved to the place it must reach, not to the relay's terminals; sensors agree with the room after standing dead: common practice",
			"temperature of a thermal class, which no trip stands above: IEC 60085"},
	},
	Validate: validateTemperatureRelay,
	Predict:  predictTemperatureRelay,
	Form:     temperatureRelayForm,
	Doubts:   doubtTemperatureRelay,
	Judge:    judgeTemperatureRelay,
})

func validateTemperatureRelay(p *plan.Plan, c *plan.Check, g *temperatureRelay, say plan.Say) {
	switch n := len(g.Sensors); {
	case n == 0 || n > maxRows:
		say("sensors", "%d sensors: 1 to %d are wanted; give more in a check of their own", n, maxRows)
	case n == 1 && g.OverAmbient == nil:
		say("over_ambient", "missing: a single sensor has no other to be compared with")
	case n > 1 && g.Spread == nil:
		say("spread", "missing: the maximum difference of the sensors, such as 3 K")
	}
	needKelvins("spread", g.Spread, say)
	needKelvins("over_ambient", g.OverAmbient, say)
	needKelvins("within", g.Within, say)
	needIDs("sensors", plan.IDsOf(g.Sensors, func(s relaySensor) string { return s.ID }), say)
	needRows("set_points", "set points", maxRows, plan.IDsOf(g.SetPoints, func(s setPoint) string { return s.ID }), say)
	for i, s := range g.SetPoints {
		key := fmt.Sprintf("set_points[%d]", i+1)
		if s.Reaches == "" && (s.Does == "alarm" || s.Does == "trip") {
			say(key+".reaches", "missing: where the %s must be seen to arrive", s.Does)
		}
		for _, t := range g.SetPoints {
			if slices.Index(setPointOrder, t.Does) < slices.Index(setPointOrder, s.Does) && *t.At >= *s.At {
				say(key+".at", "%s at %s is not above %s at %s", s.Does, quantity.Spell(float64(*s.At), "°C"), t.Does, quantity.Spell(float64(*t.At), "°C"))
			}
		}
	}
	if g.OverAmbient != nil {
		needReads(p, "", c.Meter, "temperature", say)
	}
}

func (s relaySensor) key() string     { return fieldKey(s.ID, "temp") }
func (s setPoint) setKey() string     { return fieldKey(s.ID, "set") }
func (s setPoint) reachedKey() string { return fieldKey(s.ID, "reached") }

// label is what the relay does there, with the id where more than one set point does it.
func (g *temperatureRelay) label(s setPoint) string {
	for _, t := range g.SetPoints {
		if t.ID != s.ID && t.Does == s.Does {
			return s.Does + " (" + s.ID + ")"
		}
	}
	return s.Does
}

func (g *temperatureRelay) spread() *checks.Limit {
	return checks.AtMost(kelvins(g.Spread), orPlan(g.Source))
}

func (g *temperatureRelay) overAmbient() *checks.Limit {
	return around(kelvins(g.OverAmbient), orPlan(g.Source))
}

func (g *temperatureRelay) setLimit(s setPoint) *checks.Limit {
	at, within := float64(*s.At), kelvins(g.Within)
	return checks.Between(at-within, at+within, orPlan(g.Source))
}

// aboveClass is the temperature of the windings' thermal class where a trip is to stand
// above it; ok is false otherwise.
func (g *temperatureRelay) aboveClass(p *plan.Plan, s setPoint) (class string, hot float64, ok bool) {
	t := p.Transformer(g.Transformer)
	if t == nil || s.Does != "trip" {
		return "", 0, false
	}
	hot, known := classHot[t.Class]
	return t.Class, hot, known && quantity.Above(float64(*s.At), hot)
}

func predictTemperatureRelay(p *plan.Plan, _ *plan.Check, g *temperatureRelay) []plan.Prediction {
	var out []plan.Prediction
	if g.Spread != nil {
		out = append(out, plan.Prediction{Name: "spread of the sensors", Text: g.spread().Text("K"), Source: orPlan(g.Source)})
	}
	if g.OverAmbient != nil {
		out = append(out, plan.Prediction{Name: "sensors from the ambient", Text: g.overAmbient().Text("K"), Source: orPlan(g.Source)})
	}
	for _, s := range g.SetPoints {
		pr := plan.Prediction{Name: g.label(s), Text: g.setLimit(s).Text("°C"), Source: orPlan(g.Source)}
		if class, hot, above := g.aboveClass(p, s); above {
			pr.Warn = true
			pr.Text += fmt.Sprintf("; above the %s of thermal class %s (IEC 60085): look at the settings again", quantity.Spell(hot, "°C"), class)
		}
		out = append(out, pr)
	}
	return out
}

func temperatureRelayForm(in checks.Input, g *temperatureRelay) []checks.Field {
	out := []checks.Field{whoField("who read and tried")}
	if g.OverAmbient != nil {
		air := checks.Field{Key: "ambient", Label: "ambient", Sort: checks.Measured, Unit: "°C", Need: true, Hint: "beside the plant, which stood dead until it was as cold as its room", Example: "19"}
		if in.Check.Meter != "" {
			air.Meter = "meter"
			out = append(out, meterField(in))
		}
		out = append(out, air)
	}
	for _, s := range g.Sensors {
		out = append(out, checks.Field{Key: s.key(), Label: s.Name, Sort: checks.Measured, Unit: "°C", Need: true, Row: "sensors", Hint: "as the relay shows it", Example: "20"})
	}
	for _, s := range g.SetPoints {
		l := g.setLimit(s)
		out = append(out, checks.Field{Key: s.setKey(), Label: g.label(s) + ", set point", Sort: checks.Measured, Unit: "°C", Need: true, Row: s.ID, Hint: "as the relay holds it now", Example: quantity.Significant(float64(*s.At), 4),
			Expect: &checks.Expect{Value: float64(*s.At), Low: l.Low, High: l.High, Source: l.Source}})
		if s.Reaches != "" {
			out = append(out, checks.Field{Key: s.reachedKey(), Label: g.label(s) + ", " + s.Reaches, Sort: checks.Choice, Options: []string{contactReached, contactFailed, notTried}, Need: true, Row: s.ID,
				Hint: "the relay made to act, and its contact seen at that place", Example: contactReached})
		}
	}
	return out
}

// doubtTemperatureRelay names temperatures that plant at rest does not have, and set
// points ten times or a tenth of the plan's.
func doubtTemperatureRelay(in checks.Input, g *temperatureRelay) []checks.Doubt {
	var out []checks.Doubt
	for _, s := range g.Sensors {
		out = append(out, doubtTemperature(in, s.key())...)
	}
	if g.OverAmbient != nil {
		out = append(out, doubtAmbient(in, "ambient")...)
	}
	for _, s := range g.SetPoints {
		a, ok := in.Answers[s.setKey()]
		if at := float64(*s.At); ok && (near(10*a.Value, at) || near(a.Value, 10*at)) {
			out = append(out, checks.Doubt{Fields: []string{s.setKey()}, Said: checks.Say("set-point-slipped", checks.Word("does", g.label(s)), checks.Num("read", a.Value, "°C"), checks.Num("at", at, "°C"))})
		}
	}
	return out
}

// judgeTemperatureRelay passes when the sensors T agree with one another and, where
// the plan asks, with the ambient T_a, every set point θ is the plan's θ_s, and every
// contact reached its place:
//
//	greatest T − least T ≤ spread     −over_ambient ≤ T − T_a ≤ over_ambient
//	θ_s − within ≤ θ ≤ θ_s + within
//
//	T, T_a, θ  °C      spread, over_ambient, within  K, the plan's
//
// Limits include their own value. The ambient tells something only of plant as cold as
// its room. A trip that did not reach its place stops the work; a contact that was not
// tried is inconclusive.
func judgeTemperatureRelay(w *checks.Work, g *temperatureRelay) {
	var all []*calc.Expr
	inDoubt, sound := checks.Doubted(doubtTemperatureRelay(w.Input, g)), true
	for _, s := range g.Sensors {
		all = append(all, w.Read(s.key()))
		sound = sound && !inDoubt(s.key())
		if g.OverAmbient != nil && !inDoubt(s.key()) && !inDoubt("ambient") {
			w.HoldField(s.key(), "over_"+s.key(), s.Name+" over the ambient", "K", w.Read(s.key()).Sub(w.Read("ambient")), g.overAmbient())
		}
	}
	if len(all) > 1 && sound {
		w.Hold("spread", "spread of the sensors, maximum − minimum", "K", calc.Max(all...).Sub(calc.Min(all...)), g.spread())
	}
	for _, s := range g.SetPoints {
		if key := s.setKey(); !inDoubt(key) {
			w.HoldField(key, key, g.label(s)+", set point", "°C", w.Read(key), g.setLimit(s))
		}
		judgeReached(w, g, s)
		if class, hot, above := g.aboveClass(w.Plan, s); above {
			w.Caution("trip-above-class", checks.Num("at", float64(*s.At), "°C"), checks.Word("class", class), checks.Num("hot", hot, "°C"), checks.Word("transformer", g.Transformer))
		}
	}
}

func judgeReached(w *checks.Work, g *temperatureRelay, s setPoint) {
	key := s.reachedKey()
	reached := checks.WordIs(key, contactReached).Or(checks.Inconclusive, notTried)
	args := []checks.Arg{checks.Word("does", g.label(s)), checks.Word("place", s.Reaches)}
	switch w.Word(key) {
	case contactReached:
		w.Want(reached, "contact-reached", args...)
	case notTried:
		w.Want(reached, "contact-not-tried", args...)
	case contactFailed:
		w.Want(reached, "contact-not-reached", args...)
		if s.Does == "trip" {
			w.StopAt([]string{key}, "trip-not-reached-stop", args...)
			w.Follows(key)
		}
	}
}
