package kinds

import (
	"fmt"
	"slices"

	"handback/checks"
	"handback/checks/calc"
	"handback/checks/plan"
	"handback/checks/quantity"
)

// earthContinuity is what an earth-continuity check is given.
type earthContinuity struct {
	Conductors  []earthConductor `plan:"conductors,need" doc:"the protective and neutral-earth conductors measured, 40 at most"`
	Current     *quantity.Ampere `plan:"current,pos" doc:"minimum test current; 0.2 A when not given (IEC 61557-4)"`
	Thermometer string           `plan:"thermometer" ref:"instrument" doc:"id of the instrument that reads the temperature of the conductors, asked where a limit is worked out"`
	Source      string           `plan:"source" doc:"where the plan's own limits come from; plan when not given"`
}

// earthConductor is one conductor between two places, with its limit or with what its
// limit is worked out from.
type earthConductor struct {
	ID       string          `plan:"id,need" doc:"short name used in answers"`
	Name     string          `plan:"name,need" doc:"from where to where, such as tank of T2 to the main earth bar"`
	Of       string          `plan:"of,need" one:"protective|neutral-earth" doc:"protective, or neutral-earth: its link is asked as remade after the test, with a second person"`
	Limit    *quantity.Ohm   `plan:"limit,pos" doc:"highest resistance as read, such as 20 mΩ; this, or length, section, shape and material"`
	Length   *quantity.Metre `plan:"length,pos" doc:"length of the conductor"`
	Section  *float64        `plan:"section,pos" doc:"cross-section in mm², of a cable one of IEC 60228"`
	Shape    string          `plan:"shape" one:"cable|bar" doc:"cable by IEC 60228, solid or stranded; or a bar of copper"`
	Material string          `plan:"material" one:"copper|aluminium" doc:"what the conductor is made of"`
	Joints   *quantity.Ohm   `plan:"joints,pos" doc:"what the joints and terminals on the way may add to the worked-out resistance; nothing when not given"`
}

// How the resistance of the test leads is kept out of the reading.
const (
	leadsNulled   = "nulled"
	leadsFourWire = "four-wire"
	leadsIn       = "neither"
)

var _ = checks.Define(checks.Spec[earthContinuity]{
	About: plan.About{
		Name: "earth-continuity", Title: "Continuity of earth conductors", Group: "Dead checks", Dead: true,
		Cautions: []string{deadCaution, testCaution,
			"Open a protective or neutral-earth conductor only on plant that is dead and cannot become live, and remake it before anything is energised: while it is open nothing is earthed through it.",
			"Steelwork, screens and other earths beside the conductor carry the test current too and hide a break: lift what the permit lets be lifted, one end at a time."},
		Sources: []string{"continuity of protective conductors is shown by measuring: IEC 60364-6, 6.4.3.2",
			"test current at least 0.2 A, from 4 to 24 V with no load: IEC 61557-4, which IEC 60364-6 asks for",
			"highest resistance of cable conductors, and its temperature factor: IEC 60228; copper bar 1/58 Ω·mm²/m at 20 °C: IEC 60028; or the plan",
			"leads nulled, or four wires: common practice", "a reading below half of what the conductor alone has is doubted: our choice"},
	},
	Validate: validateEarthContinuity,
	Predict: func(_ *plan.Plan, _ *plan.Check, g *earthContinuity) []plan.Prediction {
		var out []plan.Prediction
		for _, c := range g.Conductors {
			l := g.limit(c)
			out = append(out, plan.Prediction{Name: c.Name, Text: l.Text("mΩ"), Source: l.Source})
		}
		return out
	},
	Form:   earthContinuityForm,
	Doubts: doubtEarthContinuity,
	Judge:  judgeEarthContinuity,
})

func validateEarthContinuity(p *plan.Plan, c *plan.Check, g *earthContinuity, say plan.Say) {
	needRows("conductors", "conductors", maxRows, plan.IDsOf(g.Conductors, func(c earthConductor) string { return c.ID }), say)
	for i, d := range g.Conductors {
		d.validate(fmt.Sprintf("conductors[%d]", i+1), say)
	}
	needTwoPeople(p, "conductors", g.neutral(), say)
	needReads(p, "", c.Meter, "resistance", say)
	needReads(p, "thermometer", g.Thermometer, "temperature", say)
	if g.Thermometer != "" && !slices.ContainsFunc(g.Conductors, earthConductor.worked) {
		say("thermometer", "no limit is worked out: a limit of the plan holds the reading as it stands")
	}
}

func (c earthConductor) validate(key string, say plan.Say) {
	given := c.Length != nil || c.Section != nil || c.Shape != "" || c.Material != "" || c.Joints != nil
	switch {
	case c.Limit != nil && given:
		say(key+".limit", "give limit, or length, section, shape and material: not both")
	case c.Limit != nil:
	case c.Length == nil || c.Section == nil || c.Shape == "" || c.Material == "":
		say(key+".limit", "missing: the highest resistance, or length, section, shape and material to work it out from")
	case c.Shape == "bar" && c.Material != "copper":
		say(key+".limit", "missing: bars of aluminium are of many alloys, none is taken for granted")
	case c.Shape == "cable" && cableOhms[c.Material][*c.Section] == 0:
		say(key+".section", "%v mm² is no section of a cable of %s: %v are", *c.Section, c.Material, sectionsOf(c.Material))
	}
}

// worked tells whether the conductor's limit is worked out.
func (c earthConductor) worked() bool { return c.Limit == nil }

// neutral tells whether a neutral-earth conductor is among those measured.
func (g *earthContinuity) neutral() bool {
	return slices.ContainsFunc(g.Conductors, func(c earthConductor) bool { return c.Of == "neutral-earth" })
}

func (c earthConductor) field() string     { return fieldKey(c.ID, "ohms") }
func (c earthConductor) remadeKey() string { return fieldKey(c.ID, "remade") }

// limit is a conductor's highest resistance in mΩ, at 20 °C where it is worked out.
func (g *earthContinuity) limit(c earthConductor) *checks.Limit {
	if !c.worked() {
		return checks.AtMost(quantity.FromBase(float64(*c.Limit), "mΩ"), orPlan(g.Source))
	}
	source := fmt.Sprintf("%s, %s of %v mm² %s", c.standard(), quantity.Spell(float64(*c.Length), "m"), *c.Section, c.Material)
	ohms := c.alone()
	if c.Joints != nil {
		ohms += float64(*c.Joints)
		source += ", " + quantity.Spell(quantity.FromBase(float64(*c.Joints), "mΩ"), "mΩ") + " of joints"
	}
	return checks.AtMost(quantity.FromBase(ohms, "mΩ"), source)
}

func earthContinuityForm(in checks.Input, g *earthContinuity) []checks.Field {
	least := limitOf("earth-continuity.current", g.Current)
	out := []checks.Field{meterField(in),
		{Key: "current", Label: "test current", Sort: checks.Measured, Unit: "A", Need: true, Hint: "as the instrument shows it or its maker says; " + least.Text("A"), Example: quantity.Significant(least.Low, 4)},
		{Key: "leads", Label: "test leads", Sort: checks.Choice, Options: []string{leadsNulled, leadsFourWire, leadsIn}, Need: true, Hint: "nulled with the clips together, or four wires", Example: leadsNulled}}
	if slices.ContainsFunc(g.Conductors, earthConductor.worked) {
		out = append(out, temperatureFields("temperature of the conductors", g.Thermometer)...)
	}
	for _, c := range g.Conductors {
		l := g.limit(c)
		f := checks.Field{Key: c.field(), Label: c.Name, Sort: checks.Measured, Unit: "mΩ", Need: true, Meter: "meter", Bounds: true, Expect: g.expect(in, c),
			Hint: "where the display shows nothing, type < its last digit, such as <10", Example: quantity.Significant(l.High/2, 2)}
		if f.Expect == nil {
			f.Hint = l.Text("mΩ") + "; " + f.Hint
		}
		out = append(out, f)
	}
	for _, c := range g.Conductors {
		if c.Of == "neutral-earth" {
			out = append(out, checks.Field{Key: c.remadeKey(), Label: c.Name + ", link closed and tight after the test", Sort: checks.Choice, Options: checks.YesNo, Need: true, Example: "yes"})
		}
	}
	if g.neutral() {
		out = append(out, whoField("who remade it"), checks.Field{Key: "second", Label: "second person who looked at it", Sort: checks.Initials, Need: true, Example: "ben"})
	}
	return out
}

// expect is what a conductor of a worked-out limit should read at the temperature that
// was typed, at 20 °C before; nil for one with a limit of the plan.
func (g *earthContinuity) expect(in checks.Input, c earthConductor) *checks.Expect {
	if !c.worked() {
		return nil
	}
	theta, l := 20.0, g.limit(c)
	if a, ok := in.Answers["temp"]; ok {
		theta = a.Value
	}
	warm := (cableZero[c.Material] + theta) / (cableZero[c.Material] + 20)
	return &checks.Expect{Value: c.alone() * warm, Low: parallelShare * c.alone(), High: quantity.ToBase(l.High, "mΩ") * warm, Source: l.Source + ", at " + quantity.Spell(theta, "°C")}
}

// parallelShare is the share of the conductor's own resistance under which a reading is
// doubted: another path carries more of the current than it does (our choice).
const parallelShare = 0.5

// doubtEarthContinuity names readings that no conductor has, or that another path beside
// it brings, and test currents of no instrument.
func doubtEarthContinuity(in checks.Input, g *earthContinuity) []checks.Doubt {
	out := doubtTemperature(in, "temp")
	if a, ok := in.Answers["current"]; ok && !(a.Value > 0 && a.Value <= mostTestCurrent) {
		out = append(out, checks.Doubt{Fields: []string{"current"}, Said: checks.Say("no-test-current", checks.Num("read", a.Value, "A"), checks.Num("most", mostTestCurrent, "A"))})
	}
	for _, c := range g.Conductors {
		a, ok := in.Answers[c.field()]
		name, read := checks.Word("conductor", c.Name), checks.NumIn("read", a.Value, "mΩ")
		switch {
		case !ok:
		case !(a.Value > 0):
			out = append(out, checks.Doubt{Fields: []string{c.field()}, Said: checks.Say("ohms-not-above-zero", name, read)})
		case c.worked() && a.Bound == "" && a.Value < parallelShare*c.alone():
			out = append(out, checks.Doubt{Fields: []string{c.field()}, Said: checks.Say("less-than-conductor", name, read, checks.NumIn("alone", c.alone(), "mΩ"))})
		}
	}
	return out
}

// judgeEarthContinuity passes when the test current is enough, the resistance of the
// leads is kept out, every conductor's resistance R is at most its limit, and every
// neutral-earth link is closed again and seen by two people:
//
//	I ≥ 0.2 A, or the plan's      R ≤ limit
//	R·(T0 + 20)/(T0 + θ) ≤ l·r + joints, where the plan gives no limit
//
//	l     length                          m
//	r     of a cable the table of IEC 60228; of a copper bar (1/58)/A, IEC 60028   Ω/m
//	θ     temperature of the conductor    °C
//	T0    234.5 copper, 228 aluminium     IEC 60228
//
// Limits include their own value. A link that is not closed stops the work: the plant
// is not earthed through it. A reading with the leads in it is inconclusive.
func judgeEarthContinuity(w *checks.Work, g *earthContinuity) {
	inDoubt := checks.Doubted(doubtEarthContinuity(w.Input, g))
	w.HoldCondition("current", "current", "test current", "A", w.Read("current"), limitOf("earth-continuity.current", g.Current))
	nulled := checks.WordIs("leads", leadsNulled, leadsFourWire).Or(checks.Inconclusive, leadsIn)
	switch how := w.Word("leads"); how {
	case "":
	case leadsIn:
		w.Want(nulled, "leads-in-reading")
	default:
		w.Want(nulled, "leads-out", checks.Word("how", how))
	}
	for _, c := range g.Conductors {
		if inDoubt(c.field()) || c.worked() && inDoubt("temp") {
			continue
		}
		name, ohms := c.Name, w.ReadIn(c.field())
		if c.worked() {
			name, ohms = name+" at 20 °C", ohms.Mul(c.to20(w.Read("temp")))
		}
		w.HoldBounded(c.field(), c.field(), name, "mΩ", ohms, g.limit(c))
	}
	judgeRemade(w, g)
}

// to20 is the factor that refers a resistance at a temperature to 20 °C (IEC 60228).
func (c earthConductor) to20(temp *calc.Expr) *calc.Expr {
	zero := calc.Datum("T0 of "+c.Material+" (IEC 60228)", cableZero[c.Material], "°C")
	return calc.Named("factor to 20 °C, "+c.Material, "1", zero.Add(calc.Datum("θref", 20, "°C")).Div(zero.Add(temp)))
}

// judgeRemade stops where a neutral-earth link is not closed again.
func judgeRemade(w *checks.Work, g *earthContinuity) {
	for _, c := range g.Conductors {
		key, name := c.remadeKey(), checks.Word("conductor", c.Name)
		switch closed := checks.WordIs(key, "yes"); w.Word(key) {
		case "yes":
			w.Want(closed, "link-closed", name)
		case "no":
			w.Want(closed, "link-open", name)
			w.StopAt([]string{key}, "link-open-stop", name)
			w.Follows(key)
		}
	}
	if w.Has("who", "second") && w.Word("who") == w.Word("second") {
		w.Want(checks.OtherWord("second", "who"), "second-person-is-first")
	}
}
