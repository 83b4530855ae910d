package cases

import (
	"strings"

	"handback/checks"
	"handback/checks/plan"
	"handback/templates"
)

// Wording is what is said, in the words of the catalogue; of no kind where a test has none.
func Wording(kind *plan.Traits, s checks.Said) string {
	name := "measure"
	if kind != nil {
		name = kind.Name
	}
	return s.Words(name, func(kind, code string, values map[string]any) (string, error) {
		text, err := templates.Said(kind, code, values)
		if err != nil {
			panic(err) // a code without words, or words that name a value there is not
		}
		return text, nil
	})
}

// ToldCautions are the cautions of a finding in words, those of its kind first.
func ToldCautions(kind *plan.Traits, f checks.Finding) []string {
	var out []string
	if kind != nil {
		out = append(out, kind.Cautions...)
	}
	for _, c := range f.Cautions {
		out = append(out, Wording(kind, c))
	}
	return out
}

// ToldReasons are the reasons of a finding in words.
func ToldReasons(kind *plan.Traits, f checks.Finding) []string {
	var out []string
	for _, r := range f.Reasons {
		out = append(out, r.Verdict.String()+": "+Wording(kind, r.Said))
	}
	return out
}

// AnyReason tells whether some reason of a finding of a kind says it.
func AnyReason(kind string, f checks.Finding, says string) bool {
	return strings.Contains(strings.Join(ToldReasons(plan.TraitsNamed(kind), f), "\n"), says)
}

// ToldDoubts are the doubts of answers in words.
func ToldDoubts(in checks.Input) string {
	var out []string
	for _, d := range in.Doubts() {
		out = append(out, Wording(in.Check.Kind, d.Said))
	}
	return strings.Join(out, "\n")
}
