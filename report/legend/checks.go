package legend

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strings"

	"handback/checks"
	"handback/report"
	"handback/templates"
)

// kind is a kind of check that the job has, with its checks.
type kind struct {
	Name, Title, Shows, How string
	Sources, Unread         []string
	Checks                  []check
}

// check is a check of the job: what was asked, and what was worked out and held against
// a limit, as tables.
type check struct{ Line, Asked, Values string }

func kindOf(j *report.Job, name string) (kind, error) {
	b, err := templates.Kind(name)
	if err != nil {
		return kind{}, err
	}
	of := checks.KindNamed(name)
	k := kind{Name: name, Title: of.Title, Shows: report.OneLine(b.Shows), How: report.OneLine(b.How), Sources: of.Sources}
	for _, u := range checks.UnreadOf(of) {
		k.Unread = append(k.Unread, fmt.Sprintf("%s (%s: %s)", u.Source, u.How, u.What))
	}
	for _, s := range states(j) {
		if s.Check.Kind.Name == name {
			k.Checks = append(k.Checks, check{lineOf(s), asked(j, s), values(s)})
		}
	}
	return k, nil
}

// lineOf is what a check is called, and where it was taken with what.
func lineOf(s *report.State) string {
	c := s.Check
	line := cmp.Or(c.Title, c.Kind.Title)
	if c.At != "" {
		line += "; at " + c.At
	}
	if c.Meter != "" {
		line += "; planned instrument " + c.Meter
	}
	if s.Out > 0 {
		line += fmt.Sprintf("; taken out of the plan by entry %d", s.Out)
	}
	return hung("  CHECK "+c.ID+": ", line+"; "+report.Count(len(s.Attempts), "attempt", "attempts"))
}

// asked lists the fields that were answered, each once for all attempts that asked it so.
func asked(j *report.Job, s *report.State) string {
	head := []string{"field", "sort", "unit", "what was asked"}
	rows := [][]string{head}
	for _, a := range s.Attempts {
		for _, g := range given(j, s, a) {
			f := g.Field
			what := f.Label
			if len(f.Options) > 0 {
				what += ": " + strings.Join(f.Options, ", ")
			}
			row := []string{f.Key, f.Sort.String(), cmp.Or(f.Unit, "-"), what}
			if !slices.ContainsFunc(rows, func(r []string) bool { return slices.Equal(r, row) }) {
				rows = append(rows, row)
			}
		}
	}
	if len(rows) == 1 {
		return ""
	}
	return columns(4, rows)
}

// given are the answers of an attempt. One that its form no longer asks, once the rest was
// answered, is asked by the form as it was then.
func given(j *report.Job, s *report.State, a *report.Attempt) []report.Given {
	out := j.Given(s, a)
	has := func(key string) bool {
		return slices.ContainsFunc(out, func(g report.Given) bool { return g.Field.Key == key })
	}
	then, all := *a, checks.Answers{}
	for _, line := range a.Lines {
		maps.Copy(all, line.Map())
		for _, k := range line.Answers {
			if has(k.Key) {
				continue
			}
			then.Answers = all
			for _, g := range j.Given(s, &then) {
				if !has(g.Field.Key) {
					out = append(out, g)
				}
			}
		}
	}
	return out
}

// values lists what the findings of a check worked out, each value once for all attempts
// that held it against the same limit.
func values(s *report.State) string {
	rows := [][]string{{"value", "unit", "least", "most", "rule", "what it is, and where its limit comes from"}}
	for _, a := range s.Attempts {
		for _, d := range a.Finding.Derived {
			what := d.Name
			if d.Limit != nil && d.Limit.Source != "" {
				what += " (" + d.Limit.Source + ")"
			}
			row := []string{d.Key, cmp.Or(d.Unit, "1"), sideOf(d.Limit, func(l *checks.Limit) float64 { return l.Low }),
				sideOf(d.Limit, func(l *checks.Limit) float64 { return l.High }), ruleOf(d), what}
			if !slices.ContainsFunc(rows, func(r []string) bool { return slices.Equal(r, row) }) {
				rows = append(rows, row)
			}
		}
	}
	if len(rows) == 1 {
		return ""
	}
	return columns(4, rows)
}
