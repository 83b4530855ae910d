package kinds

import (
	"math"
	"slices"
	"strconv"
	"strings"

	"handback/checks"
	"handback/checks/plan"
	"handback/checks/quantity"
)

// measure is what a measure check is given.
type measure struct {
	Name   string           `plan:"name,need" doc:"what is read, such as HV line-to-line volts"`
	Unit   string           `plan:"unit,need" doc:"unit shown and assumed for a bare number, such as kV"`
	Points []string         `plan:"points" doc:"where it is read, one reading each; a single reading when not given"`
	Low    *quantity.Amount `plan:"low" doc:"lowest value that passes"`
	High   *quantity.Amount `plan:"high" doc:"highest value that passes"`
	Source string           `plan:"source" doc:"where the limits come from; plan when not given"`
	Expect *quantity.Amount `plan:"expect" doc:"what it should read when all is well, inside the limits; their middle when not given"`
}

var _ = checks.Define(checks.Spec[measure]{
	About: plan.About{
		Name: "measure", Title: "Measurement", Group: "Other checks", Anywhere: true,
		Cautions: []string{"If the point may be live, treat it as live: local rules, the permit and the person licensed to decide come first."},
		Sources:  []string{"limits: the plan"},
	},
	Validate: func(p *plan.Plan, c *plan.Check, g *measure, say plan.Say) {
		of := quantity.QuantityOf(g.Unit)
		if of == "" {
			say("unit", "unit %q is not known: give one such as V, A, mΩ, N·m or °C", g.Unit)
			return
		}
		if g.Low == nil && g.High == nil {
			say("", "give low, high or both: a reading without a limit shows nothing")
		}
		for i, a := range []*quantity.Amount{g.Low, g.High} {
			if a != nil && a.Of != of {
				say([]string{"low", "high"}[i], "a %s, but %s is a %s", a.Of, g.Unit, of)
			}
		}
		if m := p.Meter(c.Meter); m != nil && len(m.Ranges) > 0 && !m.Measures(of) {
			say("unit", "%s has no range that reads a %s", m.Name, of)
		}
		if g.Low != nil && g.High != nil && g.Low.Value >= g.High.Value {
			say("low", "%s is not below high, %s", quantity.Spell(g.Low.Value, quantity.BaseUnit(of)), quantity.Spell(g.High.Value, quantity.BaseUnit(of)))
		}
		if e := g.Expect; e != nil && (e.Of != of || checks.Decide(e.Value, 0, *g.limit(), false) != checks.Pass) {
			say("expect", "%s is not %s", quantity.Spell(e.Value, quantity.BaseUnit(e.Of)), g.limit().Text(quantity.BaseUnit(of)))
		}
	},
	Predict: func(p *plan.Plan, c *plan.Check, g *measure) []plan.Prediction {
		l := *g.limit()
		l.Low, l.High = quantity.FromBase(l.Low, g.Unit), quantity.FromBase(l.High, g.Unit)
		return []plan.Prediction{{Name: g.Name, Text: l.Text(g.Unit), Source: l.Source}}
	},
	Form: func(in checks.Input, g *measure) []checks.Field {
		return append([]checks.Field{meterField(in)}, g.fields(in)...)
	},
	Doubts: doubtMeasured,
	Judge:  judgeMeasure,
})

func (g *measure) limit() *checks.Limit {
	l := checks.Between(math.NaN(), math.NaN(), "plan")
	if g.Low != nil {
		l.Low = g.Low.Value
	}
	if g.High != nil {
		l.High = g.High.Value
	}
	if g.Source != "" {
		l.Source = g.Source
	}
	return l
}

// fields are measured once for a judgement, which asks for them again and again.
func (g *measure) fields(in checks.Input) []checks.Field { return checks.Once(in, g, measured) }

// measured are the reading fields: value for a single one, p1, p2 … for points.
func measured(g *measure) []checks.Field {
	same := checks.Field{Sort: checks.Measured, Unit: g.Unit, Need: true, Meter: "meter", Bounds: g.Low == nil || g.High == nil,
		Example: quantity.Significant(quantity.FromBase(g.middle(), g.Unit), 4), Expect: g.expect()}
	if len(g.Points) == 0 {
		same.Key, same.Label = "value", g.Name
		return []checks.Field{same}
	}
	out := make([]checks.Field, 0, len(g.Points))
	same.Row = "points"
	for i, at := range g.Points {
		f := same
		f.Key, f.Label = "p"+strconv.Itoa(i+1), g.Name+", "+at
		out = append(out, f)
	}
	return out
}

// expect is what a point should read: the plan's own value, or the middle of its
// limits, within them. nil where a side is open.
func (g *measure) expect() *checks.Expect {
	l := g.limit()
	switch {
	case math.IsNaN(l.Low) || math.IsNaN(l.High):
		return nil
	case g.Expect != nil:
		return &checks.Expect{Value: g.Expect.Value, Low: l.Low, High: l.High, Source: l.Source}
	}
	return &checks.Expect{Value: g.middle(), Low: l.Low, High: l.High, Source: l.Source + ", middle of the limits"}
}

// middle is a value inside the limits, for the example.
func (g *measure) middle() float64 {
	switch {
	case g.Low != nil && g.High != nil:
		return (g.Low.Value + g.High.Value) / 2
	case g.Low != nil:
		return g.Low.Value
	case g.High != nil:
		return g.High.Value
	}
	return 1
}

// narrow is how many times its lower limit an upper one may be for a reading ten
// times off to be a slip rather than a reading.
const narrow = 1.5

// unitNarrow is the same for a reading a thousand times off (our choice): between wider
// limits, such as those of an insulation resistance, that is a reading too.
const unitNarrow = 20

// beyondOne is how many times the only limit a reading may be on the side that has
// none before it is doubted, for what plant has one level of: volts and hertz (our
// choice). A current may be any number of times what shows that there is one.
const beyondOne = 10

// doubtMeasured names readings outside the limits that would be inside with the decimal
// point one or two places on or the unit a thousand times the other; and those inside a
// single limit that no plant reads which reads at it.
func doubtMeasured(in checks.Input, g *measure) []checks.Doubt {
	l, base := g.limit(), quantity.BaseUnit(quantity.QuantityOf(g.Unit))
	var out []checks.Doubt
	for _, f := range g.fields(in) {
		a, ok := in.Answers[f.Key]
		if !ok {
			continue
		}
		doubt := func(code string, args ...checks.Arg) {
			args = append(args, checks.Label("field", f), checks.Num("read", a.Value, base), checks.Word("unit", f.Unit))
			out = append(out, checks.Doubt{Fields: []string{f.Key}, Said: checks.Say(code, args...)})
		}
		if slip := slippedLimits(a.Value, *l); slip != "" {
			doubt("slip-from-limits", checks.Num("low", l.Low, base), checks.Num("high", l.High, base), checks.Word("slip", slip))
		}
		switch of := quantity.QuantityOf(g.Unit); {
		case a.Bound != "":
		case (of == "voltage" || of == "frequency") && math.IsNaN(l.High) && l.Low > 0 && a.Value > beyondOne*l.Low:
			doubt("many-times-limit", checks.Num("times", beyondOne, ""), checks.Num("limit", l.Low, base))
		case (of == "voltage" || of == "current") && math.IsNaN(l.Low) && l.High > 0 && a.Value < -l.High:
			doubt("far-below-zero", checks.Num("limit", l.High, base))
		}
	}
	return append(out, checks.NotYetDoubted(doubtPlant(in, g), out)...)
}

// doubtPlant names readings that are inside the limits and not of this plant: a power
// factor above 1 by its name, volts and amperes above all of the plant's where the limits
// have no upper side, frequencies of no power system where the limits are about its own.
func doubtPlant(in checks.Input, g *measure) []checks.Doubt {
	keys := plan.IDsOf(g.fields(in), func(f checks.Field) string { return f.Key })
	open, of := g.High == nil, quantity.QuantityOf(g.Unit)
	var out []checks.Doubt
	for _, k := range keys {
		a, ok := in.Answers[k]
		switch {
		case !ok || a.Bound != "":
		case of == "number" && strings.Contains(strings.ToLower(g.Name), "power factor"):
			out = append(out, doubtPowerFactor(in, k)...)
		case of == "voltage" && open:
			if levels := levels(in, nil, nil); len(levels) > 0 && a.Value > overShare*slices.Max(levels) {
				out = append(out, checks.Doubt{Fields: []string{k}, Said: checks.Say("volts-too-high", checks.Volts("readings", []float64{a.Value}), checks.Inner("level", shareOf(overShare, slices.Max(levels))), checks.Word("slip", ""))})
			}
		case of == "current" && open:
			if t := largest(in); t != nil {
				out = append(out, doubtAmps(in, t, k)...)
			}
		}
	}
	return append(out, doubtFrequencies(in, g, keys)...)
}

// largest is the incomer of the plan with the largest rated current, nil for none.
func largest(in checks.Input) *plan.Rated {
	var best *plan.Rated
	for _, x := range in.Plan.AllRated() {
		if best == nil || x.Rating/quantity.VoltAmpere(x.Volts) > best.Rating/quantity.VoltAmpere(best.Volts) {
			best = x
		}
	}
	return best
}

// doubtFrequencies names frequencies of no power system, where the nominal one lies inside
// the limits: others, such as those of a converter, are not the plant's.
func doubtFrequencies(in checks.Input, g *measure, keys []string) []checks.Doubt {
	nominal := float64(in.Plan.System.Frequency)
	if quantity.QuantityOf(g.Unit) != "frequency" || !(nominal > 0) || checks.Decide(nominal, 0, *g.limit(), false) != checks.Pass {
		return nil
	}
	return doubtHertz(in, keys...)
}

// slippedLimits is the slip that would bring x from inside two limits: "unit", "point" for
// a decimal point; "" when none. A decimal point slips by one or two places, which limits
// far apart leave a reading; a unit by a thousand or a million.
func slippedLimits(x float64, l checks.Limit) string {
	if !(l.Low > 0) || x >= l.Low && x <= l.High {
		return ""
	}
	for _, by := range []float64{10, 100, 1e3, 1e6} {
		if y, z := x*by, x/by; !(y >= l.Low && y <= l.High) && !(z >= l.Low && z <= l.High) {
			continue
		}
		switch {
		case by >= 1e3 && l.High <= unitNarrow*l.Low:
			return "unit"
		case by < 1e3 && l.High <= narrow*l.Low:
			return "point"
		}
	}
	return ""
}

// judgeMeasure passes when every reading x is inside the plan's limits:
//
//	low ≤ x ≤ high
//
// either side may be missing; limits include their own value. A reading that is
// a bound, such as ">2 GΩ", is judged by what it leaves no doubt of.
func judgeMeasure(w *checks.Work, g *measure) {
	l := g.limit()
	for _, f := range g.fields(w.Input) {
		w.HoldBounded(f.Key, "value_"+f.Key, f.Label, quantity.BaseUnit(quantity.QuantityOf(f.Unit)), w.Read(f.Key), l)
	}
}
