package checks

import (
	"fmt"
	"strings"
)

// confirm is what a confirm check is given.
type confirm struct {
	Statements []string `plan:"statements,need" doc:"statements that must each be answered yes"`
	Witness    bool     `plan:"witness" doc:"yes when a second person must look too"`
}

var _ = register(&Kind{
	Name: "confirm", Title: "Confirmation", Group: "Other checks", Anywhere: true,
	Cautions: []string{"Answer what you see, not what should be. Local rules and the permit come first."},
	Sources:  []string{"statements: the plan"},
	Given:    func() any { return &confirm{} },
	Validate: func(p *Plan, c *Check, say func(key, format string, args ...any)) {
		g := c.Given.(*confirm)
		if len(g.Statements) == 0 {
			say("statements", "none: at least one is wanted")
		}
		needStatements(g.Statements, say)
		needTwoPeople(p, "witness", g.Witness, say)
	},
	Form: func(in Input) []Field {
		g := in.Check.Given.(*confirm)
		out := []Field{whoField("who looked")}
		if g.Witness {
			out = append(out, Field{Key: "witness", Label: "second person who looked", Sort: Initials, Need: true, Example: "ben"})
		}
		return append(out, statementFields(g.Statements)...)
	},
	Judge: judgeConfirm,
})

// whoField asks which person of the plan did what the label says.
func whoField(label string) Field {
	return Field{Key: "who", Label: label, Sort: Initials, Need: true, Example: "ada"}
}

// needStatements demands that every statement says something and stands once.
func needStatements(statements []string, say sayFunc) { needNamed("statements", statements, say) }

// needNamed is needStatements for a list under another key.
func needNamed(list string, statements []string, say sayFunc) {
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
func statementFields(statements []string) []Field {
	var out []Field
	for i, s := range statements {
		out = append(out, Field{Key: statementKey(i), Label: s, Sort: Choice, Options: YesNo, Need: true, Example: "yes"})
	}
	return out
}

// judgeStatements passes each statement answered yes and fails each answered no.
func (w *Work) judgeStatements(statements []string) {
	for i, s := range statements {
		if key := statementKey(i); w.Has(key) {
			w.Want(wordIs(key, "yes"), "statement-answered", Word("statement", s), Word("answer", w.Word(key)))
		}
	}
}

func statementKey(i int) string { return fmt.Sprintf("s%d", i+1) }

// judgeConfirm passes when every statement is answered yes, and by two different
// people where the plan asks for a witness.
func judgeConfirm(w *Work) {
	g := w.Check.Given.(*confirm)
	w.judgeStatements(g.Statements)
	if g.Witness && w.Has("who", "witness") && w.Word("who") == w.Word("witness") {
		w.Want(otherWord("witness", "who"), "second-person-is-first")
	}
}
