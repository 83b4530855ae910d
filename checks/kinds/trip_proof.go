package kinds

import (
	"fmt"

	"handback/checks"
	"handback/checks/plan"
	"handback/checks/quantity"
)

// tripProof is what a trip-proof check is given.
type tripProof struct {
	Trips  []trip `plan:"trips,need" doc:"one row for each protection element, push-button or inter-trip that must open breakers, 40 at most"`
	Source string `plan:"source" doc:"the protection settings or trip matrix that the rows come from; plan when not given"`
}

// trip is one thing that must open breakers.
type trip struct {
	ID         string           `plan:"id,need" doc:"short name used in answers"`
	Element    string           `plan:"element,need" doc:"what operates, by its label, such as HV overcurrent 51"`
	By         string           `plan:"by,need" one:"secondary injection|primary injection|push-button|contact" doc:"how it is made to operate: current or volts injected, a button pressed, or the contact that would trip closed at its own place"`
	Opens      []string         `plan:"opens,need" doc:"every breaker that must open, by its label; for an inter-trip those on both sides"`
	NotBefore  *quantity.Second `plan:"not_before,pos" doc:"shortest time to the open breaker, where it must wait for another, such as 300 ms"`
	Within     *quantity.Second `plan:"within,pos" doc:"longest time from the start to the open breaker, such as 100 ms; a time is asked where this or not_before is given"`
	Indication string           `plan:"indication" doc:"the flag, lamp or label that must show, such as 51 L1; asked when given"`
}

// What a breaker did when its trip was made.
const (
	didOpen      = "opened"
	stayedClosed = "stayed closed"
)

// What a flag or label showed.
const (
	shownRight = "shown"
	shownOther = "other"
	shownNone  = "none"
)

var _ = checks.Define(checks.Spec[tripProof]{
	About: plan.About{
		Name: "trip-proof", Title: "Proof of trips", Group: "Other checks", Anywhere: true,
		Cautions: []string{
			"Trip only breakers that are in their test position, or in service with the plant dead; an inter-trip reaches other plant: agree first with the person in control of it, and hold off what must not trip.",
			"Never open the secondary of a current transformer that may carry current: short it at its test block first. Take shorts and links out again, each by number. Keep clear of drives and springs.",
		},
		Sources: []string{"which breaker must open, times and indications: the plan", "a trip is proved from the element to the open breaker, and the relay is reset after: common practice",
			"a time below 5 ms is doubted: our choice"},
	},
	Validate: validateTripProof,
	Predict:  predictTripProof,
	Form:     tripProofForm,
	Doubts:   doubtTripTimes,
	AtOnce:   tripStops,
	Judge:    judgeTripProof,
})

func validateTripProof(p *plan.Plan, c *plan.Check, g *tripProof, say plan.Say) {
	needRows("trips", "rows", maxRows, plan.IDsOf(g.Trips, func(t trip) string { return t.ID }), say)
	timed := false
	for i, t := range g.Trips {
		key := fmt.Sprintf("trips[%d]", i+1)
		if len(t.Opens) == 0 {
			say(key+".opens", "none: the breaker that must open is wanted")
		}
		needNamed(key+".opens", t.Opens, say)
		timed = timed || t.timed()
		if t.NotBefore != nil && t.Within != nil && *t.NotBefore >= *t.Within {
			say(key+".not_before", "%s is not below within, %s", quantity.Spell(float64(*t.NotBefore), "s"), quantity.Spell(float64(*t.Within), "s"))
		}
	}
	if timed {
		needReads(p, "", c.Meter, "duration", say)
	}
}

func (t trip) timed() bool { return t.Within != nil || t.NotBefore != nil }

// limit holds the time to the open breaker, in ms.
func (g *tripProof) limit(t trip) *checks.Limit {
	ms := func(s *quantity.Second) float64 { return quantity.FromBase(quantity.OrNaN(s), "ms") }
	return checks.Between(ms(t.NotBefore), ms(t.Within), orPlan(g.Source))
}

// The keys of a row's fields, those of a breaker by its place in the row.
func (t trip) openKey(i int) string { return fieldKey(t.ID, fmt.Sprintf("b%d", i+1)) }
func (t trip) timeKey(i int) string { return fieldKey(t.ID, fmt.Sprintf("t%d", i+1)) }
func (t trip) flagKey() string      { return fieldKey(t.ID, "flag") }
func (t trip) resetKey() string     { return fieldKey(t.ID, "reset") }

func predictTripProof(_ *plan.Plan, _ *plan.Check, g *tripProof) []plan.Prediction {
	var out []plan.Prediction
	for _, t := range g.Trips {
		for _, breaker := range t.Opens {
			text := didOpen
			if t.timed() {
				l := *g.limit(t)
				l.Source = ""
				text += " in " + l.Text("ms")
			}
			out = append(out, plan.Prediction{Name: t.Element + ", " + breaker, Text: text, Source: orPlan(g.Source)})
		}
	}
	return out
}

// tripProofForm asks a row at a time: each breaker, its time where it opened, then
// indication and reset.
func tripProofForm(in checks.Input, g *tripProof) []checks.Field {
	out := []checks.Field{whoField("who made the trips")}
	if in.Check.Meter != "" {
		out = append(out, meterField(in))
	}
	for _, t := range g.Trips {
		for i, breaker := range t.Opens {
			out = append(out, checks.Field{Key: t.openKey(i), Label: t.Element + ", " + breaker, Sort: checks.Choice, Options: []string{didOpen, stayedClosed, notTried}, Need: true, Row: t.ID,
				Hint: "made to trip by " + t.By + "; the breaker was closed before; look at the breaker itself after", Example: didOpen})
		}
		if t.timed() {
			out = append(out, tripTimes(in, g, t)...)
		}
		if t.Indication != "" {
			out = append(out, checks.Field{Key: t.flagKey(), Label: t.Element + ", indication " + t.Indication, Sort: checks.Choice, Options: []string{shownRight, shownOther, shownNone}, Need: true,
				Row: t.ID + "-after", Hint: "as the relay or panel shows it before the reset", Example: shownRight})
		}
		out = append(out, checks.Field{Key: t.resetKey(), Label: t.Element + ", reset", Sort: checks.Choice, Options: checks.YesNo, Need: true, Row: t.ID + "-after",
			Hint: "relay, lock-out and flags are back as before the trip", Example: "yes"})
	}
	return out
}

// tripTimes asks how long each breaker of a row took; one that did not open took no time.
func tripTimes(in checks.Input, g *tripProof, t trip) []checks.Field {
	l, meter := g.limit(t), ""
	if in.Check.Meter != "" {
		meter = "meter"
	}
	var out []checks.Field
	for i, breaker := range t.Opens {
		word := in.Answers[t.openKey(i)].Word
		opened := word == "" || word == didOpen
		out = append(out, checks.Field{Key: t.timeKey(i), Label: t.Element + ", time of " + breaker, Sort: checks.Measured, Unit: "ms", Need: opened, Known: !opened, Meter: meter,
			Row: t.ID + "-times", Hint: l.Text("ms"), Example: "62"})
	}
	return out
}

// leastTrip is the time below which no relay and breaker together open, s (our choice).
const leastTrip = 0.005

func doubtTripTimes(in checks.Input, g *tripProof) []checks.Doubt {
	var out []checks.Doubt
	for _, t := range g.Trips {
		for i, breaker := range t.Opens {
			if a, ok := in.Answers[t.timeKey(i)]; ok && t.timed() && !(a.Value >= leastTrip) {
				out = append(out, checks.Doubt{Fields: []string{t.timeKey(i)}, Said: checks.Say("no-trip-time", checks.Word("element", t.Element), checks.Word("breaker", breaker),
					checks.NumIn("read", a.Value, "ms"), checks.NumIn("least", leastTrip, "ms"))})
			}
		}
	}
	return out
}

// tripStops names the breakers that stayed closed.
func tripStops(in checks.Input, g *tripProof) []string {
	var out []string
	for _, t := range g.Trips {
		for i := range t.Opens {
			if in.Answers[t.openKey(i)].Word == stayedClosed {
				out = append(out, t.openKey(i))
			}
		}
	}
	return out
}

// judgeTripProof passes when everything that must trip opened every breaker the plan
// names, showed its indication and was reset, and each time t is inside the limits that
// the plan gives:
//
//	not_before ≤ t ≤ within
//
//	t  from the start of the fault, the press or the contact to the open breaker  ms
//
// either side may be missing; limits include their own value. A breaker that stayed
// closed stops the work: nothing behind it is protected. What was not tried is
// inconclusive. A wrong indication, or a relay that was not reset, fails.
func judgeTripProof(w *checks.Work, g *tripProof) {
	inDoubt := checks.Doubted(doubtTripTimes(w.Input, g))
	for _, t := range g.Trips {
		for i, breaker := range t.Opens {
			judgeOpening(w, t, i, breaker)
			key := t.timeKey(i)
			if t.timed() && w.Word(t.openKey(i)) == didOpen && !inDoubt(key) {
				w.HoldField(key, "time_"+key, t.Element+", time of "+breaker, "ms", w.ReadIn(key), g.limit(t))
			}
		}
		judgeIndication(w, t)
	}
}

func judgeOpening(w *checks.Work, t trip, i int, breaker string) {
	key := t.openKey(i)
	opened := checks.WordIs(key, didOpen).Or(checks.Inconclusive, notTried)
	args := []checks.Arg{checks.Word("element", t.Element), checks.Word("by", t.By), checks.Word("breaker", breaker)}
	switch w.Word(key) {
	case didOpen:
		w.Want(opened, "tripped", args...)
	case notTried:
		w.Want(opened, "trip-not-tried", args...)
	case stayedClosed:
		w.Want(opened, "not-tripped", args...)
		w.StopAt([]string{key}, "not-tripped-stop", args...)
		w.Follows(key)
	}
}

func judgeIndication(w *checks.Work, t trip) {
	if key := t.flagKey(); w.Has(key) {
		code := map[bool]string{true: "indication-shown", false: "indication-wrong"}[w.Word(key) == shownRight]
		w.Want(checks.WordIs(key, shownRight), code, checks.Word("element", t.Element), checks.Word("indication", t.Indication), checks.Word("shown", w.Word(key)))
	}
	if key := t.resetKey(); w.Has(key) {
		code := map[bool]string{true: "reset", false: "not-reset"}[w.Word(key) == "yes"]
		w.Want(checks.WordIs(key, "yes"), code, checks.Word("element", t.Element))
	}
}
