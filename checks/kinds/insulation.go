package kinds

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"handback/checks"
	"handback/checks/plan"
	"handback/checks/quantity"
)

// insulation is what an insulation check is given.
type insulation struct {
	Plant        string            `plan:"plant,need" one:"transformer|dry-type transformer|liquid-immersed transformer|rotating machine|other" doc:"what is tested: transformers are referred to 20 °C, rotating machines to 40 °C, other plant only where the plan gives a reference; above it a reading is raised by halving per 10 K for liquid-immersed and rotating plant alone"`
	Transformer  string            `plan:"transformer" ref:"transformer" doc:"id of the transformer tested, whose insulation class tells a dry type"`
	Reference    *quantity.Celsius `plan:"reference" doc:"temperature the readings are corrected to, where it is not that of the plant"`
	Volts        *quantity.Volt    `plan:"volts,pos" doc:"test volts of combinations that give none of their own"`
	Minimum      *quantity.Ohm     `plan:"minimum,pos" doc:"minimum resistance after 60 s at the reference, of combinations that give none of their own"`
	Source       string            `plan:"source" doc:"where the limits come from; plan when not given"`
	Combinations []combination     `plan:"combinations" doc:"what is tested against what; HV-LV+E, LV-HV+E and HV+LV-E when not given"`
	Times        []quantity.Second `plan:"times" doc:"when the resistance is read: 15 s, 30 s, 60 s, 600 s; 60 s alone when not given"`
	Polarisation *float64          `plan:"polarisation,pos" doc:"minimum polarisation index R600/R60"`
	Absorption30 *float64          `plan:"absorption_30,pos" doc:"minimum absorption ratio R60/R30"`
	Absorption15 *float64          `plan:"absorption_15,pos" doc:"minimum absorption ratio R60/R15"`
	IndexBelow   *quantity.Ohm     `plan:"index_below,pos" doc:"corrected 60 s resistance from which on an index is shown and not judged"`
	Thermometer  string            `plan:"thermometer" ref:"instrument" doc:"id of the instrument that reads the temperature"`
	Curve        []curvePoint      `plan:"curve" doc:"the maker's correction to the reference, by rising temperature"`
	Opened       []string          `plan:"opened" doc:"what is opened for the test and remade after it, such as the neutral-earth link, surge arresters, voltage transformers, electronics; a second person looks"`
	Timed        bool              `plan:"discharge_timed" doc:"yes asks for how long the plant was discharged"`
}

// combination is one test: what is at the test volts against what is earthed.
type combination struct {
	ID      string         `plan:"id,need" doc:"short name used in answers"`
	Name    string         `plan:"name,need" doc:"what it is called on the sheet, such as HV-LV+E, or L1-L2+L3+E of a cable"`
	Volts   *quantity.Volt `plan:"volts,pos" doc:"test volts"`
	Minimum *quantity.Ohm  `plan:"minimum,pos" doc:"minimum resistance after 60 s at the reference"`
}

// twoWindings are the combinations of a two-winding transformer: one winding
// against the other and earth, and both against earth.
var twoWindings = []combination{{ID: "hv", Name: "HV-LV+E"}, {ID: "lv", Name: "LV-HV+E"}, {ID: "both", Name: "HV+LV-E"}}

// maxCombinations is as many as one sheet holds.
const maxCombinations = 24

// testSeconds are the times of the indices; 60 s is the one judged.
var testSeconds = []quantity.Second{15, 30, 60, 600}

// dischargeTimes is how many times the duration of a test the discharge after it
// lasts at least: IEEE 43 (from memory).
const dischargeTimes = 4

// mostOhms is above what any tester tells, 10¹⁵ Ω (our choice).
const mostOhms = 1e15

// mostIndex is above any quotient of two readings of one test (our choice).
const mostIndex = 20

// voltsAbove is how far, over the plan's, test volts may stand: what a tester of a
// nominal voltage gives above it (our choice).
const voltsAbove = 1.25

var _ = checks.Define(checks.Spec[insulation]{
	About: plan.About{
		Name: "insulation", Title: "Insulation resistance", Group: "Dead checks", Dead: true,
		Cautions: []string{deadCaution, testCaution,
			"The test puts dangerous volts on the plant and leaves it charged. Keep everyone clear; discharge it through the instrument or a stick for at least four times as long as the test, then earth it, before it is touched.",
			"The other windings, screens and cast surfaces stay charged too: discharge and earth each. What was opened for the test, the neutral-earth link first of all, is remade before the plant is energised."},
		Sources: []string{"correction R·0.5^((θref − θ)/10), halving per 10 K: the form of IEEE 43; above the reference for liquid-immersed and rotating plant alone",
			"discharge of at least four times the duration of the test: IEEE 43",
			"reference 20 °C for transformers: common practice; 40 °C for rotating machines: IEEE 43",
			"minimum and indices: the plan; IEEE 43 gives minimum polarisation indices for rotating machines, 1.5 for class A and 2.0 for B, F and H, and sets them aside above 5000 MΩ",
			"test volts from the plan's to 25 % above: our choice"},
	},
	Validate: validateInsulation,
	Predict:  predictInsulation,
	Form:     insulationForm,
	Doubts:   doubtInsulation,
	Judge:    judgeInsulation,
})

func validateInsulation(p *plan.Plan, c *plan.Check, g *insulation, say plan.Say) {
	needReads(p, "thermometer", g.Thermometer, "temperature", say)
	needReference(g.Reference, say)
	needNamed("opened", g.Opened, say)
	needTwoPeople(p, "opened", len(g.Opened) > 0, say)
	g.validateCurve(say)
	if n := len(g.Combinations); g.Combinations != nil && (n == 0 || n > maxCombinations) {
		say("combinations", "%d combinations: 1 to %d are wanted; give more in a check of their own", n, maxCombinations)
	}
	if g.Combinations == nil && !strings.HasSuffix(g.Plant, "transformer") {
		say("combinations", "missing: what of the %s is tested against what", g.Plant)
	}
	needIDs("combinations", plan.IDsOf(g.Combinations, func(c combination) string { return c.ID }), say)
	for i, c := range g.combinations() {
		key := func(what string) string {
			if g.Combinations == nil {
				return what
			}
			return fmt.Sprintf("combinations[%d].%s", i+1, what)
		}
		if g.volts(c) == nil {
			say(key("volts"), "missing: the test volts of %s, here or for all", c.Name)
		}
		if g.minimum(c) == nil {
			say(key("minimum"), "missing: the minimum resistance of %s, here or for all; none is taken for granted", c.Name)
		}
	}
	needReads(p, "", c.Meter, "resistance", say)
	g.validateTimes(say)
}

func (g *insulation) validateTimes(say plan.Say) {
	for i, t := range g.Times {
		switch {
		case !slices.Contains(testSeconds, t):
			say(fmt.Sprintf("times[%d]", i+1), "%v s: 15 s, 30 s, 60 s and 600 s are the times of the indices", float64(t))
		case i > 0 && t <= g.Times[i-1]:
			say(fmt.Sprintf("times[%d]", i+1), "%v s stands after %v s: times rise", float64(t), float64(g.Times[i-1]))
		}
	}
	if g.Times != nil && !slices.Contains(g.Times, 60) {
		say("times", "60 s is missing: it is the reading that the minimum holds")
	}
	for _, x := range g.indices() {
		switch {
		case x.least != nil && !g.reads(x.over, x.under):
			say(x.key, "needs readings after %v s and %v s: name them in times", float64(x.under), float64(x.over))
		case x.least != nil && *x.least >= mostIndex:
			say(x.key, "%v: an index is between 1 and a few", *x.least)
		}
	}
	if g.IndexBelow != nil && g.Polarisation == nil && g.Absorption30 == nil && g.Absorption15 == nil {
		say("index_below", "no index has a limit that it could set aside")
	}
}

// index is a quotient of two readings of one test.
type index struct {
	key, name   string
	over, under quantity.Second
	least       *float64
}

func (g *insulation) indices() []index {
	return []index{
		{"polarisation", "polarisation index R600/R60", 600, 60, g.Polarisation},
		{"absorption_30", "absorption ratio R60/R30", 60, 30, g.Absorption30},
		{"absorption_15", "absorption ratio R60/R15", 60, 15, g.Absorption15},
	}
}

func (g *insulation) combinations() []combination {
	if g.Combinations == nil {
		return twoWindings
	}
	return g.Combinations
}

func (g *insulation) volts(c combination) *quantity.Volt {
	if c.Volts != nil {
		return c.Volts
	}
	return g.Volts
}

func (g *insulation) minimum(c combination) *quantity.Ohm {
	if c.Minimum != nil {
		return c.Minimum
	}
	return g.Minimum
}

// times are the moments of reading, s.
func (g *insulation) times() []quantity.Second {
	if g.Times == nil {
		return []quantity.Second{60}
	}
	return g.Times
}

func (g *insulation) reads(times ...quantity.Second) bool {
	for _, t := range times {
		if !slices.Contains(g.times(), t) {
			return false
		}
	}
	return true
}

// reference is the temperature readings are corrected to, NaN for none.
func (g *insulation) reference() float64 {
	if g.Reference != nil {
		return float64(*g.Reference)
	}
	if r, ok := g.usual(); ok {
		return r
	}
	return math.NaN()
}

// source is where the plan's limits come from.
func (g *insulation) source() string {
	if g.Source != "" {
		return g.Source
	}
	return "plan"
}

// side is the least resistance that a reading is held to: the minimum is that of 60 s.
func (g *insulation) side(c combination, t quantity.Second) *checks.Limit {
	if least := g.minimum(c); least != nil && t == 60 {
		return checks.AtLeast(float64(*least), g.source())
	}
	return nil
}

// field is the key of a combination's reading after t seconds.
func (c combination) field(t quantity.Second) string {
	return fieldKey(c.ID, fmt.Sprintf("r%v", float64(t)))
}

func (c combination) key(what string) string {
	return what + "_" + strings.ReplaceAll(c.ID, "-", "_")
}

func insulationForm(in checks.Input, g *insulation) []checks.Field {
	out := append([]checks.Field{meterField(in)}, temperatureFields("temperature of the insulation", g.Thermometer)...)
	out = append(out, openedFields(g.Opened)...)
	for _, c := range g.combinations() {
		v := float64(*g.volts(c))
		out = append(out, checks.Field{Key: fieldKey(c.ID, "volts"), Label: c.Name + ", test volts", Sort: checks.Measured, Unit: "V", Need: true, Row: c.ID, Example: quantity.Significant(v, 4),
			Hint: "as the instrument shows them under load", Expect: &checks.Expect{Value: v, Low: v, High: v * voltsAbove, Source: "plan, up to 25 % above"}})
		for _, t := range g.times() {
			out = append(out, checks.Field{Key: c.field(t), Label: fmt.Sprintf("%s, after %v s", c.Name, float64(t)), Sort: checks.Measured, Unit: "MΩ", Need: true, Row: c.ID, Meter: "meter",
				Bounds: true, Example: "2500", Side: g.side(c, t)})
		}
	}
	out = append(out, checks.Field{Key: "discharged", Label: "discharged and earthed after the test", Sort: checks.Choice, Options: checks.YesNo, Need: true, Row: "discharge", Example: "yes"})
	if g.Timed {
		l := g.dischargeLimit()
		out = append(out, checks.Field{Key: "discharge", Label: "time of the discharge of each test", Sort: checks.Measured, Unit: "min", Need: true, Example: quantity.Significant(l.Low, 3), Row: "discharge", Side: checks.AtLeast(l.Low*60, l.Source),
			Hint: "at least " + quantity.Spell(l.Low, "min") + ", " + l.Source})
	}
	return append(out, remadeFields(g.Opened)...)
}

// dischargeLimit holds the minutes of a discharge against the longest test.
func (g *insulation) dischargeLimit() *checks.Limit {
	return checks.AtLeast(dischargeTimes*float64(slices.Max(g.times()))/60, "four times the test, IEEE 43")
}

func doubtInsulation(in checks.Input, g *insulation) []checks.Doubt {
	return slices.Concat(doubtTemperature(in, "temp"), doubtOhms(in, g), doubtCourse(in, g))
}

// told is a reading of a combination by its test and time.
func (c combination) told(name string, in checks.Input, t quantity.Second) checks.Arg {
	a := in.Answers[c.field(t)]
	return checks.Inner(name, checks.Say("read-after", checks.Word("test", c.Name), checks.Num("after", float64(t), "s"), checks.Word("bound", a.Bound), checks.NumIn("read", a.Value, "MΩ")))
}

// doubtOhms names resistances below zero, or beyond any tester: a short circuit
// reads zero, which is judged, but nothing reads less.
func doubtOhms(in checks.Input, g *insulation) []checks.Doubt {
	var out []checks.Doubt
	for _, c := range g.combinations() {
		for _, t := range g.times() {
			switch a, ok := in.Answers[c.field(t)]; {
			case !ok:
			case !(a.Value >= 0):
				out = append(out, checks.Doubt{Fields: []string{c.field(t)}, Said: checks.Say("ohms-below-zero", c.told("reading", in, t))})
			case !(a.Value <= mostOhms):
				out = append(out, checks.Doubt{Fields: []string{c.field(t)}, Said: checks.Say("beyond-any-tester", c.told("reading", in, t))})
			}
		}
	}
	return out
}

// doubtCourse names readings of one test that do not follow one another: a
// resistance stands or rises in the first minute, and never many times over. The
// earlier reading is named: what the later one fails stays failed.
func doubtCourse(in checks.Input, g *insulation) []checks.Doubt {
	var out []checks.Doubt
	for _, c := range g.combinations() {
		for i, t := range g.times() {
			a, ok := in.Answers[c.field(t)]
			if !ok || a.Value < 0 {
				continue
			}
			for _, later := range g.times()[i+1:] {
				b, ok := in.Answers[c.field(later)]
				switch {
				case !ok || b.Value < 0:
				case later <= 60 && a.Bound != "<" && b.Bound != ">" && quantity.Above(a.Value, b.Value):
					out = append(out, checks.Doubt{Fields: []string{c.field(t)}, Said: checks.Say("falls-in-test", c.told("earlier", in, t), c.told("later", in, later))})
				case a.Bound != ">" && b.Bound != "<" && b.Value > mostIndex*a.Value:
					out = append(out, checks.Doubt{Fields: []string{c.field(t)}, Said: checks.Say("rises-too-far", c.told("earlier", in, t), c.told("later", in, later), checks.Num("most", mostIndex, ""))})
				}
			}
		}
	}
	return out
}

func predictInsulation(p *plan.Plan, c *plan.Check, g *insulation) []plan.Prediction {
	at := "as read"
	if ref := g.reference(); !math.IsNaN(ref) {
		at = "at " + quantity.Spell(ref, "°C")
	}
	var out []plan.Prediction
	for _, c := range g.combinations() {
		out = append(out, plan.Prediction{Name: c.Name + " after 60 s", Source: g.source(),
			Text: fmt.Sprintf("at least %s %s, tested at %s", quantity.Spell(quantity.FromBase(float64(*g.minimum(c)), "MΩ"), "MΩ"), at, quantity.Spell(float64(*g.volts(c)), "V"))})
	}
	if usual, is := g.unusualReference(); is {
		out = append(out, plan.Prediction{Name: "reference temperature", Source: "IEEE 43, common practice", Warn: true,
			Text: fmt.Sprintf("%s is the plan's; a %s is referred to %s: a minimum at one is none at the other", quantity.Spell(g.reference(), "°C"), g.Plant, quantity.Spell(usual, "°C"))})
	}
	if i := slices.IndexFunc(g.combinations(), combination.earthedLink); i >= 0 && len(g.Opened) == 0 && g.Plant != rotatingMachine && g.Plant != "other" {
		out = append(out, plan.Prediction{Name: "neutral-earth link", Source: "common practice",
			Text: g.combinations()[i].Name + " is tested with the link open: name it under opened, so that it is asked whether it was remade"})
	}
	return out
}
