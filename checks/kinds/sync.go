package kinds

import (
	"math"
	"strings"
	"time"

	"handback/checks"
	"handback/checks/calc"
	"handback/checks/plan"
	"handback/checks/quantity"
)

// syncCheck is what a sync check is given.
type syncCheck struct {
	Limits  string               `plan:"limits,need" one:"same-source|rotating|der|plan" doc:"limit set: same-source (two transformers of one supply), rotating (IEEE C50.12 and C50.13), der (IEEE 1547-2018 Table 5, by rating) or plan"`
	Rating  *quantity.VoltAmpere `plan:"rating,pos" doc:"rating of the distributed resource; needed with der"`
	DU      *quantity.Percent    `plan:"du,pos" doc:"maximum difference of volts, of side A's; needed with same-source and plan"`
	DF      *quantity.Hertz      `plan:"df,pos" doc:"maximum difference of frequency; needed with plan, with same-source one digit of the meter when not given"`
	Angle   *quantity.Degree     `plan:"angle,pos" doc:"maximum angle when the contacts meet; needed with same-source and plan"`
	Closing *quantity.Second     `plan:"closing_time" doc:"from closing order to contacts meeting; 0 when not given"`
	Fresh   *quantity.Second     `plan:"fresh,pos" doc:"how long before closing the check may be taken; 5 min when not given (our choice)"`
	A       string               `plan:"a" ref:"incomer" doc:"transformer or other incomer that feeds side A, the running bar; two transformers give the current at closing"`
	B       string               `plan:"b" ref:"incomer" doc:"transformer or other incomer that feeds side B, the incoming side"`
	Cross   string               `plan:"cross_from" ref:"cross-volts" doc:"id of the cross-volts check whose angle is taken where neither the angle nor the poles are read; for two sides of one source"`
	Tied    *bool                `plan:"neutrals_tied" doc:"yes when the neutrals of both sides are joined while the volts across the open poles are read; when no, the poles show no angle"`
}

// staysFresh is how long a synchronising check holds where the plan does not say (our choice).
const staysFresh = 5 * time.Minute

const (
	liveLive = "live-live"
	deadBar  = "dead-bar"
	deadLine = "dead-line"
)

// deadShare is the part of the other side's volts under which a side is called
// dead and not merely low (our choice).
const deadShare = 0.2

var poleKeys = []string{"p1", "p2", "p3"}

var _ = checks.Define(checks.Spec[syncCheck]{
	About: plan.About{
		Name: "sync", Title: "Synchronising check", Group: "Live checks", Live: true,
		Joins: true, Across: true,
		Cautions: []string{liveCaution,
			"Angle and slip change: valid for its minutes and its state only."},
		Sources: []string{"rotating: IEEE C50.12 and C50.13", "der: IEEE 1547-2018 Table 5",
			"same-source and plan: the plan", "5 minutes, and live from 80 % of nominal volts: our choice"},
	},
	Validate: validateSync,
	Predict: func(p *plan.Plan, c *plan.Check, g *syncCheck) []plan.Prediction {
		du, df, angle := g.limits(math.NaN())
		out := []plan.Prediction{{Name: "volts, difference B − A", Text: du.Text("%"), Source: du.Source}, {Name: "angle when the contacts meet", Text: angle.Text("°"), Source: angle.Source}}
		if df != nil {
			out = append(out, plan.Prediction{Name: "frequency, difference B − A", Text: df.Text("Hz"), Source: df.Source})
		}
		if g.Tied == nil && !crossAbove(p, c) {
			out = append(out, plan.Prediction{Name: "neutrals of the sides", Text: "not said (neutrals_tied): the open poles show the angle only where they are tied", Source: "geometry"})
		}
		return out
	},
	Form:   formSync,
	Doubts: doubtSync,
	Fresh: func(in checks.Input, g *syncCheck) time.Time {
		until, _ := freshUntil(in, g)
		return until
	},
	Judge: judgeSync,
})

func validateSync(p *plan.Plan, c *plan.Check, g *syncCheck, say plan.Say) {
	planned := map[string]bool{"du": g.DU != nil, "df": g.DF != nil, "angle": g.Angle != nil}
	for _, key := range []string{"du", "df", "angle"} {
		switch {
		case g.Limits == "rotating" || g.Limits == "der":
			if planned[key] {
				say(key, "limit set %s brings its own: leave it out, or take limits: plan", g.Limits)
			}
		case !planned[key] && (key != "df" || g.Limits == "plan"):
			say(key, "missing: limit set %s takes it from the plan", g.Limits)
		}
	}
	if (g.Limits == "der") != (g.Rating != nil) {
		say("rating", "belongs to limit set der, which needs it; the limit set is %s", g.Limits)
	}
	if g.Closing != nil && *g.Closing < 0 {
		say("closing_time", "%v s is below zero", float64(*g.Closing))
	}
	if (g.A == "") != (g.B == "") || g.A != "" && g.A == g.B {
		say("b", "a and b are %q and %q: two different incomers or none are wanted", g.A, g.B)
	}
	if g.Cross != "" && (g.Limits == "rotating" || g.Limits == "der") {
		say("cross_from", "two sources slip while nine volts are read: with limit set %s read the angle itself", g.Limits)
	}
	needCross(p, g.Cross, g.A, g.B, say)
}

// limits are those of the set. resolution is one digit of the frequency reading,
// Hz, NaN when not known; then same-source without df gives no frequency limit.
//
//	rotating   ΔU 0…+5 %, Δf ±0.067 Hz, φ ±10°                  IEEE C50.12, C50.13 (second-hand)
//	der        to 500 kVA      ±10 %, ±0.3 Hz, ±20°             IEEE 1547-2018 Table 5 (second-hand)
//	           to 1500 kVA     ±5 %,  ±0.2 Hz, ±15°
//	           above           ±3 %,  ±0.1 Hz, ±10°
func (g *syncCheck) limits(resolution float64) (du, df, angle *checks.Limit) {
	switch g.Limits {
	case "rotating":
		const source = "IEEE C50.12 and C50.13"
		return checks.Between(0, 5, source), around(0.067, source), around(10, source)
	case "der":
		const source = "IEEE 1547-2018 Table 5"
		row := [3]float64{3, 0.1, 10}
		switch rating := float64(*g.Rating); {
		case quantity.NotAbove(rating, 500e3):
			row = [3]float64{10, 0.3, 20}
		case quantity.NotAbove(rating, 1500e3):
			row = [3]float64{5, 0.2, 15}
		}
		return around(row[0], source), around(row[1], source), around(row[2], source)
	}
	du, angle = around(float64(*g.DU), "plan"), around(float64(*g.Angle), "plan")
	switch {
	case g.DF != nil:
		df = around(float64(*g.DF), "plan")
	case !math.IsNaN(resolution):
		df = around(resolution, "one digit of the meter, as one supply has one frequency")
	}
	return du, df, angle
}

func formSync(in checks.Input, g *syncCheck) []checks.Field {
	both := in.Answers["state"].Word != deadBar && in.Answers["state"].Word != deadLine // a dead side has no frequency to read
	lines, _ := in.Plan.Conductors()
	side := func(key, label, unit, example, row string, need bool) checks.Field {
		return checks.Field{Key: key, Label: label, Sort: checks.Measured, Unit: unit, Need: need, Row: row, Meter: "meter", Example: example}
	}
	out := []checks.Field{meterField(in),
		{Key: "at", Label: "time of the check", Sort: checks.Instant, Need: true, Default: "now", Example: "now"},
		{Key: "state", Label: "state of the sides", Sort: checks.Choice, Options: []string{liveLive, deadBar, deadLine}, Need: true, Example: liveLive,
			Hint: "dead-bar: side A is dead; dead-line: side B is dead"},
		side("u_a", "volts of A", "V", "420.4", "volts", true), side("u_b", "volts of B", "V", "419.1", "volts", true),
		side("f_a", "frequency of A", "Hz", "50.02", "hertz", both), side("f_b", "frequency of B", "Hz", "50.02", "hertz", both),
		side("angle", "angle", "°", "1.5", "", false)}
	out[3].Hint = "line-to-line; A is the running bar, B the side to be closed on to it"
	out[7].Hint = "positive when B leads A; left out where volts across the poles are read"
	if cross := g.Cross; cross != "" {
		out[7].Hint = "positive when B leads A; leave it and the poles out to take the angle of check " + cross
	}
	for i, key := range poleKeys {
		f := side(key, "volts across open pole "+lines[i], "V", []string{"2.4", "2.6", "2.5"}[i], "poles", false)
		f.Hint = "across the open poles, all three"
		out = append(out, f)
	}
	if both {
		expectSync(in, g, out)
	}
	return out
}

// nearNominal is how far a supply's frequency stands from nominal in ordinary
// running, in per cent (EN 50160 for interconnected supplies, from memory).
const nearNominal = 1

// expectSync says what two sides in step read: B's volts about A's, both about the
// nominal frequency, no angle, and across an open pole what the volts differ by, up
// to what they would at the greatest angle.
func expectSync(in checks.Input, g *syncCheck, form []checks.Field) {
	expect := func(key string, e checks.Expect) {
		for i := range form {
			if form[i].Key == key {
				form[i].Expect = &e
			}
		}
	}
	if f := float64(in.Plan.System.Frequency); f > 0 {
		for _, key := range []string{"f_a", "f_b"} {
			expect(key, checks.Expect{Value: f, Low: f * (1 - nearNominal/100.0), High: f * (1 + nearNominal/100.0), Source: "nominal frequency"})
		}
	}
	if g.Angle != nil {
		expect("angle", checks.Expect{Value: 0, Low: -float64(*g.Angle), High: float64(*g.Angle), Source: "in step"})
	}
	if a, ok := in.Answers["u_a"]; ok && g.DU != nil {
		du := float64(*g.DU) / 100
		expect("u_b", checks.Expect{Value: a.Value, Low: a.Value * (1 - du), High: a.Value * (1 + du), Source: "volts of A read"})
	}
	a, b, ok := sides(in)
	if !ok || g.Angle == nil {
		return
	}
	across := func(deg float64) float64 { return poleVolts(calc.K(a), calc.K(b), calc.K(deg)).Eval(nil) }
	for _, key := range poleKeys {
		expect(key, checks.Expect{Value: across(0), Low: across(0), High: across(float64(*g.Angle)), Source: "in step, volts of A and B read"})
	}
}

// doubtSync names readings that cannot be right together.
func doubtSync(in checks.Input, g *syncCheck) []checks.Doubt {
	out := checks.DoubtInstants(in, "at")
	if in.Answers["state"].Word != liveLive {
		return out
	}
	doubt := func(fields string, said checks.Said) {
		out = append(out, checks.Doubt{Fields: strings.Fields(fields), Said: said})
	}
	a, b := in.Answers["u_a"].Value, in.Answers["u_b"].Value
	low, high := math.Min(a, b), math.Max(a, b)
	sides := func(code string) {
		doubt("u_a u_b", checks.Say(code, checks.Num("a", a, "V"), checks.Num("b", b, "V")))
	}
	switch {
	case low < 0:
		sides("side-below-zero")
	case low > 0 && math.Abs(high/low/math.Sqrt(3)-1) <= 0.03:
		sides("one-line-to-neutral")
	case low > 0 && near(low*10, high):
		sides("one-ten-times")
	default:
		levels := levels(in, nil, []string{g.A, g.B})
		if !(high < deadUnder(levels)) || slipFrom(high, levels) != "" { // else dead, which is judged
			out = append(out, doubtLive(in, levels, []string{"u_a", "u_b"}, nil)...)
		}
	}
	if angle, ok := in.Answers["angle"]; ok && math.Abs(angle.Value) > 180 {
		doubt("angle", checks.Say("angle-beyond-half-turn", checks.Num("read", angle.Value, "°")))
	}
	out = append(out, doubtHertz(in, "f_a", "f_b")...)
	return append(out, doubtPoles(in, g)...)
}

// crossAbove tells whether a cross-volts check stands above c.
func crossAbove(p *plan.Plan, c *plan.Check) bool {
	for _, d := range p.Checks() {
		if d == c {
			break
		}
		if d.Kind.Name == "cross-volts" {
			return true
		}
	}
	return false
}
