package kinds

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"handback/checks"
	"handback/checks/calc"
	"handback/checks/plan"
)

// putOn is what a put-on check is given: the first half of what restore takes off.
type putOn struct {
	Things []putThing    `plan:"things" doc:"what is put on for the work, each with a number of its own"`
	Opened []openedThing `plan:"opened" doc:"what is opened for the tests and must be remade, such as the LV neutral-earth link, surge arresters, voltage transformers, electronics"`
	Proof  string        `plan:"proof" ref:"prove-dead" doc:"id of the prove-dead check after which the earths go on"`
}

// putThing is one thing that is put on and comes off by its number.
type putThing struct {
	ID       string `plan:"id,need" doc:"short name used in answers"`
	Sort     string `plan:"sort,need" one:"earth|lock|tag|link|tool" doc:"what it is; a link is temporary, as are leads and jumpers"`
	Name     string `plan:"name,need" doc:"what it is called, such as circuit main earth"`
	Where    string `plan:"where" doc:"where it goes; asked when not given"`
	Number   string `plan:"number" doc:"the number it should carry, where the plan knows it"`
	Optional bool   `plan:"optional" doc:"yes for one that may be put on beside the others, and is left blank when it was not"`
}

// openedThing is a connection that is opened for the tests.
type openedThing struct {
	ID   string `plan:"id,need" doc:"short name used in answers"`
	Name string `plan:"name,need" doc:"what is opened, such as LV neutral-earth link"`
}

// The sorts of things, and which of them keep the plant dead: those come off once the
// permit is cancelled, the others before it is cleared.
const (
	sortEarth = "earth"
	sortLock  = "lock"
	sortTag   = "tag"
)

func (t putThing) secures() bool {
	return slices.Contains([]string{sortEarth, sortLock, sortTag}, t.Sort)
}

// maxThings is as many as one look counts and one comparison of all with all holds (our
// choice).
const maxThings = 60

var _ = checks.Define(checks.Spec[putOn]{
	About: plan.About{
		Name: "put-on", Title: "Put on for the work", Group: "Dead checks", Anywhere: true, PutsOn: true,
		Cautions: []string{
			"Isolate and lock first, then prove dead, then earth at once: earths go on only where the conductors were just proved dead, by the person and in the order that the permit or the switching programme names.",
			"A portable earth is connected to earth first and to the conductors after that, with the insulated stick the local rules ask for. It comes off the other way round.",
			"Read each number off the thing itself, at its place, and never off the plan.",
		},
		Sources: []string{"what is put on: the plan, the switching programme and the permit", "isolate, secure, prove dead, earth, in this order: the five rules of EN 50110-1"},
	},
	Validate: validatePutOn,
	Predict: func(_ *plan.Plan, _ *plan.Check, g *putOn) []plan.Prediction {
		var out []plan.Prediction
		for _, sort := range []string{sortEarth, sortLock, sortTag, "link", "tool"} {
			n, spare := 0, 0
			for _, t := range g.Things {
				switch {
				case t.Sort == sort && t.Optional:
					spare++
				case t.Sort == sort:
					n++
				}
			}
			if text := fmt.Sprintf("%d, each by its number", n); n+spare > 0 {
				if spare > 0 {
					text += fmt.Sprintf("; %d more where needed", spare)
				}
				out = append(out, plan.Prediction{Name: sort, Text: text, Source: "plan"})
			}
		}
		for _, o := range g.Opened {
			out = append(out, plan.Prediction{Name: o.Name, Text: "opened for the tests, remade after them with a second person", Source: "plan"})
		}
		return out
	},
	Form:   putOnForm,
	Doubts: doubtPutOn,
	Judge:  judgePutOn,
})

func validatePutOn(p *plan.Plan, _ *plan.Check, g *putOn, say plan.Say) {
	if len(g.Things)+len(g.Opened) == 0 {
		say("things", "nothing is put on or opened: at least one is wanted")
	}
	if n := len(g.Things); n > maxThings {
		say("things", "%d things: %d at most; give more in a check of their own", n, maxThings)
	}
	needIDs("things", plan.IDsOf(g.Things, func(t putThing) string { return t.ID }), say)
	for i, o := range g.Opened {
		if slices.ContainsFunc(g.Things, func(t putThing) bool { return t.ID == o.ID }) {
			say(fmt.Sprintf("opened[%d].id", i+1), "%q stands twice: ids stand once", o.ID)
		}
	}
	needIDs("opened", plan.IDsOf(g.Opened, func(o openedThing) string { return o.ID }), say)
	needTwoPeople(p, "opened", len(g.Opened) > 0, say)
	seen := map[string]bool{}
	for i, t := range g.Things {
		if key := t.Sort + " " + t.Number; t.Number != "" {
			if seen[key] {
				say(fmt.Sprintf("things[%d].number", i+1), "%s %q stands twice: a number tells one from the others", t.Sort, t.Number)
			}
			seen[key] = true
		}
	}
}

// The keys of a thing's fields, as it is put on and as it is taken off.
func (t putThing) number() string  { return fieldKey(t.ID, "no") }
func (t putThing) place() string   { return fieldKey(t.ID, "where") }
func (t putThing) by() string      { return fieldKey(t.ID, "by") }
func (t putThing) at() string      { return fieldKey(t.ID, "at") }
func (t putThing) off() string     { return fieldKey(t.ID, "off") }
func (t putThing) offBy() string   { return fieldKey(t.ID, "off_by") }
func (t putThing) offAt() string   { return fieldKey(t.ID, "off_at") }
func (o openedThing) by() string   { return fieldKey(o.ID, "by") }
func (o openedThing) at() string   { return fieldKey(o.ID, "at") }
func (o openedThing) made() string { return fieldKey(o.ID, "remade") }

// called is a thing with its place: the planned one, else the one that was typed.
func (t putThing) called(a checks.Answers) string {
	if where := cmp.Or(t.Where, a[t.place()].Word); where != "" {
		return t.Name + ", " + where
	}
	return t.Name
}

func putOnForm(in checks.Input, g *putOn) []checks.Field {
	var out []checks.Field
	for _, t := range g.Things {
		name, hint, example := t.called(nil), "the number on the "+t.Sort+" itself", "14"
		if t.Number != "" {
			hint, example = hint+"; planned "+t.Number, t.Number
		}
		if t.Optional {
			hint += "; left blank when there is none"
		}
		_, on := in.Answers[t.number()]
		need := !t.Optional || on
		out = append(out, checks.Field{Key: t.number(), Label: name + ", number", Sort: checks.Words, Need: !t.Optional, Row: t.ID, Hint: hint, Example: example})
		if t.Where == "" {
			out = append(out, checks.Field{Key: t.place(), Label: name + ", where", Sort: checks.Words, Need: need, Row: t.ID, Known: !need, Example: "feeder 2, cable side"})
		}
		out = append(out,
			checks.Field{Key: t.by(), Label: name + ", put on by", Sort: checks.Initials, Need: need, Row: t.ID, Known: !need, Example: "ada"},
			checks.Field{Key: t.at(), Label: name + ", put on at", Sort: checks.Instant, Need: need, Row: t.ID, Known: !need, Example: "09:05"})
	}
	for _, o := range g.Opened {
		out = append(out,
			checks.Field{Key: o.by(), Label: o.Name + ", opened by", Sort: checks.Initials, Need: true, Row: o.ID, Hint: "opened for the tests; it is remade with a second person before anything is made live", Example: "ada"},
			checks.Field{Key: o.at(), Label: o.Name + ", opened at", Sort: checks.Instant, Need: true, Row: o.ID, Example: "09:20"})
	}
	return out
}

// doubtPutOn names numbers other than the planned ones, and times to come.
func doubtPutOn(in checks.Input, g *putOn) []checks.Doubt {
	var times []string
	var out []checks.Doubt
	for _, t := range g.Things {
		times = append(times, t.at())
		if no, ok := in.Answers[t.number()]; ok && t.Number != "" && !calc.SameWord(no.Word, t.Number) {
			out = append(out, checks.Doubt{Fields: []string{t.number()}, Said: checks.Say("number-not-planned",
				checks.Word("thing", t.called(in.Answers)), checks.Word("number", no.Word), checks.Word("planned", t.Number))})
		}
	}
	for _, o := range g.Opened {
		times = append(times, o.at())
	}
	return append(out, checks.DoubtInstants(in, times...)...)
}

// judgePutOn passes when everything planned was put on, each by a number that no other
// of its sort carries, and each earth after the proof of dead and within its life.
func judgePutOn(w *checks.Work, g *putOn) {
	for i, t := range g.Things {
		if !w.Has(t.number()) {
			continue
		}
		complete := w.Has(t.by(), t.at()) && (t.Where != "" || w.Has(t.place()))
		var others []string
		for j, u := range g.Things {
			if j != i && u.Sort == t.Sort && w.Has(u.number()) {
				others = append(others, u.number())
			}
		}
		args := []checks.Arg{checks.Word("thing", t.called(w.Answers)), checks.Word("sort", t.Sort), checks.Word("number", w.Word(t.number()))}
		alone := checks.WordAlone(t.number(), others...)
		switch {
		case !w.Passes(alone):
			w.Want(alone, "number-twice", args...)
		case complete:
			w.Want(alone, "put-on", append(args, checks.Word("by", w.Word(t.by())), checks.At("at", w.Answers[t.at()].Time()))...)
		}
	}
	for _, o := range g.Opened {
		if w.Has(o.by(), o.at()) {
			w.Say(checks.Pass, o.by(), "opened", checks.Word("item", o.Name), checks.Word("by", w.Word(o.by())), checks.At("at", w.Answers[o.at()].Time()))
		}
	}
	judgeEarthed(w, g)
}

// judgeEarthed holds the time of each earth against that of the proof of dead.
func judgeEarthed(w *checks.Work, g *putOn) {
	if g.Proof == "" {
		return
	}
	past := w.Came(g.Proof)
	proof := w.Plan.Check(g.Proof)
	if !past.Taken() || !past.At.After(w.At) && past.Finding.Verdict != checks.Pass {
		w.Say(checks.Missing, "", "not-proved", checks.Word("check", g.Proof), checks.Word("title", proof.Title))
		return
	}
	if past.At.After(w.At) { // proved anew since: the earths followed an earlier proof
		w.Caution("proved-again", checks.Word("check", g.Proof), checks.Word("title", proof.Title), checks.At("at", past.At))
		return
	}
	proved := past.Answers["after_at"].Time()
	for _, t := range g.Things {
		if t.Sort != sortEarth || !w.Has(t.number(), t.at()) {
			continue
		}
		took := w.Answers[t.at()].Time().Sub(proved)
		name := "time from the proof of dead to " + t.called(w.Answers)
		limit := checks.AtLeast(0, "EN 50110-1")
		if life := proof.LifeOf(); life > 0 {
			limit = checks.Between(0, life.Minutes(), "EN 50110-1, the life of the proof")
		}
		w.HoldField(t.at(), fieldKey(t.ID, "after_proof"), name, "min", minutes(name, took), limit)
	}
}

// minutes is a time as a datum of a computation.
func minutes(name string, took time.Duration) *calc.Expr {
	return calc.Datum(name, took.Minutes(), "min")
}
