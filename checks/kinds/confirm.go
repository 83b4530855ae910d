package kinds

import (
	"fmt"
	"strings"

	"handback/checks"
	"handback/checks/plan"
)

// confirm is what a confirm check is given.
type confirm struct {
	Statements []string `plan:"statements,need" doc:"statements that must each be answered yes"`
	Witness    bool     `plan:"witness" doc:"yes when a second person must look too"`
}

var _ = checks.Define(checks.Spec[confirm]{
	About: plan.About{
		Name: "confirm", Title: "Confirmation", Group: "Other checks", Anywhere: true,
		Cautions: []string{"Say what you see, not what should be. Local rules and permit first."},
		Sources:  []string{"statements: the plan"},
	},
	Validate: func(p *plan.Plan, c *plan.Check, g *confirm, say plan.Say) {
		if len(g.Statements) == 0 {
			say("statements", "none: at least one is wanted")
		}
		needStatements(g.Statements, say)
		needTwoPeople(p, "witness", g.Witness, say)
	},
	Form: func(in checks.Input, g *confirm) []checks.Field {
		out := []checks.Field{whoField("who looked")}
		if g.Witness {
			out = append(out, checks.Field{Key: "witness", Label: "second person who looked", Sort: checks.Initials, Need: true, Example: "ben"})
		}
		return append(out, statementFields(g.Statements)...)
	},
	Judge: judgeConfirm,
})

// whoField asks which person of the plan did what the label says.
func whoField(label string) checks.Field {
	return checks.Field{Key: "who", Label: label, Sort: checks.Initials, Need: true, Example: "ada"}
}

// needStatements demands that every statement says something and stands once.
func needStatements(statements []string, say plan.Say) { needNamed("statements", statements, say) }

// needNamed is needStatements for a list under another key.
func needNamed(list string, statements []string, say plan.Say) {
	seen := map[string]bool{}
	for i, s := range statements {
		key, text := fmt.Sprintf("%s[%d]", list, i+1), strings.TrimSpace(s)
		switch {
		case text == "":
			say(key, "empty: something to be answered is wanted")
		case seen[text]:
			say(key, "%q stands twice: keep one", text)
		}
		seen[text] = true
	}
}

// statementFields asks each statement as a yes/no.
func statementFields(statements []string) []checks.Field {
	var out []checks.Field
	for i, s := range statements {
		out = append(out, checks.Field{Key: statementKey(i), Label: s, Sort: checks.Choice, Options: checks.YesNo, Need: true, Example: "yes"})
	}
	return out
}

// judgeStatements passes each statement answered yes and fails each answered no.
func judgeStatements(w *checks.Work, statements []string) {
	for i, s := range statements {
		if key := statementKey(i); w.Has(key) {
			w.Want(checks.WordIs(key, "yes"), "statement-answered", checks.Word("statement", s), checks.Word("answer", w.Word(key)))
		}
	}
}

func statementKey(i int) string { return fmt.Sprintf("s%d", i+1) }

// judgeConfirm passes when every statement is answered yes, and by two different
// people where the plan asks for a witness.
func judgeConfirm(w *checks.Work, g *confirm) {
	judgeStatements(w, g.Statements)
	if g.Witness && w.Has("who", "witness") && w.Word("who") == w.Word("witness") {
		w.Want(checks.OtherWord("witness", "who"), "second-person-is-first")
	}
}
