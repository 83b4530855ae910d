package session

import (
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"handback/checks"
	"handback/checks/plan"
	"handback/checks/quantity"
	"handback/report"
)

// PrintFinding tells a finding: its verdict, a stop first of all, what did not
// pass, and then at most as many passes as are named in full.
func PrintFinding(w io.Writer, kind *plan.Traits, f checks.Finding, passes int) {
	fmt.Fprintf(w, "  %s\n", strings.ToUpper(f.Verdict.String()))
	if !f.Stop.None() {
		fmt.Fprintf(w, "  STOP: %s\n", report.Words(kind, f.Stop))
	}
	passed := 0
	for _, r := range f.Reasons {
		if r.Verdict == checks.Pass {
			passed++
		} else if !r.Same(f.Stop) {
			fmt.Fprintf(w, "  ! %s: %s\n", r.Verdict, report.Words(kind, r.Said))
		}
	}
	named := 0
	for _, r := range f.Reasons {
		if r.Verdict == checks.Pass && named < passes {
			named++
			fmt.Fprintf(w, "  - %s\n", report.Words(kind, r.Said))
		}
	}
	if passed > named {
		fmt.Fprintf(w, "  - and %d more within their limits\n", passed-named)
	}
	if f.Soon && f.Verdict == checks.Pass {
		fmt.Fprintf(w, "  counts until %s\n", f.Until.Format("15:04:05"))
	}
}

// briefly is how many passes are named where a person works; everything where a
// finding is studied.
const (
	Briefly    = 3
	Everything = 1 << 30
)

// ExpectText says what the fields of a row should read, each its own where they
// differ, and by name where others of the row have nothing predicted; "" where
// nothing is.
func ExpectText(row []checks.Field) string {
	if len(row) == 0 {
		return ""
	}
	_, labels := SharedStart(row)
	var values, sources []string
	named, each := []string{}, map[string]bool{}
	for i, f := range row {
		if f.Expect == nil {
			continue
		}
		value := expectValue(f)
		values, each[value] = append(values, value), true
		named = append(named, labels[i]+" "+value)
		if !slices.Contains(sources, f.Expect.Source) {
			sources = append(sources, f.Expect.Source)
		}
	}
	if len(values) == 0 {
		return ""
	}
	source := ": " + strings.Join(sources, "; ")
	switch {
	case len(values) < len(row):
		return "expect " + strings.Join(named, ", ") + source
	case len(each) == 1:
		return "expect " + values[0] + source
	}
	return "expect " + shareUnit(values, UnitText(row[0])) + source
}

// expectValue is what one field should read, with its unit.
func expectValue(f checks.Field) string {
	if f.Wanted != "" {
		return f.Wanted
	}
	e, show := f.Expect, func(x float64) string { return quantity.Short(quantity.FromBase(x, f.Unit)) }
	return strings.TrimSpace(fmt.Sprintf("%s (%s to %s) %s", show(e.Value), show(e.Low), show(e.High), UnitText(f)))
}

// shareUnit lists values, with the unit that all have said once.
func shareUnit(values []string, unit string) string {
	for _, v := range values {
		if unit == "" || !strings.HasSuffix(v, " "+unit) {
			return strings.Join(values, ", ")
		}
	}
	return strings.ReplaceAll(strings.Join(values, ", "), " "+unit+",", ",")
}

// AnswerText is an answer as understood, echoed so that a slip is seen.
func AnswerText(f checks.Field, a checks.Answer, now time.Time) string {
	if a.NotThere != "" {
		return f.Label + ": not there: " + a.NotThere
	}
	switch f.Sort {
	case checks.Measured:
		return f.Label + " " + measuredText(f, a)
	case checks.Count:
		return f.Label + " " + quantity.Number(a.Value)
	case checks.Instant:
		return f.Label + " " + ClockText(a.Time(), now)
	}
	return f.Label + ": " + a.Word
}

// measuredText shows the digits as they were typed; a value typed in another unit
// is shown in the field's, with the typed one behind it.
func measuredText(f checks.Field, a checks.Answer) string {
	typed := strings.TrimSpace(strings.TrimLeft(a.Typed, "<>=≤≥ "))
	digits := strings.TrimSpace(strings.TrimSuffix(typed, UnitText(f)))
	if _, err := quantity.ParseNumber(digits); err == nil {
		return strings.TrimSpace(a.Bound + strings.Replace(digits, ",", ".", 1) + " " + UnitText(f))
	}
	return a.Bound + quantity.Short(quantity.FromBase(a.Value, f.Unit)) + " " + UnitText(f) + " (" + a.Typed + ")"
}

// UnitText is the unit a field is shown in; a bare number has none.
func UnitText(f checks.Field) string {
	if f.Unit == "1" {
		return ""
	}
	return f.Unit
}

// ClockText is a time of day, with its date when that is not today's.
func ClockText(t, now time.Time) string {
	if t = t.In(now.Location()); t.Format(time.DateOnly) != now.Format(time.DateOnly) {
		return t.Format("2006-01-02 15:04:05")
	}
	return t.Format("15:04:05")
}

// Place is a title with where it is.
func Place(title, at string) string {
	if at == "" {
		return title
	}
	return title + ", " + at
}

// SharedStart parts the words that all labels of a row begin with from the rest:
// "T1 L1-L2", "T1 L2-L3" share "T1 ".
func SharedStart(left []checks.Field) (shared string, rest []string) {
	for _, f := range left {
		rest = append(rest, f.Label)
	}
	if len(rest) == 1 {
		return "", rest
	}
	words := strings.SplitAfter(rest[0], " ")
	for _, word := range words[:len(words)-1] {
		for _, label := range rest {
			if !strings.HasPrefix(label, shared+word) {
				return cutShared(shared, rest)
			}
		}
		shared += word
	}
	return cutShared(shared, rest)
}

func cutShared(shared string, rest []string) (string, []string) {
	out := make([]string, len(rest))
	for i, label := range rest {
		out[i] = strings.TrimPrefix(label, shared)
	}
	if strings.HasSuffix(shared, ", ") {
		shared = strings.TrimSuffix(shared, ", ") + ": "
	}
	return shared, out
}
