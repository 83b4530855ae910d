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

// withstand is what a withstand check is given.
type withstand struct {
	Plant       string               `plan:"plant,need" one:"extruded cable|paper cable|bus duct|switchgear|other" doc:"whose insulation is tested; direct volts on extruded cable bring a warning"`
	Wave        string               `plan:"wave,need" one:"ac|dc|vlf" doc:"the test volts: ac of power frequency, dc, or vlf of very low frequency such as 0.1 Hz"`
	Volts       *quantity.Volt       `plan:"volts,pos" doc:"test volts of tests that give none of their own: r.m.s. of a sine, peak of another wave"`
	Standard    string               `plan:"standard" one:"ANSI/NETA MTS-2019 table 100.2" doc:"a published table that gives the test volts of switchgear by its rated volts, in place of volts"`
	Rated       *quantity.Volt       `plan:"rated,pos" doc:"rated volts of the plant, which choose the row of the standard; nothing is read between rows"`
	Time        *quantity.Second     `plan:"time,need,pos" doc:"how long each test holds the volts at least, such as 15 min"`
	Source      string               `plan:"source,need" doc:"the document that gives the time, and the volts where no standard is named, for this plant, new or in service"`
	Tests       []withstandTest      `plan:"tests,need" doc:"what is tested against what, one test each"`
	Maximum     *quantity.Ampere     `plan:"maximum,pos" doc:"maximum leakage current at the end of a test, such as 1 mA; shown and not judged when not given"`
	Rise        *quantity.Percent    `plan:"rise,pos" doc:"how far the current at the end may stand above that at the start and count as steady; 5 % when not given"`
	Capacitance *quantity.Microfarad `plan:"capacitance,pos" doc:"capacitance of what is tested, for the charging current to expect of ac and vlf"`
	Frequency   *quantity.Hertz      `plan:"frequency,pos" doc:"frequency of the test volts; the system's for ac and 0.1 Hz for vlf when not given"`
	Opened      []string             `plan:"opened" doc:"what is opened for the test and remade after it, such as surge arresters, voltage transformers, electronics; a second person looks"`
	Discharge   *quantity.Second     `plan:"discharge,pos" doc:"how long the plant is discharged and earthed after each test at least; asked when given"`
}

// withstandTest is one test: what is at the test volts against what is earthed.
type withstandTest struct {
	ID    string         `plan:"id,need" doc:"short name used in answers"`
	Name  string         `plan:"name,need" doc:"what it is called on the sheet, such as L1 to L2+L3+E"`
	Volts *quantity.Volt `plan:"volts,pos" doc:"test volts"`
}

// withstandAbove is how far, over the plan's, test volts may stand: insulation is
// stressed no more than it must be (our choice).
const withstandAbove = 1.1

// veryLow is the usual frequency of very-low-frequency tests, Hz.
const veryLow = 0.1

var waveNames = map[string]string{"ac": "a.c.", "dc": "d.c.", "vlf": "very low frequency"}

var _ = checks.Define(checks.Spec[withstand]{
	About: plan.About{
		Name: "withstand", Title: "Withstand test", Group: "Dead checks", Dead: true,
		Cautions: []string{deadCaution, testCaution,
			"The test volts kill, and the set does not trip for a person. Only people trained for high-voltage tests: a fenced area, a person on watch at every far end and open way in, one person who says on and off, and the set's own emergency stop tried first.",
			"Earth the phases that are not tested, screens and cores at the far end. The gap of an open device to live plant beyond it must withstand the volts of both sides together.",
			"What was tested stays charged, a long cable for hours and d.c. most of all: volts come back after a short discharge. Bring the volts down, discharge through the set or a resistive stick, then earth, and keep it earthed before anyone touches it or the leads are moved.",
			"A plant that did not hold is not tested again to see whether it will: find the place first."},
		Sources: []string{"test volts: the plan's source, or of switchgear ANSI/NETA MTS-2019 table 100.2 where the plan names it; time: the plan's source, none is taken for granted", "test volts from the plan's to 10 % above: our choice",
			"current at the end at most 5 % above that at the start counts as steady: our choice; steady or falling: common practice",
			"d.c. tests may shorten the life of aged extruded cable: IEC 60502-2 and IEEE 400"},
	},
	Validate: validateWithstand,
	Predict:  predictWithstand,
	Form:     withstandForm,
	Doubts:   doubtWithstand,
	Judge:    judgeWithstand,
})

func validateWithstand(p *plan.Plan, c *plan.Check, g *withstand, say plan.Say) {
	needRows("tests", "tests", maxCombinations, plan.IDsOf(g.Tests, func(t withstandTest) string { return t.ID }), say)
	g.validateStandard(say)
	for i, t := range g.Tests {
		if g.volts(t) == nil && g.Standard == "" {
			say(fmt.Sprintf("tests[%d].volts", i+1), "missing: the test volts of %s, here or for all", t.Name)
		}
	}
	needNamed("opened", g.Opened, say)
	needTwoPeople(p, "opened", len(g.Opened) > 0, say)
	needReads(p, "", c.Meter, "voltage", say)
	if g.Wave == "dc" && (g.Capacitance != nil || g.Frequency != nil) {
		say("wave", "dc has no frequency and no charging current that lasts: leave capacitance and frequency out")
	}
	if g.Capacitance != nil && g.Wave == "ac" && g.Frequency == nil && p.System.Frequency == 0 {
		say("frequency", "missing: neither given here nor as the frequency of the system")
	}
}

func (g *withstand) volts(t withstandTest) *quantity.Volt {
	switch {
	case g.Standard != "":
		return g.published()
	case t.Volts != nil:
		return t.Volts
	}
	return g.Volts
}

func (t withstandTest) field(what string) string { return fieldKey(t.ID, what) }

func (t withstandTest) key(what string) string {
	return what + "_" + strings.ReplaceAll(t.ID, "-", "_")
}

// voltsLimit holds the volts of a test.
func (g *withstand) voltsLimit(t withstandTest) *checks.Limit {
	v := float64(*g.volts(t))
	return checks.Between(v, v*withstandAbove, g.voltsSource()+", up to 10 % above")
}

// timeLimit holds the minutes of a test.
func (g *withstand) timeLimit() *checks.Limit {
	return checks.AtLeast(float64(*g.Time)/60, g.Source)
}

// charging is the current in A that a test of alternating volts draws through the
// capacitance, NaN where the plan does not tell it:
//
//	I = 2π·f·C·U
func (g *withstand) charging(p *plan.Plan, t withstandTest) float64 {
	f := float64(p.System.Frequency)
	switch {
	case g.Frequency != nil:
		f = float64(*g.Frequency)
	case g.Wave == "vlf":
		f = veryLow
	}
	if g.Wave == "dc" || !(f > 0) {
		return math.NaN()
	}
	return 2 * math.Pi * f * 1e-6 * quantity.OrNaN(g.Capacitance) * float64(*g.volts(t))
}

func withstandForm(in checks.Input, g *withstand) []checks.Field {
	out := append([]checks.Field{meterField(in)}, openedFields(g.Opened)...)
	l := g.timeLimit()
	for _, t := range g.Tests {
		kilovolts := quantity.FromBase(float64(*g.volts(t)), "kV")
		v := g.voltsLimit(t)
		measured := func(what, label, unit, example, hint string) checks.Field {
			return checks.Field{Key: t.field(what), Label: t.Name + ", " + label, Sort: checks.Measured, Unit: unit, Need: true, Row: t.ID, Meter: "meter", Example: example, Hint: hint}
		}
		volts := measured("volts", "test volts", "kV", quantity.Significant(kilovolts, 4), "as the set shows them while they stand")
		volts.Expect = &checks.Expect{Value: v.Low, Low: v.Low, High: v.High, Source: v.Source}
		time := measured("time", "time", "min", quantity.Significant(l.Low, 4), "how long the volts stood; at least "+quantity.Spell(l.Low, "min"))
		time.Meter = ""
		start := measured("start", "current at the start", "mA", "0.12", "once the volts stand: what charges the plant has passed")
		end := measured("end", "current at the end", "mA", "0.10", "just before the volts come down")
		start.Bounds, end.Bounds = true, true
		if i := g.charging(in.Plan, t); i > 0 {
			start.Example, end.Example = quantity.Significant(i*1e3, 3), quantity.Significant(i*1e3, 3)
			start.Hint += "; about " + quantity.Spell(roundTo(i*1e3, 3), "mA") + " charge it"
		}
		out = append(out, volts, time, start, end, checks.Field{Key: t.field("held"), Label: t.Name + ", held: no flashover, no trip", Sort: checks.Choice, Options: checks.YesNo, Need: true, Example: "yes"})
	}
	out = append(out, checks.Field{Key: "discharged", Label: "discharged and earthed after each test", Sort: checks.Choice, Options: checks.YesNo, Need: true, Example: "yes"})
	if g.Discharge != nil {
		least := float64(*g.Discharge) / 60
		out = append(out, checks.Field{Key: "discharge", Label: "time of the discharge after each test", Sort: checks.Measured, Unit: "min", Need: true, Example: quantity.Significant(least, 3), Hint: "the shortest; at least " + quantity.Spell(least, "min")})
	}
	return append(out, remadeFields(g.Opened)...)
}

// roundTo keeps n significant digits of x for a word of what to expect.
func roundTo(x float64, n int) float64 {
	scale := math.Pow(10, float64(n-1)-math.Floor(math.Log10(x)))
	return math.Round(x*scale) / scale
}

// doubtWithstand names volts that stand a unit or a decimal point off those of the plan,
// times that are seconds typed as minutes, and currents below zero.
func doubtWithstand(in checks.Input, g *withstand) []checks.Doubt {
	var out []checks.Doubt
	doubt := func(key, code string, args ...checks.Arg) {
		out = append(out, checks.Doubt{Fields: []string{key}, Said: checks.Say(code, args...)})
	}
	for _, t := range g.Tests {
		test := checks.Word("test", t.Name)
		v := float64(*g.volts(t))
		if a, ok := in.Answers[t.field("volts")]; ok && (slipFrom(a.Value, []float64{v}) == "point" || !(a.Value > 0)) {
			doubt(t.field("volts"), "withstand-volts-slipped", test, checks.NumIn("read", a.Value, "kV"), checks.NumIn("planned", v, "kV"))
		}
		if a, ok := in.Answers[t.field("time")]; ok && (!(a.Value >= 0) || a.Value > 10*float64(*g.Time)) {
			doubt(t.field("time"), "withstand-time-slipped", test, checks.NumIn("read", a.Value, "min"), checks.NumIn("planned", float64(*g.Time), "min"))
		}
		for _, what := range []string{"start", "end"} {
			if a, ok := in.Answers[t.field(what)]; ok && !(a.Value >= 0) {
				doubt(t.field(what), "leakage-below-zero", test, checks.NumIn("read", a.Value, "mA"))
			}
		}
	}
	return out
}

func predictWithstand(p *plan.Plan, c *plan.Check, g *withstand) []plan.Prediction {
	var out []plan.Prediction
	for _, t := range g.Tests {
		text := fmt.Sprintf("%s of %s for at least %s, the current steady or falling", quantity.Neat(float64(*g.volts(t)), "V"), waveNames[g.Wave], quantity.Neat(float64(*g.Time), "s"))
		if g.Maximum != nil {
			text += fmt.Sprintf(", at most %s at the end", quantity.Spell(quantity.FromBase(float64(*g.Maximum), "mA"), "mA"))
		}
		out = append(out, plan.Prediction{Name: t.Name, Text: text, Source: g.predictedSource()})
		if i := g.charging(p, t); i > 0 {
			out = append(out, plan.Prediction{Name: t.Name + ", charging current", Text: quantity.Spell(roundTo(i*1e3, 3), "mA") + ", which the set must give", Source: "2π·f·C·U"})
		}
	}
	if g.harsh() {
		out = append(out, plan.Prediction{Name: "wave", Source: "IEC 60502-2, IEEE 400", Warn: true,
			Text: "direct volts may shorten the life of extruded cable that has been in service: take vlf or ac where the set allows"})
	}
	if g.Plant == "switchgear" && !slices.ContainsFunc(g.Opened, func(s string) bool { return strings.Contains(strings.ToLower(s), "transformer") }) {
		out = append(out, plan.Prediction{Name: "what is opened", Source: "common practice",
			Text: "voltage transformers and surge arresters do not bear the test volts: name under opened what is taken off, so that it is asked whether it was remade"})
	}
	return out
}

// harsh tells whether direct volts stand on extruded cable.
func (g *withstand) harsh() bool { return g.Wave == "dc" && g.Plant == "extruded cable" }

// judgeWithstand passes when every test held its volts for its time, with the current
// steady or falling, and the plant was discharged:
//
//	volts ≤ U ≤ 1.1·volts     T ≥ time     rise = 100·(I_end − I_start)/I_start ≤ limit     I_end ≤ maximum
//
//	U         as the set shows them           kV   > 0
//	T         how long they stood             min  ≥ 0
//	I         leakage and charging current    mA   ≥ 0
//	limit     5 % when the plan gives none (our choice)
//	maximum   the plan's; without one the current is shown
//
// Limits include their own value. One set reads both currents, so the reading share of
// its error falls out of the rise. Where the set showed nothing at the start, as a zero or
// a bound such as <0.01 mA, the same at the end is steady, and anything more is
// inconclusive. A test that did not hold is a stop, and so is plant left charged and
// what was opened and not remade.
func judgeWithstand(w *checks.Work, g *withstand) {
	for _, t := range g.Tests {
		w.HoldField(t.field("volts"), t.key("volts"), t.Name+", test volts", "kV", w.ReadIn(t.field("volts")), inKilovolts(g.voltsLimit(t)))
		w.HoldCondition(t.field("time"), t.key("time"), t.Name+", time", "min", w.ReadIn(t.field("time")), g.timeLimit())
		judgeLeakage(w, g, t)
		test := checks.Word("test", t.Name)
		switch held := t.field("held"); w.Word(held) {
		case "yes":
			w.Want(checks.WordIs(held, "yes"), "held", test)
		case "no":
			w.StopAt([]string{held}, "not-held", test)
		}
	}
	if g.harsh() {
		w.Caution("dc-on-extruded")
	}
	if g.Discharge != nil && w.Has("discharge") {
		w.HoldCondition("discharge", "discharge", "time of the discharge", "min", w.ReadIn("discharge"), checks.AtLeast(float64(*g.Discharge)/60, "plan"))
	}
	judgeOpened(w, g.Opened)
	switch w.Word("discharged") {
	case "yes":
		w.Want(checks.WordIs("discharged", "yes"), "discharged")
	case "no":
		w.StopAt([]string{"discharged"}, "not-discharged")
	}
}

func inKilovolts(l *checks.Limit) *checks.Limit {
	return checks.Between(quantity.FromBase(l.Low, "kV"), quantity.FromBase(l.High, "kV"), l.Source)
}

// judgeLeakage holds the current of a test: at its end against the plan's most, and
// against its start.
func judgeLeakage(w *checks.Work, g *withstand, t withstandTest) {
	start, end := t.field("start"), t.field("end")
	if !w.Has(start, end) {
		return
	}
	key, name := t.key("end"), t.Name+", current at the end"
	if g.Maximum != nil {
		w.HoldBounded(end, key, name, "mA", w.ReadIn(end), checks.AtMost(quantity.FromBase(float64(*g.Maximum), "mA"), g.Source))
	} else {
		w.ShowBound(w.Answers[end].Bound, key, name, "mA", w.ReadIn(end))
	}
	first, last := w.Answers[start], w.Answers[end]
	switch fields, test := start+" "+end, checks.Word("test", t.Name); {
	case first.Bound == "" && first.Value > 0 && last.Bound != ">":
		rise := w.ReadIn(end).Sub(w.ReadIn(start)).Div(w.ReadIn(start)).Times(100)
		w.HoldBounded(end, t.key("rise"), t.Name+", rise of the current", "%", rise, limitOf("withstand.rise", g.Rise))
	case first.Bound != ">" && last.Bound == first.Bound && last.Value <= first.Value:
		w.Say(checks.Pass, fields, "current-not-seen", test)
	default:
		w.Say(checks.Inconclusive, fields, "rise-not-told", test)
	}
}
