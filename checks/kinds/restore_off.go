package kinds

import (
	"fmt"
	"slices"
	"time"

	"handback/checks"
	"handback/checks/calc"
	"handback/checks/plan"
)

// torqued is a connection that the work remade.
type torqued struct {
	Name   string `plan:"name,need" doc:"what was remade, such as HV delta links of T2"`
	Joints string `plan:"joints,need" ref:"joints" doc:"id of the joints check above that torqued it"`
}

// What became of a label or a drawing.
const (
	isChanged  = "changed"
	notChanged = "not changed"
)

func changedKey(i int) string { return fmt.Sprintf("c%d", i+1) }

// onThing is a thing with the check that it was put on in.
type onThing struct {
	putThing
	check string
	was   checks.Answers // of that check
}

// onNumber is the key of the number it was put on by, as of an earlier check.
func (t onThing) onNumber() string { return t.check + "/" + t.number() }

// onThings are the things that were to be put on, those that keep the plant dead or the
// others; all in the order of the plan.
func (g *restore) onThings(in checks.Input) []onThing {
	var out []onThing
	for _, id := range g.PutOn {
		for _, t := range in.Plan.Check(id).Given.(*putOn).Things {
			out = append(out, onThing{t, id, in.Came(id).Answers})
		}
	}
	return out
}

// openedThings are the connections to remade, each with the answers of its first half.
func (g *restore) openedThings(p *plan.Plan) (out []openedThing, of []string) {
	for _, id := range g.PutOn {
		for _, o := range p.Check(id).Given.(*putOn).Opened {
			out, of = append(out, o), append(of, id)
		}
	}
	return out, of
}

// validateTakenOff demands that what is taken off can be told apart.
func validateTakenOff(p *plan.Plan, g *restore, say plan.Say) {
	seen := map[string]bool{}
	for _, c := range g.Counted {
		seen[c.ID] = true
	}
	for i, id := range g.PutOn {
		c := p.Check(id)
		if c == nil {
			continue // already noted
		}
		put, ok := c.Given.(*putOn)
		if !ok || slices.Contains(g.PutOn[:i], id) {
			say(fmt.Sprintf("put_on[%d]", i+1), "%q stands twice: what is put on comes off once", id)
			continue
		}
		for _, thing := range append(plan.IDsOf(put.Things, func(t putThing) string { return t.ID }), plan.IDsOf(put.Opened, func(o openedThing) string { return o.ID })...) {
			if seen[thing] {
				say(fmt.Sprintf("put_on[%d]", i+1), "%q of check %s stands twice: ids stand once among all that is counted and taken off", thing, id)
			}
			seen[thing] = true
		}
	}
}

// wholly is what an earlier check came to; ok is false when it was not taken to its end.
func wholly(in checks.Input, check string) (past checks.Past, ok bool) {
	past = in.Came(check)
	return past, past.Taken() && past.Finding.Verdict != checks.Missing
}

// takenOffFields ask for each thing as it comes off: its number, by whom, at what time.
func takenOffFields(in checks.Input, g *restore, secures bool) []checks.Field {
	var out []checks.Field
	for _, t := range g.onThings(in) {
		if t.secures() != secures {
			continue
		}
		name, hint, example := t.called(t.was), "the number on the "+t.Sort+" in your hand", "14"
		no, on := t.was[t.number()]
		_, taken := wholly(in, t.check)
		if on {
			hint, example = hint+"; put on was "+no.Word, no.Word
		}
		_, off := in.Answers[t.off()]
		need := on || !taken && !t.Optional // what nobody put on is not asked for
		row := t.ID + "-off"
		out = append(out,
			checks.Field{Key: t.off(), Label: name + ", number taken off", Sort: checks.Words, Need: need, Known: !need, Row: row, Hint: hint, Example: example},
			checks.Field{Key: t.offBy(), Label: name + ", taken off by", Sort: checks.Initials, Need: need || off, Known: !need, Row: row, Example: "ada"},
			checks.Field{Key: t.offAt(), Label: name + ", taken off at", Sort: checks.Instant, Need: need || off, Known: !need, Row: row, Example: "16:20"})
	}
	return out
}

// The keys of what is asked of a connection that is remade, beside made.
func (o openedThing) remadeBy() string { return fieldKey(o.ID, "remade_by") }
func (o openedThing) second() string   { return fieldKey(o.ID, "second") }
func (o openedThing) remadeAt() string { return fieldKey(o.ID, "remade_at") }

func remadeThingFields(in checks.Input, g *restore) []checks.Field {
	var out []checks.Field
	opened, _ := g.openedThings(in.Plan)
	for _, o := range opened {
		row := o.ID + "-remade"
		out = append(out,
			checks.Field{Key: o.made(), Label: o.Name + ", remade", Sort: checks.Choice, Options: checks.YesNo, Need: true, Row: row, Hint: "closed or connected again and tight, seen at the place by both", Example: "yes"},
			checks.Field{Key: o.remadeBy(), Label: o.Name + ", remade by", Sort: checks.Initials, Need: true, Row: row, Example: "ada"},
			checks.Field{Key: o.second(), Label: o.Name + ", second person", Sort: checks.Initials, Need: true, Row: row, Example: "ben"},
			checks.Field{Key: o.remadeAt(), Label: o.Name + ", remade at", Sort: checks.Instant, Need: true, Row: row, Example: "15:40"})
	}
	return out
}

const (
	clearedAt   = "cleared_at"
	cancelledAt = "cancelled_at"
)

// permitTimes are asked where the times of what comes off are, too.
func (g *restore) permitTimes() []checks.Field {
	if len(g.PutOn) == 0 {
		return nil
	}
	return []checks.Field{
		{Key: clearedAt, Label: "permit cleared at", Sort: checks.Instant, Need: true, Row: "permit-times", Hint: "cleared by its holder: everyone and everything is off the plant; then cancelled by who issued it", Example: "16:00"},
		{Key: cancelledAt, Label: "permit cancelled at", Sort: checks.Instant, Need: true, Row: "permit-times", Example: "16:05"},
	}
}

// doubtTakenOff names times to come, and what came off before it was put on.
func doubtTakenOff(in checks.Input, g *restore) []checks.Doubt {
	times := []string{clearedAt, cancelledAt}
	var out []checks.Doubt
	apart := func(code, item, key string, first checks.Answer) {
		times = append(times, key)
		if from, to := first.Time(), in.Answers[key].Time(); !from.IsZero() && !to.IsZero() && to.Before(from) {
			out = append(out, checks.Doubt{Fields: []string{key}, Said: checks.Say(code, checks.Word("thing", item), checks.At("first", from), checks.At("then", to))})
		}
	}
	for _, t := range g.onThings(in) {
		apart("off-before-on", t.called(t.was), t.offAt(), t.was[t.at()])
	}
	opened, of := g.openedThings(in.Plan)
	for i, o := range opened {
		apart("remade-before-opened", o.Name, o.remadeAt(), in.Came(of[i]).Answers[o.at()])
	}
	return append(out, checks.DoubtInstants(in, times...)...)
}

// takeOff matches the numbers taken off with those put on, sort by sort.
func takeOff(w *checks.Work, g *restore, still func(field, code string, args ...checks.Arg)) {
	for _, id := range g.PutOn {
		if _, taken := wholly(w.Input, id); !taken {
			w.Say(checks.Missing, "", "put-on-not-taken", checks.Word("check", id), checks.Word("title", w.Plan.Check(id).Title))
		}
	}
	things := g.onThings(w.Input)
	for _, t := range things {
		if !w.Has(t.off()) {
			continue
		}
		offs, ons := []string{t.off()}, []string{}
		for _, u := range things {
			if u.Sort != t.Sort {
				continue
			}
			if u.ID != t.ID && w.Has(u.off()) {
				offs = append(offs, u.off())
			}
			if _, on := u.was[u.number()]; on {
				ons = append(ons, u.onNumber())
			}
		}
		typed := []checks.Arg{checks.Word("thing", t.called(t.was)), checks.Word("sort", t.Sort), checks.Word("number", w.Word(t.off()))}
		if was := checks.WordAmong(t.off(), ons...); !w.Passes(was) {
			w.Want(was, "never-put-on", typed...)
		}
		no, on := t.was[t.number()]
		if !on {
			continue
		}
		args := []checks.Arg{checks.Word("thing", t.called(t.was)), checks.Word("sort", t.Sort), checks.Word("number", no.Word)}
		held := checks.WordHeld(t.onNumber(), offs...)
		switch {
		case !w.Passes(held):
			w.Want(held, "still-on", args...)
			still(t.off(), "open-number", args...)
		case w.Has(t.offBy(), t.offAt()):
			w.Want(held, "taken-off", append(args, checks.Word("by", w.Word(t.offBy())), checks.At("at", w.Answers[t.offAt()].Time()))...)
		}
		if w.Passes(held) && !w.Passes(checks.SameWord(t.onNumber(), t.off())) {
			w.Caution("off-elsewhere", typed...)
		}
	}
}

// judgeThingsRemade demands that what was opened is remade, seen by two people.
func judgeThingsRemade(w *checks.Work, g *restore, still func(field, code string, args ...checks.Arg)) {
	opened, _ := g.openedThings(w.Plan)
	for _, o := range opened {
		item, made := checks.Word("item", o.Name), checks.WordIs(o.made(), "yes")
		switch {
		case w.Word(o.made()) == "no":
			w.Want(made, "not-remade", item)
			still(o.made(), "open-remade", item)
		case w.Has(o.made(), o.remadeBy(), o.second(), o.remadeAt()):
			w.Want(made, "remade", item, checks.Word("by", w.Word(o.remadeBy())), checks.Word("second", w.Word(o.second())), checks.At("at", w.Answers[o.remadeAt()].Time()))
		}
		if w.Has(o.remadeBy(), o.second()) && calc.SameWord(w.Word(o.remadeBy()), w.Word(o.second())) {
			w.Want(checks.OtherWord(o.second(), o.remadeBy()), "remade-alone", item)
		}
	}
}

// done is something that was done at a time, told by a code.
type done struct {
	field string
	at    time.Time
	args  []checks.Arg
}

// judgeOffTimes holds the order of acts against the permit's: tools and temporary links
// off and connections remade, permit cleared, permit cancelled, then earths, locks and
// tags off. Acts of one minute are in order.
func judgeOffTimes(w *checks.Work, g *restore) {
	if !g.Cleared || !w.Has(clearedAt, cancelledAt) {
		return
	}
	cleared, cancelled := w.Answers[clearedAt].Time(), w.Answers[cancelledAt].Time()
	inOrder := func(field, key, name string, took time.Duration) {
		w.HoldField(field, key, name, "min", minutes(name, took), checks.AtLeast(0, "EN 50110-1"))
	}
	inOrder(cancelledAt, "cleared_to_cancelled", "time from clearing the permit to cancelling it", cancelled.Sub(cleared))
	var before, after []done
	for _, t := range g.onThings(w.Input) {
		if !w.Has(t.off(), t.offAt()) {
			continue
		}
		d := done{t.offAt(), w.Answers[t.offAt()].Time(), []checks.Arg{checks.Word("thing", t.called(t.was)), checks.Word("number", w.Word(t.off()))}}
		if t.secures() {
			after = append(after, d)
		} else {
			before = append(before, d)
		}
	}
	opened, _ := g.openedThings(w.Plan)
	for _, o := range opened {
		if w.Has(o.remadeAt()) {
			before = append(before, done{o.remadeAt(), w.Answers[o.remadeAt()].Time(), []checks.Arg{checks.Word("thing", o.Name), checks.Word("number", "")}})
		}
	}
	byTime := func(a, b done) int { return a.at.Compare(b.at) }
	if len(before) > 0 {
		last := slices.MaxFunc(before, byTime)
		inOrder(last.field, "last_to_cleared", "time from the last act of the work to clearing the permit", cleared.Sub(last.at))
	}
	if len(after) > 0 {
		first := slices.MinFunc(after, byTime)
		inOrder(first.field, "cancelled_to_off", "time from cancelling the permit to the first earth, lock or tag off", first.at.Sub(cancelled))
	}
	for _, d := range before {
		if d.at.After(cleared) {
			w.Say(checks.Fail, d.field, "done-after-cleared", append(d.args, checks.At("at", d.at), checks.At("cleared", cleared))...)
		}
	}
	for _, d := range after {
		if d.at.Before(cancelled) {
			w.Say(checks.Fail, d.field, "off-before-cancelled", append(d.args, checks.At("at", d.at), checks.At("cancelled", cancelled))...)
		}
	}
}

// judgeLinks names the connections that the work remade and how their torque came out,
// and what shows the plant as it now is.
func judgeLinks(w *checks.Work, g *restore) {
	for _, l := range g.Links {
		past, taken := wholly(w.Input, l.Joints)
		args := []checks.Arg{checks.Word("link", l.Name), checks.Word("check", l.Joints), checks.Word("title", w.Plan.Check(l.Joints).Title)}
		switch {
		case !taken:
			w.Say(checks.Missing, "", "link-not-torqued", args...)
		case past.Finding.Verdict == checks.Pass:
			w.Say(checks.Pass, "", "link-torqued", args...)
		default: // that check keeps its hold points closed itself
			w.Caution("link-torque-open", append(args, checks.Word("verdict", past.Finding.Verdict.String()))...)
		}
	}
	for i, name := range g.Changed {
		if key := changedKey(i); w.Has(key) {
			w.Want(checks.WordIs(key, isChanged), "shown-anew", checks.Word("item", name), checks.Word("answer", w.Word(key)))
		}
	}
}
