package kinds

import (
	"fmt"
	"math"
	"strings"
	"time"

	"handback/checks"
	"handback/checks/plan"
	"handback/checks/quantity"
)

// proveDead is what a prove-dead check is given.
type proveDead struct {
	Tester     string           `plan:"tester" ref:"instrument" doc:"id of the voltage detector or tester; the check's instrument when not given"`
	Source     string           `plan:"source,need" ref:"instrument" doc:"id of the proving unit or known live point; never the tester itself, whose self-test does not prove its measuring circuit"`
	System     quantity.Volt    `plan:"system_voltage,need,pos" doc:"nominal line-to-line volts of the system, such as 11 kV; the tester's rating must hold it and the source must reach it"`
	Neutral    bool             `plan:"neutral,need" doc:"yes when there is a neutral: it is tested as a conductor, as on every LV system that has one"`
	Earth      *bool            `plan:"earth" doc:"each conductor to earth; yes when not given"`
	Pairs      *bool            `plan:"pairs" doc:"each pair of conductors; yes when not given, no only for a single-pole detector, which cannot"`
	Current    string           `plan:"current" one:"a.c.|d.c." doc:"what the system carries; a.c. when not given"`
	Threshold  *quantity.Volt   `plan:"threshold,pos" doc:"most volts a dead point may show, 50 V a.c. or 120 V d.c. at most; 50 V when not given (common practice)"`
	Window     *quantity.Second `plan:"window,pos" doc:"most time from proof to proof, 60 min at most; 30 min when not given (our choice)"`
	Category   string           `plan:"category" one:"III|IV" doc:"minimum measurement category of the tester (IEC 61010-1), on LV; III when not given"`
	Indication string           `plan:"indication" one:"volts|lamp" doc:"volts when the tester shows them, lamp when it shows only live or not live; volts on LV when not given, above 1 kV always lamp"`
}

// The options of a proof or of a point where only an indication is seen.
const (
	seenLive    = "live"
	seenNotLive = "not live"
)

// The bounds that no plan may widen.
const (
	deadMostDC = 120.0 // V d.c., the same
	windowMost = 60.0  // min, our choice: what was dead an hour ago was not tried now
)

// Where a plan says nothing.
const (
	usualThreshold = 50.0 // V, common practice
	usualWindow    = 30.0 // min, our choice
)

var _ = checks.Define(checks.Spec[proveDead]{
	About: plan.About{
		Name: "prove-dead", Title: "Proving dead", Group: "Dead checks", Live: true, Proves: true,
		Cautions: []string{
			"Live until proved dead, and until the tester has proved again after the last point. An unlit indicator alone is never proof.",
			liveCaution,
			"Think of every way back: coupler, voltage transformers, UPS, capacitors, generation, heaters, control supplies. Earth at once after proving, as the permit says: what is dead and not earthed may become live.",
		},
		Sources: []string{
			"dead threshold 50 V a.c.: common practice; it marks a hazard, not the absence of a supply. No plan may set more than 50 V a.c. or 120 V d.c. (extra-low voltage, IEC 61140)",
			"30 min from proof to proof, and 60 min at most: our choice",
			"proof before and after with the same tester: HSE GS38, HSG85, EN 50110-1, NFPA 70E 120.5",
			"a proof shows at least 0.8 of the volts to earth of the system: our choice",
			"measurement category III at least: IEC 61010-1",
		},
	},
	Validate: validateProveDead,
	Object:   objectProveDead,
	Predict:  predictProveDead,
	Form:     proveDeadForm,
	Doubts:   doubtProveDead,
	Refuse:   refuseProof,
	AtOnce:   liveAtOnce,
	Fresh: func(in checks.Input, _ *proveDead) time.Time { // from the proof, however late it is typed
		if life := in.Check.LifeOf(); life > 0 && in.Answers.Have("after_at") {
			return in.Answers["after_at"].Time().Add(life)
		}
		return time.Time{}
	},
	Judge: judgeProveDead,
})

func validateProveDead(p *plan.Plan, c *plan.Check, g *proveDead, say plan.Say) {
	tester := needPlanned(p, c, "tester", g.Tester, say)
	if tester != nil {
		for _, why := range g.unfit(tester) {
			say("tester", "%s", why.Text)
		}
		if why := g.uncategorised(tester); !why.None() && g.Category != "" {
			say("tester", "%s", why.Text)
		}
		if tester.ID == g.Source {
			say("source", "%s is the tester itself: its self-test does not prove the measuring circuit", tester.Name)
		}
	}
	if most := float64(g.System) / math.Sqrt(3); g.Threshold != nil && !(float64(*g.Threshold) < most) {
		say("threshold", "%s is not below the %s of a live conductor to earth", quantity.Spell(float64(*g.Threshold), "V"), quantity.Spell(most, "V"))
	}
	if !isYes(g.Earth) && !isYes(g.Pairs) {
		say("earth", "neither conductors to earth nor pairs: nothing would be proved")
	}
}

// objectProveDead notes what no proof of dead may be made by: a source that proves
// nothing, the tester itself under another id, volts read above 1 kV, and a usual
// threshold that a live conductor does not reach.
func objectProveDead(p *plan.Plan, c *plan.Check, g *proveDead, say plan.Say) {
	tester, source := p.Meter(planned(c, g.Tester)), p.Meter(g.Source)
	switch {
	case source == nil || tester == nil:
	case tester.SameThing(source):
		say("source", "%s is the tester itself: its self-test does not prove the measuring circuit", tester.Name)
	default:
		if why := checks.Unproving(source, float64(g.System)); !why.None() {
			say("source", "%s", why.Text)
		}
	}
	if most := float64(g.System) / math.Sqrt(3); g.Threshold == nil && !(usualThreshold < most) && !g.lamp() {
		say("threshold", "missing: the usual %s is not below the %s of a live conductor to earth", quantity.Spell(usualThreshold, "V"), quantity.Spell(most, "V"))
	}
	if g.Indication == "volts" && float64(g.System) > plan.LVMost {
		say("indication", "volts, but above 1 kV a detector shows live or not live: write lamp, or leave it out")
	}
}

// isYes reads a yes/no of the plan that is yes when not given.
func isYes(b *bool) bool { return b == nil || *b }

// unfit says why a tester cannot prove this system dead.
func (g *proveDead) unfit(m *plan.Meter) []checks.Objection {
	var out []checks.Objection
	system := float64(g.System)
	if why := undetecting(m); !why.None() {
		out = append(out, why)
	}
	switch {
	case m.LowRating == nil || m.HighRating == nil:
		out = append(out, checks.Objecting("rating-unstated", fmt.Sprintf("%s states no rated voltages: rated_from and rated_to must hold %s", m.Name, quantity.Spell(system, "V")),
			checks.Word("instrument", m.ID), checks.Num("system", system, "V")))
	case !quantity.NotAbove(float64(*m.LowRating), system) || !quantity.NotAbove(system, float64(*m.HighRating)):
		out = append(out, checks.Objecting("rating-misses-system", fmt.Sprintf("%s is rated for %s to %s, which does not hold %s", m.Name, quantity.Spell(float64(*m.LowRating), "V"), quantity.Spell(float64(*m.HighRating), "V"), quantity.Spell(system, "V")),
			checks.Word("instrument", m.ID), checks.Num("from", float64(*m.LowRating), "V"), checks.Num("to", float64(*m.HighRating), "V"), checks.Num("system", system, "V")))
	}
	if why := checks.BelowCategory(m, g.category()); !why.None() {
		out = append(out, why)
	}
	return out
}

// undetecting says that an instrument of another sort proves nothing dead; nothing for
// a voltage detector and where its sort is not known.
func undetecting(m *plan.Meter) checks.Objection {
	if sort := m.SortOf(); sort != "" && sort != "other" && sort != plan.VoltageDetector {
		return checks.Objecting("no-detector", m.Sorted("")+": a voltage detector proves dead", checks.Word("instrument", m.ID), checks.Word("sort", sort))
	}
	return checks.Objection{}
}

// category is the least measurement category of the tester: on LV the plan's, or
// III; "" above 1 kV where the plan names none.
func (g *proveDead) category() string {
	if g.Category == "" && float64(g.System) <= plan.LVMost {
		return "III"
	}
	return g.Category
}

// uncategorised says that a tester states no category where one is wanted; nothing
// when it does. A plan that is silent loads all the same; the finding then fails.
func (g *proveDead) uncategorised(m *plan.Meter) checks.Objection {
	if g.category() == "" || m.Category != "" {
		return checks.Objection{}
	}
	return checks.Objecting("category-missing", fmt.Sprintf("%s states no measurement category: at least %s is wanted", m.Name, g.category()),
		checks.Word("instrument", m.ID), checks.Word("least", g.category()))
}

// lamp tells whether points are told by an indication alone.
func (g *proveDead) lamp() bool { return g.Indication == "lamp" || float64(g.System) > plan.LVMost }

func (g *proveDead) thresholdMost() float64 {
	if g.Current == "d.c." {
		return deadMostDC
	}
	return checks.DeadMostAC
}

// limit is the most a dead point may show. It never goes beyond what no plan may.
func (g *proveDead) limit() *checks.Limit {
	if g.Threshold != nil {
		return checks.AtMost(math.Min(float64(*g.Threshold), g.thresholdMost()), "plan")
	}
	return checks.AtMost(usualThreshold, "common practice")
}

func (g *proveDead) window() *checks.Limit {
	if g.Window != nil {
		return checks.AtMost(math.Min(float64(*g.Window)/60, windowMost), "plan")
	}
	return checks.AtMost(usualWindow, "our choice")
}

// proofShare is the least share of the volts to earth of the system that a proof
// shows (our choice).
const proofShare = 0.8

// proofLeast are the least volts that a proof shows: that share, and more than a dead
// point may.
func (g *proveDead) proofLeast() float64 {
	return math.Max(proofShare*float64(g.System)/math.Sqrt(3), g.limit().High)
}

func (g *proveDead) wanted() string {
	if g.lamp() {
		return seenNotLive
	}
	return g.limit().Text("V")
}

// deadPoints are the points to prove: each conductor to earth, then each pair.
// Three conductors and earth make 6 points, with a neutral 10.
func deadPoints(in checks.Input, g *proveDead) []checks.Field {
	c, n := in.Plan.Conductors()
	var out []checks.Field
	add := func(row, key, label string) {
		f := checks.Field{Key: key, Label: label, Row: row, Need: true}
		if g.lamp() {
			f.Sort, f.Options, f.Example = checks.Choice, []string{seenNotLive, seenLive}, seenNotLive
			f.Hint = "if in doubt, record \"live\""
		} else {
			most := g.limit().High
			f.Sort, f.Unit, f.Meter, f.Bounds, f.Example = checks.Measured, "V", "tester", true, "0.4"
			f.Expect = &checks.Expect{Value: 0, Low: 0, High: most, Source: g.limit().Source}
			f.Wanted = "dead; above " + quantity.Spell(most, "V") + " stop"
		}
		out = append(out, f)
	}
	if isYes(g.Earth) {
		for i, key := range []string{"l1e", "l2e", "l3e"} {
			add("earth", key, c[i]+"-E")
		}
		if g.Neutral {
			add("earth", "ne", n+"-E")
		}
	}
	if isYes(g.Pairs) {
		for i, key := range lineKeys {
			add("line", key, c[i]+"-"+c[(i+1)%3])
		}
		for i, key := range phaseKeys {
			if g.Neutral {
				add("phase", key, c[i]+"-"+n)
			}
		}
	}
	return out
}

func proveDeadForm(in checks.Input, g *proveDead) []checks.Field {
	proof := func(key, when string) []checks.Field {
		out := []checks.Field{{Key: key, Label: "proof " + when + ", on the source", Sort: checks.Choice, Options: []string{seenLive, seenNotLive}, Need: true, Row: key,
			Hint: "what the tester shows on the proving source, not its self-test", Example: seenLive},
			{Key: key + "_at", Label: "proof " + when + ", time", Sort: checks.Instant, Need: true, Row: key, Example: "14:05"}}
		if !g.lamp() {
			out = append(out, checks.Field{Key: key + "_volts", Label: "proof " + when + ", volts", Sort: checks.Measured, Unit: "V", Row: key, Meter: "tester", Example: "240"})
		}
		return out
	}
	out := []checks.Field{
		{Key: "tester", Label: "voltage tester", Sort: checks.MeterUsed, Need: true, Default: planned(in.Check, g.Tester), Hint: "the tester in your hand, by its id in the plan", Example: "tester-1"},
		{Key: "source", Label: "proving source", Sort: checks.MeterUsed, Need: true, Default: g.Source, Hint: "the proving unit or known live point, by its id in the plan", Example: "source-1"},
	}
	out = append(out, proof("before", "before")...)
	out = append(out, deadPoints(in, g)...)
	out = append(out, checks.Field{Key: "points_at", Label: "time the last point was tested", Sort: checks.Instant, Need: true, Example: "14:10"})
	return append(out, proof("after", "after")...)
}

// predictProveDead lists the points, and says what the plan leaves open of the
// proving source.
func predictProveDead(p *plan.Plan, c *plan.Check, g *proveDead) []plan.Prediction {
	points := deadPoints(checks.Input{Plan: p, Check: c}, g)
	labels := make([]string, len(points))
	for i, f := range points {
		labels[i] = f.Label
	}
	out := []plan.Prediction{{Name: "points to prove", Source: g.limit().Source,
		Text: fmt.Sprintf("%d: %s, each %s", len(points), strings.Join(labels, ", "), g.wanted())}}
	if why := g.uncategorised(p.Meter(planned(c, g.Tester))); !why.None() {
		out = append(out, plan.Prediction{Name: "tester", Text: why.Text, Source: "IEC 61010-1", Warn: true})
	}
	source := p.Meter(g.Source)
	if !source.Proves() {
		out = append(out, plan.Prediction{Name: "proving source", Source: "plan",
			Text: fmt.Sprintf("nothing says that %s is a proving unit or a known live point: give its sort", source.Name)})
	} else if low, high := source.Reach(); math.IsNaN(low) && math.IsNaN(high) {
		out = append(out, plan.Prediction{Name: "proving source", Source: "plan",
			Text: fmt.Sprintf("%s states no volts: look that it reaches %s, or give rated_to", source.Name, quantity.Spell(float64(g.System), "V"))})
	}
	return out
}
