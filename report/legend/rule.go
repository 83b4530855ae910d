package legend

import (
	"slices"
	"strconv"
	"strings"

	"handback/checks"
	"handback/report"
)

// comparison is one way in which values of the job were held against their limits.
type comparison struct{ Of, Formula string }

// comparisons are those that the findings of a job were judged by, the plan's own rule
// always among them.
func comparisons(j *report.Job) []comparison {
	type way struct {
		guarded bool
		bound   string
	}
	used := []way{{j.Plan.Rule != checks.RuleSimple, ""}}
	for _, s := range states(j) {
		for _, a := range s.Attempts {
			for _, d := range a.Finding.Derived {
				if w := (way{d.Guarded(), d.Bound}); d.Limit != nil && !slices.Contains(used, w) {
					used = append(used, w)
				}
			}
		}
	}
	slices.SortFunc(used, func(a, b way) int {
		if a.guarded != b.guarded {
			return map[bool]int{true: -1, false: 1}[a.guarded]
		}
		return strings.Compare(a.bound, b.bound)
	})
	var out []comparison
	for _, w := range used {
		of := map[bool]string{true: "guarded", false: "simple"}[w.guarded]
		if w.bound != "" {
			of += ", of a value known as no more than a bound, " + w.bound
		}
		out = append(out, comparison{of, formula(checks.Comparison(w.guarded, w.bound).Formula(func(cell string) string { return cell }))})
	}
	return out
}

// formula breaks a formula into lines behind its commas.
func formula(text string) string {
	const in = "      "
	line, out := in, ""
	for _, piece := range strings.SplitAfter(text, ",") {
		if len(line)+len(piece) > width && line != in {
			out, line = out+line+"\n", in
		}
		line += piece
	}
	return out + line
}

// ruleOf is how a value was judged, in one word.
func ruleOf(d checks.Derived) string {
	switch {
	case d.Limit == nil:
		return "shown"
	case d.Rule == checks.RulePart:
		return "part"
	}
	return d.Rule
}

// sideOf is one side of a limit.
func sideOf(l *checks.Limit, side func(*checks.Limit) float64) string {
	if l == nil || !report.Finite(side(l)) {
		return "-"
	}
	return strconv.FormatFloat(side(l), 'g', 10, 64)
}
