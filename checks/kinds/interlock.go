package kinds

import (
	"fmt"
	"slices"

	"handback/checks"
	"handback/checks/plan"
)

// interlock is what an interlock check is given.
type interlock struct {
	Trials []interlockTrial `plan:"trials,need" doc:"the interlock matrix: one act of one device tried under one condition, 40 at most; at least one that must be refused"`
	Source string           `plan:"source" doc:"the interlock schedule or drawing that the trials come from; plan when not given"`
}

// interlockTrial is one cell of the matrix.
type interlockTrial struct {
	ID        string `plan:"id,need" doc:"short name used in answers"`
	Device    string `plan:"device,need" doc:"the device whose act is tried, such as HV switch of T2"`
	Act       string `plan:"act,need" one:"close|open|withdraw|insert|earth|free key" doc:"what is tried on it"`
	Condition string `plan:"condition,need" doc:"what stands while it is tried, such as LV incomer withdrawn"`
	Must      string `plan:"must,need" one:"refuse|allow" doc:"refuse where the interlock must keep the act from happening; allow where it must let it happen"`
}

// maxRows is as many rows of a matrix or list as one sitting and one sheet hold (our choice).
const maxRows = 40

// What a device did when its act was tried: kept back, or done.
var actOutcomes = map[string]struct{ refused, done string }{
	"close": {didNotClose, didClose}, "open": {"did not open", didOpen}, "withdraw": {"did not withdraw", "withdrew"},
	"insert": {"did not go in", "went in"}, "earth": {"did not earth", "earthed"}, "free key": {"did not come free", "came free"},
}

// notTried answers for an act that nobody tried: it shows nothing.
const notTried = "not tried"

// How a device is made safe to be tried; neither is no way.
const (
	inTestPosition = "test position"
	plantDead      = "plant dead"
	notSafe        = "neither"
)

var _ = checks.Define(checks.Spec[interlock]{
	About: plan.About{
		Name: "interlock", Title: "Interlock trials", Group: "Other checks", Anywhere: true,
		Cautions: []string{
			"Try an interlock only with the device in its test position, or on plant proved dead that cannot become live: an interlock that fails lets the act happen. Force nothing, and defeat no interlock to see it work.",
			"Keep people clear of the drives, and treat nothing as locked off that only an interlock holds. The permit and the local rules come first.",
		},
		Sources: []string{"which act must be refused or allowed, and when: the plan",
			"tried in the test position or on dead plant; a refusal counts beside an act that the same device does when it may: common practice"},
	},
	Validate: validateInterlock,
	Predict: func(_ *plan.Plan, _ *plan.Check, g *interlock) []plan.Prediction {
		var out []plan.Prediction
		for _, t := range g.Trials {
			out = append(out, plan.Prediction{Name: t.label(), Text: t.wanted(), Source: orPlan(g.Source)})
		}
		return out
	},
	Form:   interlockForm,
	AtOnce: interlockStops,
	Judge:  judgeInterlock,
})

// orPlan is the source a plan names for what it gives.
func orPlan(source string) string {
	if source == "" {
		return "plan"
	}
	return source
}

func validateInterlock(_ *plan.Plan, _ *plan.Check, g *interlock, say plan.Say) {
	needRows("trials", "trials", maxRows, plan.IDsOf(g.Trials, func(t interlockTrial) string { return t.ID }), say)
	if len(g.Trials) > 0 && !slices.ContainsFunc(g.Trials, func(t interlockTrial) bool { return t.Must == "refuse" }) {
		say("trials", "none must be refused: what is always allowed shows no interlock")
	}
	seen := map[string]string{}
	for i, t := range g.Trials {
		key := t.label()
		if first := seen[key]; first != "" {
			say(fmt.Sprintf("trials[%d].condition", i+1), "the same act of the same device under the same condition as %s: keep one", first)
		}
		seen[key] = t.ID
	}
}

func (t interlockTrial) safeKey() string    { return fieldKey(t.ID, "safe") }
func (t interlockTrial) setKey() string     { return fieldKey(t.ID, "set") }
func (t interlockTrial) outcomeKey() string { return fieldKey(t.ID, "happened") }

func (t interlockTrial) label() string {
	return fmt.Sprintf("%s, %s while %s", t.Device, t.Act, t.Condition)
}

// wanted is what must happen, other what must not.
func (t interlockTrial) wanted() string {
	if t.Must == "refuse" {
		return actOutcomes[t.Act].refused
	}
	return actOutcomes[t.Act].done
}

func (t interlockTrial) other() string {
	if t.Must == "refuse" {
		return actOutcomes[t.Act].done
	}
	return actOutcomes[t.Act].refused
}

// devices are the first trials of each device, in the order of the plan: how it is made
// safe is asked under the id of that one, so that no other device takes its answer when
// the plan is changed.
func (g *interlock) devices() []interlockTrial {
	var out []interlockTrial
	for _, t := range g.Trials {
		if !slices.ContainsFunc(out, func(d interlockTrial) bool { return d.Device == t.Device }) {
			out = append(out, t)
		}
	}
	return out
}

// interlockForm asks how each device is made safe before anything is tried.
func interlockForm(_ checks.Input, g *interlock) []checks.Field {
	out := []checks.Field{whoField("who tried")}
	for _, d := range g.devices() {
		out = append(out, checks.Field{Key: d.safeKey(), Label: d.Device + ", made safe by", Sort: checks.Choice, Options: []string{inTestPosition, plantDead, notSafe}, Need: true,
			Example: inTestPosition})
	}
	for _, t := range g.Trials {
		out = append(out,
			checks.Field{Key: t.setKey(), Label: t.label() + ", condition made and seen", Sort: checks.Choice, Options: checks.YesNo, Need: true, Row: t.ID,
				Hint: "passes: " + t.wanted(), Example: "yes"},
			checks.Field{Key: t.outcomeKey(), Label: t.label() + ", what happened", Sort: checks.Choice, Options: []string{actOutcomes[t.Act].refused, actOutcomes[t.Act].done, notTried}, Need: true, Row: t.ID,
				Hint: "as it was tried; what was not tried does not pass", Example: t.wanted()})
	}
	return out
}

// letHappen tells whether an act happened that the interlock had to keep back.
func (t interlockTrial) letHappen(in checks.Input) bool {
	return t.Must == "refuse" && in.Answers[t.setKey()].Word != "no" && in.Answers[t.outcomeKey()].Word == t.other()
}

// interlockStops names a device that must not be tried as it stands, and what an
// interlock let happen.
func interlockStops(in checks.Input, g *interlock) []string {
	var out []string
	for _, d := range g.devices() {
		if in.Answers[d.safeKey()].Word == notSafe {
			out = append(out, d.safeKey())
		}
	}
	for _, t := range g.Trials {
		if t.letHappen(in) {
			out = append(out, t.outcomeKey())
		}
	}
	return out
}

// judgeInterlock passes when every device was safe to try, every condition was made
// and seen, and every act was refused or happened as the plan has it. What was not
// tried, or tried without its condition, is inconclusive. An interlock that let the
// act happen stops the work; so does a device tried in no safe way. An act refused
// that must be allowed fails: a device that never moves shows no interlock. Where the
// plan tries no act of a device that it is allowed, a caution says so.
func judgeInterlock(w *checks.Work, g *interlock) {
	for _, d := range g.devices() {
		key := d.safeKey()
		safe, args := checks.WordIs(key, inTestPosition, plantDead), []checks.Arg{checks.Word("device", d.Device)}
		switch how := w.Word(key); how {
		case "":
		case notSafe:
			w.Want(safe, "not-safe", args...)
			w.StopAt([]string{key}, "not-safe-stop", args...)
			w.Follows(key)
		default:
			w.Want(safe, "made-safe", append(args, checks.Word("how", how))...)
		}
	}
	for _, t := range g.Trials {
		judgeInterlockTrial(w, t)
	}
	for _, d := range g.devices() {
		for _, act := range g.refusedAlone(d.Device) {
			w.Caution("refusal-alone", checks.Word("device", d.Device), checks.Word("act", act))
		}
	}
}

// refusedAlone are the acts of a device that the plan tries only where they must be refused.
func (g *interlock) refusedAlone(device string) []string {
	var refused, allowed []string
	for _, t := range g.Trials {
		switch {
		case t.Device != device:
		case t.Must == "allow":
			allowed = append(allowed, t.Act)
		case !slices.Contains(refused, t.Act):
			refused = append(refused, t.Act)
		}
	}
	return slices.DeleteFunc(refused, func(act string) bool { return slices.Contains(allowed, act) })
}

func judgeInterlockTrial(w *checks.Work, t interlockTrial) {
	key, happened := t.outcomeKey(), w.Word(t.outcomeKey())
	args := []checks.Arg{checks.Word("device", t.Device), checks.Word("act", t.Act), checks.Word("condition", t.Condition)}
	if set := t.setKey(); w.Word(set) == "no" {
		w.Want(checks.WordIs(set, "yes").Or(checks.Inconclusive, "no"), "condition-not-made", args...)
		return
	}
	if happened == "" {
		return
	}
	right := checks.WordIs(key, t.wanted()).Or(checks.Inconclusive, notTried)
	args = append(args, checks.Word("happened", happened))
	switch {
	case happened == notTried:
		w.Want(right, "act-not-tried", args...)
	case happened == t.wanted():
		w.Want(right, "act-as-wanted", append(args, checks.Word("must", t.Must))...)
	case t.letHappen(w.Input):
		w.Want(right, "interlock-let", args...)
		w.StopAt([]string{key}, "interlock-let-stop", args...)
		w.Follows(key)
	default:
		w.Want(right, "act-refused", args...)
	}
}
