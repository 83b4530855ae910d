package report

import (
	"slices"

	"handback/checks"
	"handback/templates"
)

// Reason is one point of why, as it is recorded: facts, and the words in which they
// were shown. Words are never compared.
type Reason struct {
	checks.Said
	Verdict checks.Verdict `json:"verdict"`
	Fields  []string       `json:"fields,omitempty"`
	Words   string         `json:"words"`
}

// Stopped is a stop, as it is recorded.
type Stopped struct {
	checks.Said
	Words string `json:"words"`
}

// Words is what a finding of a kind says, in the words of the catalogue.
func Words(kind *checks.Traits, s checks.Said) string { return s.Words(kind.Name, templates.Said) }

// courseHow is what the curve of a course is, or why there is none.
func courseHow(c *checks.Course) string { return c.How.Words("", templates.Said) }

// NewJudged is the entry data of a finding of a kind.
func NewJudged(kind *checks.Traits, attempt int, f checks.Finding, because string) Judged {
	j := Judged{Attempt: attempt, Verdict: f.Verdict, Reasons: []Reason{}, Values: map[string]float64{}, Because: because}
	if !f.Stop.None() {
		j.Stop = &Stopped{f.Stop, Words(kind, f.Stop)}
	}
	for _, r := range f.Reasons {
		j.Reasons = append(j.Reasons, Reason{r.Said, r.Verdict, r.Fields, Words(kind, r.Said)})
	}
	for _, d := range f.Derived {
		if finite(d.Value) {
			j.Values[d.Key] = d.Value
		}
	}
	return j
}

// Stopping are the words of the stop, "" when there is none.
func (j Judged) Stopping() string {
	if j.Stop == nil {
		return ""
	}
	return j.Stop.Words
}

// Why are the words that tell the verdict: the stop, or the first reason as bad as it.
func (j Judged) Why() string {
	if j.Stop != nil {
		return j.Stop.Words
	}
	for _, r := range j.Reasons {
		if r.Verdict == j.Verdict {
			return r.Words
		}
	}
	return ""
}

// inWordsOf takes the words in which the same was told before.
func (j Judged) inWordsOf(was Judged) Judged {
	if j.Stop != nil && was.Stop != nil && j.Stop.Same(was.Stop.Said) {
		j.Stop = was.Stop
	}
	for i, r := range j.Reasons {
		if i < len(was.Reasons) && r.same(was.Reasons[i]) {
			j.Reasons[i].Words = was.Reasons[i].Words
		}
	}
	return j
}

func (r Reason) same(s Reason) bool {
	return r.Verdict == s.Verdict && slices.Equal(r.Fields, s.Fields) && r.Said.Same(s.Said)
}
