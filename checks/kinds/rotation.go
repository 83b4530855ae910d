package kinds

import (
	"fmt"

	"handback/checks"
	"handback/checks/plan"
)

// rotation is what a rotation check is given.
type rotation struct {
	Expected string `plan:"expected,need" one:"forward|reverse" doc:"the rotation wanted: forward is the plan's first, second, third conductor"`
	SameAs   string `plan:"same_as" ref:"rotation" doc:"id of an earlier rotation check, of the other side: both must turn alike"`
}

var turns = []string{"forward", "reverse", "unclear"}

var _ = checks.Define(checks.Spec[rotation]{
	About: plan.About{
		Name: "rotation", Title: "Phase rotation", Group: "Live checks", Live: true,
		Joins: true,
		Cautions: []string{liveCaution,
			"The same rotation on both sides does not prove them in phase: all three phases may be displaced by 120°. Prove that across the open device."},
		Sources: []string{"rotation wanted: the plan"},
	},
	Validate: func(p *plan.Plan, c *plan.Check, g *rotation, say plan.Say) {
		if other := p.Check(g.SameAs); other != nil {
			if o, ok := other.Given.(*rotation); ok && o.Expected != g.Expected {
				say("same_as", "%s expects %s and this check %s: both can never turn alike", other.ID, o.Expected, g.Expected)
			}
		}
	},
	Predict: func(_ *plan.Plan, _ *plan.Check, g *rotation) []plan.Prediction {
		return []plan.Prediction{{Name: "rotation", Text: g.Expected, Source: "plan"}}
	},
	Form: func(in checks.Input, _ *rotation) []checks.Field {
		c, _ := in.Plan.Conductors()
		var out []checks.Field
		if in.Check.Meter != "" {
			out = append(out, meterField(in))
		}
		return append(out, checks.Field{Key: "rotation", Label: "rotation", Sort: checks.Choice, Options: turns, Need: true, Example: "forward",
			Hint: fmt.Sprintf("forward: %s-%s-%s by the indicator, leads on the conductors in that order", c[0], c[1], c[2])})
	},
	Judge: judgeRotation,
})

// judgeRotation passes when the indicator turns as the plan expects and, where
// the plan names the other side's check, as it did there. A turn that is plainly the
// other one stops the work. An unclear indication is inconclusive, and so is a comparison with a side that was not read, was
// unclear, or whose own check did not pass.
func judgeRotation(w *checks.Work, g *rotation) {
	turn := w.Word("rotation")
	wanted := checks.WordIs("rotation", g.Expected).Or(checks.Inconclusive, "unclear")
	switch turn {
	case "":
		return
	case "unclear":
		w.Want(wanted, "rotation-unclear")
		return
	case g.Expected:
		w.Want(wanted, "rotation-as-expected", checks.Word("turn", turn))
	default:
		args := []checks.Arg{checks.Word("turn", turn), checks.Word("expected", g.Expected)}
		w.Want(wanted, "rotation-wrong", args...)
		w.Stop("rotation-wrong-stop", args...)
		w.Follows("rotation")
	}
	if g.SameAs != "" {
		compareTurn(w, g.SameAs, turn)
	}
}

// compareTurn holds a rotation against the one read in an earlier check.
func compareTurn(w *checks.Work, check, turn string) {
	other := w.Plan.Check(check)
	past := w.Came(check)
	there, alike := past.Answers["rotation"].Word, checks.SameWord("rotation", check+"/rotation")
	args := []checks.Arg{checks.Word("turn", turn), checks.Word("check", check), checks.Word("title", other.Title)}
	switch {
	case there == "" || there == "unclear":
		w.Say(checks.Inconclusive, "rotation", "other-turn-unknown", args...)
	case there != turn:
		args = append(args, checks.Word("there", there))
		w.Want(alike, "sides-turn-unlike", args...)
		w.Stop("sides-turn-unlike-stop", args...)
		w.Follows("rotation")
	case past.Finding.Verdict != checks.Pass:
		w.Say(checks.Inconclusive, "rotation", "other-turn-not-passed", append(args, checks.Word("verdict", past.Finding.Verdict.String()))...)
	default:
		w.Want(alike, "sides-turn-alike", args...)
	}
}
