package checks

import (
	"strings"

	"handback/templates"
)

// told is what is said, in the words of the catalogue; of no kind where a test has none.
func told(kind *Traits, s Said) string {
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

// toldCautions are the cautions of a finding in words, those of its kind first.
func toldCautions(kind *Traits, f Finding) []string {
	var out []string
	if kind != nil {
		out = append(out, kind.Cautions...)
	}
	for _, c := range f.Cautions {
		out = append(out, told(kind, c))
	}
	return out
}

// toldReasons are the reasons of a finding in words.
func toldReasons(kind *Traits, f Finding) []string {
	var out []string
	for _, r := range f.Reasons {
		out = append(out, r.Verdict.String()+": "+told(kind, r.Said))
	}
	return out
}

// anyReason tells whether some reason of a finding of a kind says it.
func anyReason(kind string, f Finding, says string) bool {
	return strings.Contains(strings.Join(toldReasons(traitsNamed(kind), f), "\n"), says)
}

// toldDoubts are the doubts of answers in words.
func toldDoubts(in Input) string {
	var out []string
	for _, d := range in.Doubts() {
		out = append(out, told(in.Check.Kind, d.Said))
	}
	return strings.Join(out, "\n")
}
