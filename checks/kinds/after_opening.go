package kinds

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"handback/checks"
	"handback/checks/calc"
	"handback/checks/plan"
	"handback/checks/quantity"
)

// afterOpening is what an after-opening check is given.
type afterOpening struct {
	Sections  []openedSection   `plan:"sections,need" doc:"the sections of the board, each with the incomers that feed it now"`
	After     *quantity.Percent `plan:"after_limit,pos" doc:"most an incomer may carry, of its rated current; 100 % when not given"`
	ShareFrom string            `plan:"share_from" ref:"load-share" doc:"id of the load-share check that predicted the currents; shown beside those read"`
	Clamp     string            `plan:"clamp" ref:"instrument" doc:"id of the instrument planned for the currents; the check's own when not given"`
}

// openedSection is a section of the board that stands alone now.
type openedSection struct {
	ID       string   `plan:"id,need" doc:"name of the section, such as A"`
	Incomers []string `plan:"incomers,need" ref:"incomer" doc:"ids of the transformers or other incomers that feed it"`
	Board    string   `plan:"board" ref:"board" doc:"the board whose nominal volts the band is drawn around"`
	Band     *Band    `plan:"band,need" doc:"band of the line-to-line volts"`
}

// foretoldSlack is how far from the foretold current a reading is still expected:
// loads come and go while a coupler is opened (our choice; shown, not judged).
const foretoldSlack = 0.10

var _ = checks.Define(checks.Spec[afterOpening]{
	About: plan.About{
		Name: "after-opening", Title: "Both sections after the coupler opened", Group: "Live checks", Live: true,
		Cautions: []string{liveCaution,
			"If a section is dead, touch nothing and close nothing to bring it back: tell the person who controls the station."},
		Sources: []string{"bands: IEC 60038, GB statute, ANSI C84.1 or the plan", "currents: the rating, or the plan"},
	},
	Validate: validateAfterOpening,
	Predict: func(p *plan.Plan, c *plan.Check, g *afterOpening) []plan.Prediction {
		var out []plan.Prediction
		for _, s := range g.Sections {
			l := s.Band.limit(nominal(checks.Input{Plan: p}, s.Board))
			out = append(out, plan.Prediction{Name: "volts of section " + s.ID, Text: l.Text("V"), Source: l.Source})
			for _, id := range s.Incomers {
				l := afterLimit(g.After, p.Rated(id))
				out = append(out, plan.Prediction{Name: "current of " + id, Text: l.Text("A"), Source: l.Source})
			}
		}
		return out
	},
	Form:   formAfterOpening,
	Doubts: doubtAfterOpening,
	Judge:  judgeAfterOpening,
})

func validateAfterOpening(p *plan.Plan, c *plan.Check, g *afterOpening, say plan.Say) {
	keys := map[string]string{"coupler": "the coupler"}
	once := func(at, key, name string) {
		if first, ok := keys[key]; ok {
			say(at, "%q is asked for under the same key as %s: name each once, apart by more than capitals", name, first)
		}
		keys[key] = name
	}
	if len(g.Sections) < 2 {
		say("sections", "%d given: the sections on both sides of the coupler are wanted", len(g.Sections))
	}
	for n, s := range g.Sections {
		at := func(key string) string { return fmt.Sprintf("sections[%d].%s", n+1, key) }
		if !plan.IDShape(strings.ToLower(s.ID)) {
			say(at("id"), "%q: letters, digits and hyphens are accepted, 40 at most", s.ID)
		}
		once(at("id"), s.key(), s.ID)
		if len(s.Incomers) == 0 {
			say(at("incomers"), "none: a section is fed by at least one incomer")
		}
		for i, id := range s.Incomers {
			key := fmt.Sprintf("incomers[%d]", i+1)
			once(at(key), keyOf(id), id)
		}
		s.Band.validate(at("band"), say)
		if s.Board == "" && s.Band != nil && s.Band.Standard != "" {
			say(at("board"), "missing: a published band is drawn around a board's nominal volts")
		}
	}
	needForetold(p, g, say)
}

// needForetold demands that the load-share check is one of the same incomers.
func needForetold(p *plan.Plan, g *afterOpening, say plan.Say) {
	d := p.Check(g.ShareFrom)
	if d == nil || d.Kind.Name != "load-share" {
		return
	}
	known := plan.IDsOf(d.Given.(*loadShare).Incomers, incomer.id)
	for _, s := range g.Sections {
		for _, id := range s.Incomers {
			if !slices.Contains(known, id) {
				say("share_from", "check %s predicts %s, not %s", g.ShareFrom, strings.Join(known, ", "), id)
			}
		}
	}
}

// key begins the field keys of a section's volts.
func (s openedSection) key() string { return "section_" + keyOf(s.ID) }

func formAfterOpening(in checks.Input, g *afterOpening) []checks.Field {
	state := func(key, label string) checks.Field {
		return checks.Field{Key: key, Label: label, Sort: checks.Choice, Options: checks.YesNo, Need: true, Row: "states", Example: "yes"}
	}
	out := []checks.Field{state("coupler_open", "coupler open")}
	for _, s := range g.Sections {
		for _, id := range s.Incomers {
			out = append(out, state(keyOf(id)+"_closed", "incomer "+id+" closed"))
		}
	}
	out = append(out, meterField(in))
	out[len(out)-1].Label = "instrument for volts"
	for _, s := range g.Sections {
		out = append(out, lineVolts(in, s.key()+"_", "section "+s.ID+" ", true, nil)...)
	}
	clamp := meterField(in)
	clamp.Key, clamp.Label, clamp.Default = "clamp", "instrument for currents", planned(in.Check, g.Clamp)
	out = append(out, clamp)
	lines, _ := in.Plan.Conductors()
	for _, s := range g.Sections {
		for _, id := range s.Incomers {
			for i, line := range lines {
				out = append(out, checks.Field{Key: fmt.Sprintf("%s_i%d", keyOf(id), i+1), Label: id + " " + line, Sort: checks.Measured, Unit: "A", Need: true,
					Row: keyOf(id), Meter: "clamp", Example: []string{"522", "514", "515"}[i], Expect: foretold(in, g, id, i+1)})
			}
		}
	}
	return out
}

// foretold is what the load-share check said an incomer would carry on phase k
// from 1, nil when it did not.
func foretold(in checks.Input, g *afterOpening, id string, k int) *checks.Expect {
	d, ok := in.Came(g.ShareFrom).Finding.Value(fmt.Sprintf("after_%s_l%d", keyOf(id), k))
	if !ok || math.IsNaN(d.Value) {
		return nil
	}
	return &checks.Expect{Value: d.Value, Low: d.Value * (1 - foretoldSlack), High: d.Value * (1 + foretoldSlack), Source: in.Plan.Check(g.ShareFrom).Title + ", loads as they were"}
}

// doubtAfterOpening names readings that cannot be right.
func doubtAfterOpening(in checks.Input, g *afterOpening) []checks.Doubt {
	var out []checks.Doubt
	var boards, incomers, prefixes []string
	for _, s := range g.Sections {
		boards, incomers, prefixes = append(boards, s.Board), append(incomers, s.Incomers...), append(prefixes, s.key()+"_")
		out = append(out, doubtVolts(in, s.key()+"_")...)
		for _, id := range s.Incomers {
			key := keyOf(id)
			out = append(out, doubtFlow(in, key, id)...)
			out = append(out, doubtAmps(in, in.Plan.Rated(id), withPrefix(key, ampKeys)...)...)
			if in.Answers[key+"_closed"].Word == "no" {
				continue
			}
			expected, known := foretoldAmps(in, g, id)
			if !known {
				out = append(out, doubtLonePhase(in, key, atTransformer(id), alike, nothingShare)...)
				continue
			}
			out = append(out, doubtLonePhase(in, key, atTransformer(id), expected, loneShare)...)
			out = append(out, doubtUnfed(in, g, s, id, expected)...)
		}
	}
	return append(out, checks.NotYetDoubted(doubtLive(in, levels(in, boards, incomers), sidesOf(lineKeys, prefixes...), nil), out)...)
}

// foretoldAmps are the three currents that the load-share check foretold; ok is false
// where it did not, or foretold next to nothing of the rating on a phase: a small
// difference of two readings foretells little.
func foretoldAmps(in checks.Input, g *afterOpening, id string) (amps [3]float64, ok bool) {
	t := in.Plan.Rated(id)
	for k := range amps {
		e := foretold(in, g, id, k+1)
		if e == nil || t == nil || !(e.Value >= nothingShare*ratedAmps(t).Eval(nil)) {
			return amps, false
		}
		amps[k] = e.Value
	}
	return amps, true
}

// doubtUnfed names an incomer that carries nothing on any conductor where a real load
// was foretold: the section stands live all the same, so something else may feed it.
func doubtUnfed(in checks.Input, g *afterOpening, s openedSection, id string, expected [3]float64) []checks.Doubt {
	amps, ok := three(in, keyOf(id), ampKeys)
	if !ok {
		return nil
	}
	for k, x := range amps {
		if !(x < nothingShare*expected[k]) {
			return nil
		}
	}
	return []checks.Doubt{{Fields: withPrefix(keyOf(id), ampKeys), Said: checks.Say("foretold-load-missing", checks.Word("incomer", id), checks.Num("most", slices.Max(amps[:]), "A"),
		checks.Word("check", g.ShareFrom), checks.Num("foretold", slices.Max(expected[:]), "A"), checks.Word("section", s.ID))}}
}

// judgeAfterOpening passes when the coupler is open, every incomer closed, the
// line-to-line volts of every section inside their band and no incomer above
// its limit:
//
//	low ≤ U ≤ high      I ≤ p·S/(√3·U_lv)/100
//
//	U        volts between the conductors of a section      V
//	I        current of an incomer, each phase              A
//	S, U_lv  rating and rated volts of the incomer          VA, V
//	p        after_limit of the plan, 100 % when not given
//
// Limits include their own value. A section of which no two conductors stand at a
// fifth of its nominal volts (of its band's low side where no board is given) is
// dead: a stop that names it. Shown beside each current: read less foretold by the
// load-share check.
//
// Doubted: a phase under 5 % of the largest of its incomer, or, where currents were
// foretold, one that carries less than a third of what the others say; and an incomer
// that carries under 5 % of what was foretold on every phase.
func judgeAfterOpening(w *checks.Work, g *afterOpening) {
	apart := checks.WordIs("coupler_open", "yes")
	switch w.Word("coupler_open") {
	case "yes":
		w.Want(apart, "coupler-open")
	case "no":
		w.Want(apart, "coupler-closed")
	}
	for _, s := range g.Sections {
		openedStates(w, s)
		openedVolts(w, s)
		for _, id := range s.Incomers {
			openedAmps(w, g, id)
		}
	}
}

// openedStates says which incomers of a section are closed.
func openedStates(w *checks.Work, s openedSection) {
	for _, id := range s.Incomers {
		closed := checks.WordIs(keyOf(id)+"_closed", "yes")
		switch w.Word(closed.Fields[0]) {
		case "yes":
			w.Want(closed, "incomer-closed", checks.Word("incomer", id))
		case "no":
			w.Want(closed, "incomer-open", checks.Word("incomer", id), checks.Word("section", s.ID))
		}
	}
}

// openedVolts holds the volts of a section and stops on a dead one.
func openedVolts(w *checks.Work, s openedSection) {
	nominal := nominal(w.Input, s.Board)
	band := s.Band.limit(nominal)
	for _, k := range lineKeys {
		u := w.Read(s.key() + "_" + k)
		w.HoldField(u.Key(), "band_"+u.Key(), u.Label(), "V", u, band)
	}
	u, ok := three(w.Input, s.key()+"_", lineKeys)
	reference := nominal
	for _, x := range []float64{band.Low, band.High} {
		if math.IsNaN(reference) {
			reference = x
		}
	}
	if most := slices.Max(u[:]); ok && slices.Min(u[:]) >= 0 && most < deadShare*reference {
		w.Stop("section-dead", checks.Word("section", s.ID), checks.Num("most", most, "V"), checks.WordList("incomers", s.Incomers...))
		w.Follows(withPrefix(s.key()+"_", lineKeys)...)
	}
}

// openedAmps holds the currents of an incomer.
func openedAmps(w *checks.Work, g *afterOpening, id string) {
	limit := afterLimit(g.After, w.Plan.Rated(id))
	for k := 1; k <= 3; k++ {
		i := amps(w, keyOf(id), k)
		w.HoldField(i.Key(), "current_"+i.Key(), i.Label(), "A", i, limit)
		if e := foretold(w.Input, g, id, k); e != nil {
			w.Show("foretold_"+i.Key(), i.Label()+", difference read − predicted", "A", i.Sub(calc.Datum("foretold", e.Value, "A")))
		}
	}
}
