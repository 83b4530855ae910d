package kinds

import (
	"slices"
	"strings"

	"handback/checks"
	"handback/checks/calc"
	"handback/checks/plan"
	"handback/checks/power"
	"handback/checks/quantity"
)

// vectorGroup is what a vector-group check is given.
type vectorGroup struct {
	Transformer string            `plan:"transformer,need" ref:"transformer" doc:"the transformer whose vector group is proved"`
	Supply      string            `plan:"supply,need" one:"three-phase|single-phase" doc:"what feeds the HV side: three-phase, or single-phase between 1U and 1V and then between 1U and 1W"`
	Volts       quantity.Volt     `plan:"volts,need,pos" doc:"test volts fed to the HV side between terminals, such as 400 V"`
	Tap         string            `plan:"tap" doc:"tap position it is taken on; the transformer's own when not given"`
	TapFrom     string            `plan:"tap_from" ref:"tap-links" doc:"id of the tap-links check whose left position it is taken on"`
	Tolerance   *quantity.Percent `plan:"tolerance,pos" doc:"how far a reading may stand from what the plate's clock number gives, as a share of the LV test volts; 20 % when not given"`
}

var _ = checks.Define(checks.Spec[vectorGroup]{
	About: plan.About{
		Name: "vector-group", Title: "Vector group", Group: "Dead checks", Dead: true,
		Cautions: []string{deadCaution, testCaution,
			"Feed the test volts to the HV side alone: volts fed to the LV side appear many times higher at the HV terminals. Keep everyone clear of both sides: every terminal is live at the test volts while they are on, and what is not fed may have more volts than these.",
			"Supply through a protective device, switched off before a lead or the tie is moved. Leads, clips and meter are fit for the test volts and the category of their supply."},
		Sources: []string{"angle of a clock number, 30° each: IEC 60076-1", "volts between the terminals: geometry, with 1U and 2U tied",
			"readings within 20 % of the LV test volts, where neighbouring clock numbers stand about half of them apart: our choice"},
	},
	Validate: validateVectorGroup,
	Predict:  predictVectorGroup,
	Form:     vectorGroupForm,
	Doubts:   doubtVectorGroup,
	Judge:    judgeVectorGroup,
})

func validateVectorGroup(p *plan.Plan, c *plan.Check, g *vectorGroup, say plan.Say) {
	needTap(p, "tap", g.Transformer, g.Tap, say)
	if g.Tap != "" && g.TapFrom != "" {
		say("tap_from", "tap and tap_from are given: one of them says which tap position is meant")
	}
	if t := p.Transformer(g.Transformer); t != nil && g.Tap == "" && g.TapFrom == "" && t.Tap == "" && len(t.Taps) > 0 {
		say("tap", "missing: neither given here nor as the tap of transformer %s", t.ID)
	}
	needReads(p, "", c.Meter, "voltage", say)
}

// tiedFeed is one way the HV side is fed: its seven readings have one prefix.
type tiedFeed struct{ prefix, name string }

func (g *vectorGroup) feeds() []tiedFeed {
	if g.Supply == "three-phase" {
		return []tiedFeed{{}}
	}
	return []tiedFeed{{"uv_", "fed 1U-1V, "}, {"uw_", "fed 1U-1W, "}}
}

// What each feed reads: the HV side between its terminals, and across the windings.
var (
	fedKeys     = [3]string{"hv_uv", "hv_vw", "hv_wu"}
	fedNames    = [3]string{"1U-1V", "1V-1W", "1W-1U"}
	tiedKeys    = [4]string{"vv", "vw", "wv", "ww"}
	tiedNames   = [4]string{"1V-2V", "1V-2W", "1W-2V", "1W-2W"}
	tiedBetween = [4][2]int{{0, 0}, {0, 1}, {1, 0}, {1, 1}} // of 1V, 1W and of 2V, 2W
)

// fedShares are the volts between HV terminals that a feed should give, as shares of the
// test volts; a terminal that is not fed stands about half-way.
func (g *vectorGroup) fedShares(f tiedFeed) [3]float64 {
	switch f.prefix {
	case "uv_":
		return [3]float64{1, 0.5, 0.5}
	case "uw_":
		return [3]float64{0.5, 0.5, 1}
	}
	return [3]float64{1, 1, 1}
}

// hand is one way the LV side may stand: a clock number, or that with two terminals
// exchanged, which is no vector group.
type hand struct {
	clock   int
	crossed bool
}

// hands are all ways, the groups first.
func hands() []hand {
	var out []hand
	for _, crossed := range []bool{false, true} {
		for clock := range 12 {
			out = append(out, hand{clock, crossed})
		}
	}
	return out
}

// tied is a transformer on its tap, with 1U and 2U tied and its HV side fed.
type tied struct {
	*vectorGroup
	t     *plan.Transformer
	plate power.Group
	ratio float64 // rated LV over HV of the tap, between terminals
	k     *calc.Expr
}

// tiedOn is what the check looks at; ok is false when the tap is not known.
func tiedOn(in checks.Input, g *vectorGroup) (x tied, ok bool) {
	t, tap := transformerOnTap(in, g.Transformer, g.Tap, g.TapFrom)
	if t == nil || tap == nil {
		return tied{}, false
	}
	plate, err := power.ParseGroup(t.Group)
	if err != nil {
		panic("kinds: vector group " + t.Group + " was not validated")
	}
	k := calc.Named("k", "1", calc.Datum("rated LV", float64(t.LV), "V").Div(calc.Datum("HV of tap "+tap.Position, float64(tap.HV), "V")))
	return tied{g, t, plate, float64(t.LV) / float64(tap.HV), k}, true
}

// expected is the reading at one of tiedNames that a hand gives, from the volts between
// the HV terminals. With V, W the volts of 1V and 1W against the tie, and one of them
// apart from one of 2V, 2W by x·V + y·W,
//
//	reading = √(x²·V² + y²·W² + 2·x·y·V·W cos)     2·V·W cos = V² + W² − (1V-1W)²
//
// which needs no angle, and holds where a single phase puts all on one line.
func (x tied) expected(h hand, at int, fed [3]*calc.Expr) *calc.Expr {
	fv, fw := power.TieTurns(h.clock, h.crossed)
	own, of := tiedBetween[at][0], [2][2]float64{fv, fw}[tiedBetween[at][1]]
	part := func(name string, i int) *calc.Expr {
		if i == own {
			return calc.Named(name, "1", calc.K(1).Sub(x.k.Times(of[i])))
		}
		return calc.Named(name, "1", x.k.Times(-of[i]))
	}
	a, b, c := fed[0].Pow(2), fed[1].Pow(2), fed[2].Pow(2)
	p, q := part("x", 0), part("y", 1)
	square := p.Pow(2).Mul(a).Add(q.Pow(2).Mul(c)).Add(p.Mul(q).Mul(a.Add(c).Sub(b)))
	return calc.Named("volts to expect", "V", calc.Sqrt(calc.Max(calc.K(0), square)))
}

// deviation is how far a reading stands from what a hand gives, in per cent of the LV
// volts of the test.
func (x tied) deviation(h hand, at int, fed [3]*calc.Expr, read *calc.Expr) *calc.Expr {
	low := calc.Named("LV test volts", "V", x.k.Mul(calc.Max(fed[:]...)))
	return read.Sub(x.expected(h, at, fed)).Div(low).Times(100)
}

// leavesOf are the readings of a feed.
func leavesOf(f tiedFeed, read func(key string) *calc.Expr) (fed [3]*calc.Expr, across [4]*calc.Expr) {
	for i, key := range fedKeys {
		fed[i] = read(f.prefix + key)
	}
	for i, key := range tiedKeys {
		across[i] = read(f.prefix + key)
	}
	return fed, across
}

func vectorGroupForm(in checks.Input, g *vectorGroup) []checks.Field {
	out := []checks.Field{meterField(in)}
	x, known := tiedOn(in, g)
	for _, f := range g.feeds() {
		measured := func(key, name, hint string) checks.Field {
			return checks.Field{Key: f.prefix + key, Label: f.name + name, Sort: checks.Measured, Unit: "V", Need: true, Meter: "meter", Hint: hint, Example: "400.0"}
		}
		fed := [3]*calc.Expr{}
		for i, share := range g.fedShares(f) {
			u := share * float64(g.Volts)
			out = append(out, measured(fedKeys[i], fedNames[i], "HV terminals, 1U and 2U tied"))
			last := &out[len(out)-1]
			last.Row, last.Example = f.prefix+"fed", quantity.Significant(u, 4)
			last.Expect = &checks.Expect{Value: u, Low: 0.8 * u, High: 1.2 * u, Source: "test volts"}
			fed[i] = calc.Datum(fedNames[i], u, "V")
		}
		if read, ok := three(in, f.prefix, fedKeys); ok {
			for i := range fed {
				fed[i] = calc.Datum(fedNames[i], read[i], "V")
			}
		}
		for i, key := range tiedKeys {
			q := measured(key, tiedNames[i], "across the windings; the supply as steady as it comes")
			q.Row = f.prefix + "across"
			if known {
				h := hand{clock: x.plate.Clock}
				u, room := x.expected(h, i, fed).Eval(nil), x.limit().High/100*x.ratio*float64(g.Volts)
				q.Example, q.Expect = quantity.Significant(u, 5), &checks.Expect{Value: u, Low: u - room, High: u + room, Source: x.t.Group + ", nameplate"}
			}
			out = append(out, q)
		}
	}
	return out
}

func (g *vectorGroup) limit() *checks.Limit { return limitOf("vector-group.tolerance", g.Tolerance) }

// doubtVectorGroup names volts below zero, HV volts that no three terminals have or that
// are not of the test, and, once all are right one by one, readings that fit no clock
// number at all.
func doubtVectorGroup(in checks.Input, g *vectorGroup) []checks.Doubt {
	var out []checks.Doubt
	whole := true
	for _, f := range g.feeds() {
		for _, key := range slices.Concat(fedKeys[:], tiedKeys[:]) {
			a, ok := in.Answers[f.prefix+key]
			if whole = whole && ok; ok && !(a.Value >= 0) {
				field, _ := checks.FieldNamed(in.Form(), f.prefix+key)
				out = append(out, checks.Doubt{Fields: []string{field.Key}, Said: checks.Say("volts-below-zero", checks.Label("field", field), checks.Num("read", a.Value, "V"))})
			}
		}
		if ll, ok := three(in, f.prefix, fedKeys); ok && len(out) == 0 {
			out = append(out, g.doubtFed(f, ll)...)
		}
	}
	x, known := tiedOn(in, g)
	if !known || !whole || len(out) > 0 {
		return out
	}
	at := func(key string) float64 { return in.Answers[key].Value }
	fits := x.fits(in, at, func(*calc.Expr) float64 { return 0 })
	if len(fits) == 0 {
		var fields []string
		for _, f := range g.feeds() {
			for _, key := range tiedKeys {
				fields = append(fields, f.prefix+key)
			}
		}
		out = append(out, checks.Doubt{Fields: fields, Said: checks.Say("fits-no-clock-number", checks.Word("transformer", x.t.ID))})
	}
	return out
}

// doubtFed names HV volts that no three terminals have, or that the test volts do not give.
func (g *vectorGroup) doubtFed(f tiedFeed, ll [3]float64) []checks.Doubt {
	fields, volts := withPrefix(f.prefix, fedKeys), checks.Volts("readings", ll[:])
	top := slices.Max(ll[:])
	switch {
	case top > 1.02*(ll[0]+ll[1]+ll[2]-top):
		return []checks.Doubt{{Fields: fields, Said: checks.Say("no-triangle", volts)}}
	case !(top >= 0.5*float64(g.Volts) && top <= 2*float64(g.Volts)):
		return []checks.Doubt{{Fields: fields, Said: checks.Say("not-the-test-volts", volts, checks.Num("planned", float64(g.Volts), "V"))}}
	}
	return nil
}

// predictVectorGroup prints what the plate's group reads and what the other numbers of its
// windings would.
func predictVectorGroup(p *plan.Plan, c *plan.Check, g *vectorGroup) []plan.Prediction {
	x, known := tiedOn(checks.Input{Plan: p, Check: c}, g)
	if !known {
		return nil
	}
	var out []plan.Prediction
	for step := range 6 {
		group := x.plate
		group.Clock = (x.plate.Clock + 2*step) % 12
		for _, f := range g.feeds() {
			fed, texts := [3]*calc.Expr{}, []string{}
			for i, share := range g.fedShares(f) {
				fed[i] = calc.Datum(fedNames[i], share*float64(g.Volts), "V")
			}
			for i, name := range tiedNames {
				texts = append(texts, name+" "+quantity.Show(x.expected(hand{clock: group.Clock}, i, fed).Eval(nil), "V", 1))
			}
			out = append(out, plan.Prediction{Name: f.name + group.String(), Text: strings.Join(texts, ", "), Source: "nameplate ratio, IEC 60076-1 clock number"})
		}
	}
	return out
}
