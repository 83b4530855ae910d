package kinds

import (
	"slices"

	"handback/checks"
	"handback/checks/calc"
	"handback/checks/plan"
	"handback/checks/quantity"
)

// windingResistance is what a winding-resistance check is given.
type windingResistance struct {
	Transformer string `plan:"transformer,need" ref:"transformer" doc:"the transformer whose winding resistance is read"`
	Winding     string `plan:"winding,need" one:"hv|lv" doc:"hv or lv"`
	tapChoice
	Between     string            `plan:"between" one:"lines|neutral" doc:"lines or neutral: what each reading is taken between; neutral where it is brought out, when not given"`
	Material    string            `plan:"material,need" one:"copper|aluminium" doc:"what the winding is made of"`
	Reference   *quantity.Celsius `plan:"reference" doc:"temperature the readings are referred to; when not given, that of the transformer's insulation class, or 75 °C for liquid-immersed plant"`
	T0          *float64          `plan:"t0,pos" doc:"temperature constant of the material where the plan follows another practice, such as 234.5; IEC 60076-1's when not given"`
	Thermometer string            `plan:"thermometer" ref:"instrument" doc:"id of the instrument that reads the winding's temperature"`
	Maker       []makerResistance `plan:"maker" doc:"the maker's resistances at the reference temperature, between the same terminals"`
	Tolerance   *quantity.Percent `plan:"tolerance,pos" doc:"maximum deviation from the maker's resistance"`
	Source      string            `plan:"source" doc:"the maker's document that gives the resistances"`
	Spread      *quantity.Percent `plan:"spread,pos" doc:"maximum spread of the three phases, (maximum − minimum)/mean; 2 % when not given"`
}

const liquidReference = 75.0 // °C, IEC 60076-1 for windings of liquid-immersed transformers (from memory of the clause)

// classReference is the reference of a dry type's windings by its insulation class,
// °C: the rise of the class at rated current plus 20 K (IEC 60076-11; the rises seen
// second-hand, the sum from memory). Classes by number are those of IEC 60085.
var classReference = map[string]float64{
	"A": 80, "105": 80, "E": 95, "120": 95, "B": 100, "130": 100, "F": 120, "155": 120, "H": 145, "180": 145, "200": 155, "220": 170,
}

// inferredZero is T0 of IEC 60076-1: a winding's resistance grows with T0 + θ.
var inferredZero = map[string]float64{"copper": 235, "aluminium": 225}

var _ = checks.Define(checks.Spec[windingResistance]{
	About: plan.About{
		Name: "winding-resistance", Title: "Winding resistance", Group: "Dead checks", Dead: true,
		Cautions: []string{deadCaution, testCaution,
			"Never part a lead or link while current flows: the winding strikes an arc at dangerous volts. Wait until the instrument shows none."},
		Sources: []string{"R·(T0 + θref)/(T0 + θ), T0 = 235 copper, 225 aluminium: IEC 60076-1",
			"reference where the plan gives none: by insulation class A 80, E 95, B 100, F 120, H 145 °C, IEC 60076-11; else 75 °C for liquid-immersed plant, IEC 60076-1",
			"spread (maximum − minimum)/mean of 2 %: common practice, or the plan", "resistances and their tolerance: the maker's data"},
	},
	Validate: validateWindingResistance,
	Predict:  predictWindingResistance,
	Form:     windingResistanceForm,
	Doubts:   doubtWindingResistance,
	Judge:    judgeWindingResistance,
})

// zero is T0, °C, and where it comes from.
func (g *windingResistance) zero() (t0 float64, source string) {
	if g.T0 != nil {
		return *g.T0, "plan"
	}
	return inferredZero[g.Material], "IEC 60076-1"
}

func validateWindingResistance(p *plan.Plan, c *plan.Check, g *windingResistance, say plan.Say) {
	needReads(p, "thermometer", g.Thermometer, "temperature", say)
	needReference(g.Reference, say)
	if used := g.given(); g.Winding == "lv" && len(used) > 0 {
		say(used[0], "not for the lv winding: the taps are on the HV side")
	} else if g.Winding == "hv" {
		g.validate(p, g.Transformer, say)
	}
	if g.T0 != nil && !(*g.T0 >= 200 && *g.T0 <= 260) {
		say("t0", "%v: about 235 is copper's, about 225 aluminium's", *g.T0)
	}
	if g.Spread != nil && *g.Spread >= 50 {
		say("spread", "%v %%: a few per cent are", float64(*g.Spread))
	}
	needReads(p, "", c.Meter, "resistance", say)
	t := p.Transformer(g.Transformer)
	if t == nil {
		return
	}
	if letter, _ := g.connection(t); g.Between == "neutral" && letter == 'D' {
		say("between", "neutral, but the %s winding of %s is a delta and has none", g.Winding, t.ID)
	}
	g.validateMaker(p, t, say)
	if _, known := classReference[t.Class]; t.Class != "" && !known && g.Reference == nil && len(g.Maker) > 0 {
		say("reference", "missing: the maker's resistances are at a temperature that class %q of %s does not tell", t.Class, t.ID)
	}
}

// reference is the temperature readings are referred to, °C, and where it comes from.
func (g *windingResistance) reference(p *plan.Plan) (celsius float64, source string) {
	if g.Reference != nil {
		return float64(*g.Reference), "plan"
	}
	if t := p.Transformer(g.Transformer); t != nil && t.Class != "" {
		if ref, known := classReference[t.Class]; known {
			return ref, "class " + t.Class + ", IEC 60076-11"
		}
	}
	return liquidReference, "IEC 60076-1"
}

// referred says in words which temperature values are referred to, and why.
func (g *windingResistance) referred(p *plan.Plan) string {
	ref, source := g.reference(p)
	return quantity.Spell(ref, "°C") + " (" + source + ")"
}

func windingResistanceForm(in checks.Input, g *windingResistance) []checks.Field {
	keys, labels := g.terminals(in.Plan, in.Plan.Transformer(g.Transformer))
	out := append([]checks.Field{meterField(in)}, temperatureFields("temperature of the winding", g.Thermometer)...)
	for _, r := range g.reads(in) {
		e := g.expect(in, g.makerAt(r.tap))
		for i, key := range keys {
			f := checks.Field{Key: r.prefix + key, Label: r.name + map[string]string{"hv": "HV ", "lv": "LV "}[g.Winding] + labels[i], Sort: checks.Measured, Unit: g.unit(), Need: true,
				Row: r.prefix + "ohms", Meter: "meter", Hint: "when the reading is steady", Example: "0.512", Expect: e}
			if e != nil {
				f.Example = quantity.Significant(quantity.FromBase(e.Value, g.unit()), 4)
			}
			out = append(out, f)
		}
	}
	return out
}

// expect is what a winding of the maker's resistance reads at the temperature
// that was read, nil before it was.
func (g *windingResistance) expect(in checks.Input, m *makerResistance) *checks.Expect {
	temp, ok := in.Answers["temp"]
	if !ok || m == nil || len(doubtTemperature(in, "temp")) > 0 {
		return nil
	}
	t0, _ := g.zero()
	ref, _ := g.reference(in.Plan)
	return scaled(&checks.Expect{Value: 1, Low: 1 - float64(*g.Tolerance)/100, High: 1 + float64(*g.Tolerance)/100, Source: g.Source + ", at " + quantity.Spell(temp.Value, "°C")},
		float64(m.Value)*(t0+temp.Value)/(t0+ref))
}

func doubtWindingResistance(in checks.Input, g *windingResistance) []checks.Doubt {
	return slices.Concat(doubtWinding(in, g), doubtLosses(in, g))
}

// lossShares is how the losses of one winding at rated current may stand to the
// load loss of the nameplate: far outside, a unit was taken for another (our choice).
var lossShares = checks.Between(0.002, 100, "")

// doubtLosses names resistances whose losses at rated current the nameplate's load
// loss cannot hold, or next to none of it:
//
//	P = 3·I²·R to neutral      P = 1.5·I²·R between lines      I = S/(√3·U)
func doubtLosses(in checks.Input, g *windingResistance) []checks.Doubt {
	t := in.Plan.Transformer(g.Transformer)
	keys, _ := g.terminals(in.Plan, t)
	u, each := float64(t.HV), 1.5
	if g.Winding == "lv" {
		u = float64(t.LV)
	}
	if keys == phaseKeys {
		each = 3
	}
	var out []checks.Doubt
	for _, r := range g.reads(in) {
		for _, key := range keys {
			a, ok := in.Answers[r.prefix+key]
			share := each * calc.Square(float64(t.Rating)) / (3 * u * u) * a.Value / float64(t.LoadLoss)
			if ok && a.Value > 0 && !(share >= lossShares.Low && share <= lossShares.High) {
				out = append(out, checks.Doubt{Fields: []string{r.prefix + key}, Said: checks.Say("losses-off-plate",
					checks.NumIn("read", a.Value, g.unit()), checks.Num("times", share, ""), checks.Word("transformer", t.ID))})
			}
		}
	}
	return out
}

// doubtWinding names readings that no winding has, or not beside its others.
func doubtWinding(in checks.Input, g *windingResistance) []checks.Doubt {
	keys, _ := g.terminals(in.Plan, in.Plan.Transformer(g.Transformer))
	out := doubtTemperature(in, "temp")
	for _, r := range g.reads(in) {
		flat := false
		for _, key := range keys {
			if a, ok := in.Answers[r.prefix+key]; ok && !(a.Value > 0) {
				flat = true
				out = append(out, checks.Doubt{Fields: []string{r.prefix + key}, Said: checks.Say("ohms-not-above-zero", checks.NumIn("read", a.Value, g.unit()))})
			}
		}
		if !flat {
			out = append(out, slipped(in, r.prefix, keys, g.unit())...)
		}
	}
	return out
}

// judgeWindingResistance passes when on every tap asked the three readings R
// spread by no more than the limit and, where the maker's resistance R_m is
// given, each stands within its tolerance once referred to θ_ref:
//
//	spread = 100·(greatest − least)/mean
//	R_ref  = R·(T0 + θ_ref)/(T0 + θ)      R_m·(1 − tol/100) ≤ R_ref ≤ R_m·(1 + tol/100)
//
//	θ       temperature of the winding, °C, −60 to 200
//	θ_ref   when the plan gives none, that of the transformer's insulation class
//	        (IEC 60076-11, from memory): A 80, E 95, B 100, F 120, H 145 °C; with no
//	        class 75 °C, for liquid-immersed plant (IEC 60076-1)
//	T0      235 copper, 225 aluminium (IEC 60076-1), or the plan's
//	spread  2 % when the plan gives no limit (common practice); the limit itself passes
//
// The temperature is common to the three readings, so the spread is taken of them
// as read. The greatest deviation from the mean is shown beside it and not
// judged: the two differ, so a limit names its definition. A doubted reading
// gives no value.
func judgeWindingResistance(w *checks.Work, g *windingResistance) {
	keys, _ := g.terminals(w.Plan, w.Plan.Transformer(g.Transformer))
	inDoubt := checks.Doubted(doubtWinding(w.Input, g))
	t0, whose := g.zero()
	ref, _ := g.reference(w.Plan)
	zero := calc.Datum("T0 of "+g.Material+" ("+whose+")", t0, "°C")
	factor := calc.Named("factor to "+quantity.Spell(ref, "°C"), "1", zero.Add(calc.Datum("θref", ref, "°C")).Div(zero.Add(w.Read("temp"))))
	for _, r := range g.reads(w.Input) {
		sound, ohms := true, make([]*calc.Expr, 3)
		for i, key := range keys {
			key = r.prefix + key
			ohms[i] = w.ReadIn(key)
			if inDoubt(key) {
				sound = false
			} else if !inDoubt("temp") {
				referredResistance(w, g, r, key, ohms[i].Mul(factor))
			}
		}
		if !sound {
			continue
		}
		mean := calc.Named("mean", g.unit(), calc.Mean(ohms...))
		w.Hold(r.prefix+"spread", r.name+"spread, (maximum − minimum)/mean", "%", calc.Max(ohms...).Sub(calc.Min(ohms...)).Div(mean).Times(100), limitOf("winding-resistance.spread", g.Spread))
		w.Show(r.prefix+"greatest_deviation", r.name+"maximum deviation from the mean", "%",
			calc.Max(calc.Abs(ohms[0].Sub(mean)), calc.Abs(ohms[1].Sub(mean)), calc.Abs(ohms[2].Sub(mean))).Div(mean).Times(100))
	}
}

// referredResistance judges a resistance at the reference temperature against the
// maker's, or shows it where there is none.
func referredResistance(w *checks.Work, g *windingResistance, r tapRead, key string, e *calc.Expr) {
	name := w.Read(key).Label() + " at " + g.referred(w.Plan)
	if m := g.makerAt(r.tap); m != nil {
		w.HoldField(key, "ref_"+key, name, g.unit(), e, g.makerLimit(m))
		return
	}
	w.Show("ref_"+key, name, g.unit(), e)
	if len(g.Maker) > 0 && w.Has(key) {
		f, _ := checks.FieldNamed(w.Form(), key)
		if r.tap == nil {
			w.Say(checks.Inconclusive, key, "maker-of-unknown-tap", checks.Label("field", f))
		} else {
			w.Say(checks.Inconclusive, key, "maker-of-other-taps", checks.Label("field", f), checks.Word("tap", r.tap.Position))
		}
	}
}

// predictWindingResistance prints the limits before anything is read.
func predictWindingResistance(p *plan.Plan, c *plan.Check, g *windingResistance) []plan.Prediction {
	l := limitOf("winding-resistance.spread", g.Spread)
	out := []plan.Prediction{{Name: "spread, (maximum − minimum)/mean", Text: l.Text("%"), Source: l.Source}}
	if t := p.Transformer(g.Transformer); len(g.Maker) > 0 && g.Reference == nil && t.Class == "" {
		out = append(out, plan.Prediction{Name: "reference", Source: "IEC 60076-1",
			Text: "75 °C is that of liquid-immersed plant: give reference, or the insulation_class of a dry type, as the maker's sheet has it"})
	}
	for _, r := range g.reads(checks.Input{Plan: p, Check: c}) {
		if m := g.makerAt(r.tap); m != nil {
			l := g.makerLimit(m)
			out = append(out, plan.Prediction{Name: r.name + "resistance at " + g.referred(p), Text: checks.Between(l.Low, l.High, "").Text(g.unit()), Source: l.Source})
		}
	}
	return out
}
