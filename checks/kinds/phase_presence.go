package kinds

import (
	"fmt"
	"math"
	"slices"

	"handback/checks"
	"handback/checks/plan"
	"handback/checks/quantity"
)

// phasePresence is what a phase-presence check is given.
type phasePresence struct {
	By      string            `plan:"by,need" one:"lamp|volts" doc:"how presence is told: an indicator lamp each phase, or volts to neutral"`
	Share   *quantity.Percent `plan:"share,pos" doc:"minimum line-to-neutral volts as share of nominal that count as present, such as 90 %; wanted by volts"`
	Board   string            `plan:"board" ref:"board" doc:"the board whose nominal volts the share is taken of; by volts, this or nominal"`
	Nominal *quantity.Volt    `plan:"nominal,pos" doc:"nominal line-to-line volts the share is taken of; by volts, this or board"`
}

// lampStates are what an indicator can show; each is told by its first letter.
var lampStates = []string{"lit", "not lit", "unclear"}

// fixedProofs stand for the proof on a known live source that an indicator fixed on
// the plant cannot have: it has no source until the plant is energised.
var fixedProofs = []string{"seen lit before isolation", "lamp test", "second indication"}

var lampKeys = [3]string{"l1", "l2", "l3"}

var _ = checks.Define(checks.Spec[phasePresence]{
	About: plan.About{
		Name: "phase-presence", Title: "Phase presence", Group: "Live checks", Live: true,
		Joins:    true,
		Cautions: []string{liveCaution, "An unlit indicator or a voltmeter at zero is never proof of dead."},
		Sources:  []string{"share of nominal: the plan", "highest volts that count as present 120 % of nominal: our choice", "indicator proved first: common practice"},
	},
	Validate: validatePresence,
	Predict: func(p *plan.Plan, c *plan.Check, g *phasePresence) []plan.Prediction {
		if g.By != "volts" {
			return []plan.Prediction{{Name: "indicators", Text: "all three lit", Source: "plan"}}
		}
		in := checks.Input{Plan: p, Check: c}
		l, most := g.limit(in), g.most(in)
		return []plan.Prediction{{Name: "line-to-neutral volts", Text: l.Text("V"), Source: l.Source}, {Name: "line-to-neutral volts", Text: most.Text("V"), Source: most.Source}}
	},
	Form: func(in checks.Input, g *phasePresence) []checks.Field {
		if g.By == "volts" {
			return append([]checks.Field{meterField(in)}, phaseVolts(in, "", "", true, g.expect(in))...)
		}
		c, _ := in.Plan.Conductors()
		var out []checks.Field
		if in.Check.Meter != "" {
			out = append(out, meterField(in))
		}
		proved := checks.Field{Key: "proved", Label: "indicator proved on a known live source first", Sort: checks.Choice, Options: checks.YesNo, Need: true, Example: "yes",
			Hint: "every lamp that is read must be seen lit first"}
		if in.Check.Meter == "" {
			proved.Label, proved.Options = "indicator proved first", append(slices.Clone(checks.YesNo), fixedProofs...)
			proved.Hint = "yes: every lamp that is read was seen lit on a known live source"
		}
		out = append(out, proved)
		for i, k := range lampKeys {
			out = append(out, checks.Field{Key: k, Label: c[i] + " indicator", Sort: checks.Choice, Options: lampStates, Need: true, Row: "lamps", Example: "lit"})
		}
		return out
	},
	Doubts: doubtPresence,
	Judge:  judgePresence,
})

func validatePresence(p *plan.Plan, c *plan.Check, g *phasePresence, say plan.Say) {
	switch {
	case g.By == "lamp":
		if g.Share != nil || g.Board != "" || g.Nominal != nil {
			say("by", "share, board and nominal belong to volts: a lamp has none")
		}
	case g.Share == nil:
		say("share", "missing: the share of nominal volts that counts as present, such as 90 %%")
	case *g.Share > 100:
		say("share", "%v %%: at most 100 %% of nominal is accepted", float64(*g.Share))
	case g.Board == "" && g.Nominal == nil:
		say("board", "missing: name the board, or give nominal volts")
	case g.Board != "" && g.Nominal != nil:
		say("nominal", "give board or nominal, not both")
	}
}

// toNeutral is the nominal line-to-neutral volts, NaN when the plan gives none.
func (g *phasePresence) toNeutral(in checks.Input) float64 {
	if g.Nominal != nil {
		return float64(*g.Nominal) / math.Sqrt(3)
	}
	return nominal(in, g.Board) / math.Sqrt(3)
}

func (g *phasePresence) limit(in checks.Input) *checks.Limit {
	return checks.AtLeast(quantity.OrNaN(g.Share)/100*g.toNeutral(in), fmt.Sprintf("plan, %s %% of nominal %s", quantity.Significant(quantity.OrNaN(g.Share), 4), quantity.Spell(g.toNeutral(in), "V")))
}

// most are the volts to neutral above which a phase is not simply present: a conductor
// whose neutral is lost reads up to line-to-line volts.
func (g *phasePresence) most(in checks.Input) *checks.Limit {
	return checks.AtMost(overShare*g.toNeutral(in), "120 % of nominal, our choice")
}

func (g *phasePresence) expect(in checks.Input) *checks.Expect {
	return &checks.Expect{Value: g.toNeutral(in), Low: g.limit(in).Low, High: g.most(in).High, Source: "nominal volts"}
}

// aboveNominal is how many times nominal volts to neutral may read before a
// slipped digit is suspected. A lost neutral gives up to √3 times (our choice).
const aboveNominal = 2

// doubtPresence names volts that cannot be right. Volts under the plan's share are no
// doubt: a phase that is out reads anything from nothing to what its neighbours induce.
func doubtPresence(in checks.Input, g *phasePresence) []checks.Doubt {
	if g.By != "volts" {
		return nil
	}
	out := belowZero(in, "", phaseKeys)
	for _, k := range phaseKeys {
		a, ok := in.Answers[k]
		if ok && a.Value > aboveNominal*g.toNeutral(in) {
			out = append(out, checks.Doubt{Fields: []string{k}, Said: checks.Say("many-times-nominal", checks.Num("read", a.Value, "V"), checks.Num("nominal", g.toNeutral(in), "V"))})
		}
		if ok && a.Value >= g.limit(in).Low && quantity.Below(a.Value, liveShare*g.toNeutral(in)) {
			out = append(out, checks.Doubt{Fields: []string{k}, Said: checks.Say("share-below-live", checks.Num("read", a.Value, "V"), checks.Inner("level", shareOf(liveShare, g.toNeutral(in))))})
		}
	}
	return out
}

// judgePresence passes when all three phases are present: each indicator lit, or
// each line-to-neutral reading U at least the plan's share of nominal and not so far
// above it that a neutral is lost or the plant another:
//
//	share/100 · Un/√3 ≤ U ≤ 1.2 · Un/√3      (1.2: our choice)
//
//	U   line-to-neutral volts            V
//	Un  nominal line-to-line volts       V
//
// the limits themselves count as present. An indicator not proved first makes the
// check void; an unclear one is inconclusive. One fixed on the plant may be proved by
// what stands in fixedProofs. A phase that is out for certain stops the work.
func judgePresence(w *checks.Work, g *phasePresence) {
	c, _ := w.Plan.Conductors()
	var out, fields []string
	if g.By == "volts" {
		out, fields = presentVolts(w, g)
	} else {
		proved := checks.WordIs("proved", append([]string{"yes"}, fixedProofs...)...).Or(checks.Void, "no")
		switch how := w.Word("proved"); how {
		case "", "yes":
		case "no":
			w.Want(proved, "indicator-not-proved")
		default:
			w.Want(proved, "indicator-fixed", checks.Word("how", how))
		}
		for i, k := range lampKeys {
			lit := checks.WordIs(k, "lit").Or(checks.Inconclusive, "unclear")
			switch w.Word(k) {
			case "lit":
				w.Want(lit, "phase-lit", checks.Word("conductor", c[i]))
			case "not lit":
				w.Want(lit, "phase-not-lit", checks.Word("conductor", c[i]))
				out, fields = append(out, c[i]), append(fields, k)
			case "unclear":
				w.Want(lit, "phase-unclear", checks.Word("conductor", c[i]))
			}
		}
	}
	if len(out) > 0 {
		missingPhases(w, g, out, fields)
	}
}

// presentVolts holds the volts to neutral of each conductor and names those that are
// out. Volts that are too high stop the work too: with a lost neutral they destroy
// what is connected to one phase.
func presentVolts(w *checks.Work, g *phasePresence) (out, fields []string) {
	c, _ := w.Plan.Conductors()
	var high, at []string
	for i, k := range phaseKeys {
		u := w.Read(k)
		if w.HoldField(k, "volts_"+k, u.Label(), "V", u, g.limit(w.Input)) == checks.Fail {
			out, fields = append(out, c[i]), append(fields, k)
			continue
		}
		if w.HoldField(k, "high_"+k, u.Label(), "V", u, g.most(w.Input)) == checks.Fail {
			high, at = append(high, c[i]), append(at, k)
		}
	}
	if len(high) > 0 && !slices.ContainsFunc(at, checks.Doubted(w.Doubts())) {
		w.Stop("volts-far-above-nominal", checks.WordList("conductors", high...))
		w.Follows(at...)
	}
	return out, fields
}

// missingPhases names the phases that are out, read in fields, with where to look, and
// stops: load on two phases burns motors, and closing on to the other side is a fault.
// An indicator that was not proved shows no phase out for certain, nor do volts that
// are in doubt or that live plant may stand at.
func missingPhases(w *checks.Work, g *phasePresence, out, fields []string) {
	why := checks.Say("phases-out", checks.WordList("conductors", out...))
	if len(out) == 3 {
		why = checks.Say("no-phase-present")
	}
	inDoubt := checks.Doubted(w.Doubts())
	dead := func(k string) bool {
		return g.By == "lamp" || w.Value(k) < liveShare*g.toNeutral(w.Input) && !inDoubt(k)
	}
	if w.Word("proved") == "no" || !slices.ContainsFunc(fields, dead) {
		w.SayOn(checks.Fail, fields, fields, why)
	} else {
		w.Stop("connect-no-load", checks.Inner("why", why))
	}
	w.Follows(fields...)
}
