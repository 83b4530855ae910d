package checks

import (
	"handback/checks/plan"
	"handback/templates"
)

// Wording is what is said, in the words of the catalogue; of no kind where a test has none.
func Wording(kind *plan.Traits, s Said) string {
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
