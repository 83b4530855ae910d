package kinds

import (
	"fmt"
	"strings"

	"handback/checks"
	"handback/checks/plan"
)

// restore is what a restore check is given.
type restore struct {
	Counted    []countedItem `plan:"counted" doc:"what was put on or taken off for the work and must be put back, by number"`
	Statements []string      `plan:"statements" doc:"statements that must each be answered yes, such as proofs of interlocks"`
	Interlocks []string      `plan:"interlocks" doc:"what an interlock must keep from closing, such as HV switch while the LV incomer is withdrawn; each is answered did not close or closed"`
	Cleared    bool          `plan:"permit_cleared" doc:"yes asks first whether everyone was withdrawn and the permit cleared and cancelled, and with put_on at what times"`
	PutOn      []string      `plan:"put_on" ref:"put-on" doc:"the put-on checks whose things are taken off here, matched by their numbers"`
	Links      []torqued     `plan:"links" doc:"tap and delta links and other connections that the work remade, each with the joints check that torqued it"`
	Changed    []string      `plan:"changed" doc:"what must show the plant as it now is, such as label of the taps on T2 or drawing SL-4; each is answered changed or not changed"`
}

// What a device that an interlock holds did when it was tried.
const (
	didNotClose = "did not close"
	didClose    = "closed"
)

// countedItem is one sort of thing counted out and back.
type countedItem struct {
	ID      string   `plan:"id,need" doc:"short name used in answers"`
	Name    string   `plan:"name,need" doc:"what is counted, such as circuit main earths"`
	Planned *int     `plan:"planned,need" doc:"how many the plan or the permit says"`
	Names   []string `plan:"names" doc:"each one by name, to be answered for one by one"`
	Out     string   `plan:"out" doc:"what was done to them for the work; applied when not given"`
	Back    string   `plan:"back" doc:"what puts them back; removed when not given"`
}

var _ = checks.Define(checks.Spec[restore]{
	About: plan.About{
		Name: "restore", Title: "Restoration", Group: "Dead checks", Dead: true,
		Counts: true,
		Cautions: []string{
			"People are withdrawn and told to treat the plant as live, the permit cleared and cancelled, before earths and locks come off (EN 50110-1).",
			"Earths come off only in the order and by the person the permit names; from the first one off, treat the plant as able to become live.",
			"Try an interlock only with the device in its test or isolated position, or while the plant cannot become live. Wanted: it did not close.",
		},
		Sources: []string{"what is counted and how many: the plan and the permit"},
	},
	Validate: validateRestore,
	Rests:    func(_ *plan.Plan, _ *plan.Check, g *restore) []string { return g.PutOn },
	Predict: func(_ *plan.Plan, _ *plan.Check, g *restore) []plan.Prediction {
		var out []plan.Prediction
		for _, item := range g.Counted {
			out = append(out, plan.Prediction{Name: item.Name, Source: "plan", Text: fmt.Sprintf("%d %s, %d %s", *item.Planned, item.out(), *item.Planned, item.back())})
		}
		return out
	},
	Form:   restoreForm,
	Doubts: doubtCounts,
	Judge:  judgeRestore,
})

func (c countedItem) out() string {
	if c.Out == "" {
		return "applied"
	}
	return c.Out
}

func (c countedItem) back() string {
	if c.Back == "" {
		return "removed"
	}
	return c.Back
}

// The keys of an item's fields.
func (c countedItem) appliedKey() string    { return fieldKey(c.ID, "applied") }
func (c countedItem) removedKey() string    { return fieldKey(c.ID, "removed") }
func (c countedItem) namedKey(i int) string { return fieldKey(c.ID, fmt.Sprintf("n%d", i+1)) }

// fieldKey is the key of one field of a thing the plan calls id.
func fieldKey(id, what string) string { return strings.ReplaceAll(id, "-", "_") + "_" + what }

// needIDs demands ids of the usual shape that stand once.
func needIDs(list string, ids []string, say plan.Say) {
	seen := map[string]bool{}
	for i, id := range ids {
		key := fmt.Sprintf("%s[%d].id", list, i+1)
		if !plan.IDShape(id) {
			say(key, "%q: lower-case letters, digits and hyphens are accepted, 40 at most", id)
		}
		if seen[id] {
			say(key, "%q stands twice: ids stand once", id)
		}
		seen[id] = true
	}
}

// needRows asks of a list that a check works through one to most rows, each by its id.
func needRows(list, rows string, most int, ids []string, say plan.Say) {
	if n := len(ids); n == 0 || n > most {
		say(list, "%d %s: 1 to %d are wanted; give more in a check of their own", n, rows, most)
	}
	needIDs(list, ids, say)
}

func validateRestore(p *plan.Plan, _ *plan.Check, g *restore, say plan.Say) {
	if len(g.Counted)+len(g.Statements)+len(g.Interlocks)+len(g.PutOn)+len(g.Changed) == 0 {
		say("counted", "neither anything counted, taken off or changed nor a statement or interlock: at least one is wanted")
	}
	validateTakenOff(p, g, say)
	needNamed("changed", g.Changed, say)
	needNamed("interlocks", g.Interlocks, say)
	needIDs("counted", plan.IDsOf(g.Counted, func(c countedItem) string { return c.ID }), say)
	needStatements(g.Statements, say)
	for i, item := range g.Counted {
		key := fmt.Sprintf("counted[%d]", i+1)
		if *item.Planned < 0 {
			say(key+".planned", "%d is below zero", *item.Planned)
		}
		if *item.Planned > maxCounted {
			say(key+".planned", "%d: at most %d of one sort are counted", *item.Planned, maxCounted)
		}
		if len(item.Names) > 0 && len(item.Names) != *item.Planned {
			say(key+".names", "%d names, but %d are planned", len(item.Names), *item.Planned)
		}
		seen := map[string]bool{}
		for j, name := range item.Names {
			if strings.TrimSpace(name) == "" || seen[name] {
				say(fmt.Sprintf("%s.names[%d]", key, j+1), "%q is empty or stands twice", name)
			}
			seen[name] = true
		}
	}
}

func restoreForm(in checks.Input, g *restore) []checks.Field {
	out := append(remadeThingFields(in, g), takenOffFields(in, g, false)...)
	if g.Cleared {
		out = append(out, checks.Field{Key: "permit", Label: "everyone withdrawn, permit cleared and cancelled", Sort: checks.Choice, Options: checks.YesNo, Need: true,
			Hint: "before earths and locks come off", Example: "yes"})
		out = append(out, g.permitTimes()...)
	}
	out = append(out, takenOffFields(in, g, true)...)
	for _, c := range g.Counted {
		planned := fmt.Sprint(*c.Planned)
		out = append(out,
			checks.Field{Key: c.appliedKey(), Label: c.Name + " " + c.out(), Sort: checks.Count, Need: true, Row: c.ID, Wanted: planned + " planned", Example: planned},
			checks.Field{Key: c.removedKey(), Label: c.Name + " " + c.back(), Sort: checks.Count, Need: true, Row: c.ID, Wanted: planned + " planned", Example: planned})
		for i, name := range c.Names {
			out = append(out, checks.Field{Key: c.namedKey(i), Label: name + " " + c.back(), Sort: checks.Choice, Options: checks.YesNo, Need: true, Row: c.ID, Example: "yes"})
		}
	}
	out = append(out, statementFields(g.Statements)...)
	for i, name := range g.Changed {
		out = append(out, checks.Field{Key: changedKey(i), Label: name, Sort: checks.Choice, Options: []string{isChanged, notChanged}, Need: true,
			Hint: "read on it", Example: isChanged})
	}
	for i, name := range g.Interlocks {
		out = append(out, checks.Field{Key: interlockKey(i), Label: name, Sort: checks.Choice, Options: []string{didNotClose, didClose}, Need: true,
			Hint: "tried in the test or isolated position, or while nothing can become live", Example: didNotClose})
	}
	return append(out, whoField("who counted"), checks.Field{Key: "at", Label: "time of the count", Sort: checks.Instant, Need: true, Example: "16:30"})
}

// maxCounted is more of one sort than anybody counts out and back (our choice).
const maxCounted = 1000

// doubtCounts names counts that are not those planned, or more back than went out.
// It doubts the number out: what was not put back stays open whatever that was.
func doubtCounts(in checks.Input, g *restore) []checks.Doubt {
	out := append(checks.DoubtInstants(in, "at"), doubtTakenOff(in, g)...)
	for _, c := range g.Counted {
		applied, ok := in.Answers[c.appliedKey()]
		if !ok {
			continue
		}
		if applied.Value != float64(*c.Planned) {
			out = append(out, checks.Doubt{Fields: []string{c.appliedKey()}, Said: checks.Say("count-not-as-planned",
				checks.Word("item", c.Name), checks.Num("out", applied.Value, ""), checks.Word("how_out", c.out()), checks.Num("planned", float64(*c.Planned), ""))})
		} else if removed, ok := in.Answers[c.removedKey()]; ok && removed.Value > applied.Value {
			out = append(out, checks.Doubt{Fields: []string{c.appliedKey()}, Said: checks.Say("more-back-than-out",
				checks.Word("item", c.Name), checks.Num("back", removed.Value, ""), checks.Word("how_back", c.back()), checks.Num("out", applied.Value, ""), checks.Word("how_out", c.out()))})
		}
	}
	return out
}

// judgeRestore passes when every number that was put on was taken off and none besides,
// in the order that the permit asks for, everything opened was remade, and for
// everything counted
//
//	planned = applied = removed
//
// as whole numbers, every one that has a name is answered yes, and so is every
// statement. One open item fails the check. Fewer removed than applied, or a
// named one still out, stops the work: something stands on the plant that must
// not be there when it is made live. So does a permit that is not cleared, or a
// device that closed against its interlock.
func judgeRestore(w *checks.Work, g *restore) {
	var open []checks.Said
	var fields []string
	still := func(field, code string, args ...checks.Arg) {
		open, fields = append(open, checks.Say(code, args...)), append(fields, field)
	}
	switch w.Word("permit") {
	case "yes":
		w.Want(checks.WordIs("permit", "yes"), "permit-cleared")
	case "no":
		w.Want(checks.WordIs("permit", "yes"), "permit-not-cleared")
		still("permit", "open-permit")
	}
	takeOff(w, g, still)
	judgeThingsRemade(w, g, still)
	judgeOffTimes(w, g)
	for _, c := range g.Counted {
		countBack(w, c, still)
	}
	judgeLinks(w, g)
	judgeStatements(w, g.Statements)
	for i, name := range g.Interlocks {
		if key := interlockKey(i); w.Has(key) {
			if w.Want(checks.WordIs(key, didNotClose), "interlock-tried", checks.Word("interlock", name), checks.Word("answer", w.Word(key))) == checks.Fail {
				still(key, "open-interlock", checks.Word("interlock", name))
			}
		}
	}
	if len(open) > 0 {
		w.StopAt(fields, "not-restored", checks.Inners("open", open...))
		w.Follows(fields...)
	}
}

func interlockKey(i int) string { return fmt.Sprintf("i%d", i+1) }

// countBack judges one sort of thing and tells what is still out, with its field.
func countBack(w *checks.Work, c countedItem, still func(field, code string, args ...checks.Arg)) {
	if w.Has(c.appliedKey(), c.removedKey()) {
		applied, removed := w.Read(c.appliedKey()), w.Read(c.removedKey())
		left := w.Show("open_"+strings.ReplaceAll(c.ID, "-", "_"), c.Name+", difference "+c.out()+" − "+c.back(), "1", applied.Sub(removed))
		n, m := w.Value(c.appliedKey()), w.Value(c.removedKey())
		w.Want(checks.CountsAre(float64(*c.Planned), c.removedKey(), c.appliedKey()), "counted", checks.Word("item", c.Name), checks.Num("planned", float64(*c.Planned), ""),
			checks.Num("out", n, ""), checks.Word("how_out", c.out()), checks.Num("back", m, ""), checks.Word("how_back", c.back()))
		if left > 0 {
			still(c.removedKey(), "open-count", checks.Num("left", left, ""), checks.Num("out", n, ""), checks.Word("item", c.Name), checks.Word("how_back", c.back()))
		}
	}
	for i, name := range c.Names {
		put, args := checks.WordIs(c.namedKey(i), "yes"), []checks.Arg{checks.Word("name", name), checks.Word("how_back", c.back())}
		switch w.Word(c.namedKey(i)) {
		case "yes":
			w.Want(put, "named-back", args...)
		case "no":
			w.Want(put, "named-not-back", args...)
			still(c.namedKey(i), "open-named", args...)
		}
	}
}
