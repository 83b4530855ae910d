package checks

import "fmt"

// confirm is what a confirm check is given.
type confirm struct {
	Statements []string `plan:"statements,need" doc:"statements that must each be answered yes"`
	Witness    bool     `plan:"witness" doc:"yes when a second person must look too"`
}

var _ = register(&Kind{
	Name: "confirm", Title: "Confirmation", Group: "Other checks",
	Cautions: []string{"Answer what you see, not what should be. Local rules and the permit come first."},
	Sources:  []string{"statements: the plan"},
	Given:    func() any { return &confirm{} },
	Validate: func(p *Plan, c *Check, say func(key, format string, args ...any)) {
		if len(c.Given.(*confirm).Statements) == 0 {
			say("statements", "none: at least one is wanted")
		}
	},
	Form: func(in Input) []Field {
		g := in.Check.Given.(*confirm)
		out := []Field{{Key: "who", Label: "who looked", Sort: Initials, Need: true, Example: "ada"}}
		if g.Witness {
			out = append(out, Field{Key: "witness", Label: "second person who looked", Sort: Initials, Need: true, Example: "ben"})
		}
		for i, s := range g.Statements {
			out = append(out, Field{Key: statementKey(i), Label: s, Sort: Choice, Options: YesNo, Need: true, Example: "yes"})
		}
		return out
	},
	Judge: judgeConfirm,
})

func statementKey(i int) string { return fmt.Sprintf("s%d", i+1) }

// judgeConfirm passes when every statement is answered yes, and by two different
// people where the plan asks for a witness.
func judgeConfirm(w *Work) {
	g := w.Check.Given.(*confirm)
	for i, s := range g.Statements {
		switch w.Word(statementKey(i)) {
		case "yes":
			w.Say(Pass, statementKey(i), "%s: yes", s)
		case "no":
			w.Say(Fail, statementKey(i), "%s: no", s)
		}
	}
	if g.Witness && w.Has("who", "witness") && w.Word("who") == w.Word("witness") {
		w.Say(Fail, "witness", "the second person is the first: two people must look")
	}
}
