package cmd

import (
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"handback/checks"
	"handback/report"
)

// printFinding tells a finding: its verdict, a stop first of all, what did not
// pass, and then at most as many passes as are named in full.
func printFinding(w io.Writer, kind *checks.Traits, f checks.Finding, passes int) {
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
	briefly    = 3
	everything = 1 << 30
)

// expectText says what the fields of a row should read, each its own where they
// differ, and by name where others of the row have nothing predicted; "" where
// nothing is.
func expectText(row []checks.Field) string {
	if len(row) == 0 {
		return ""
	}
	_, labels := sharedStart(row)
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
	return "expect " + shareUnit(values, unitText(row[0])) + source
}

// expectValue is what one field should read, with its unit.
func expectValue(f checks.Field) string {
	if f.Wanted != "" {
		return f.Wanted
	}
	e, show := f.Expect, func(x float64) string { return checks.Short(checks.FromBase(x, f.Unit)) }
	return strings.TrimSpace(fmt.Sprintf("%s (%s to %s) %s", show(e.Value), show(e.Low), show(e.High), unitText(f)))
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

// answerText is an answer as understood, echoed so that a slip is seen.
func answerText(f checks.Field, a checks.Answer, now time.Time) string {
	switch f.Sort {
	case checks.Measured:
		return f.Label + " " + measuredText(f, a)
	case checks.Count:
		return f.Label + " " + checks.Number(a.Value)
	case checks.Instant:
		return f.Label + " " + clockText(a.Time(), now)
	}
	return f.Label + ": " + a.Word
}

// measuredText shows the digits as they were typed; a value typed in another unit
// is shown in the field's, with the typed one behind it.
func measuredText(f checks.Field, a checks.Answer) string {
	typed := strings.TrimSpace(strings.TrimLeft(a.Typed, "<>=≤≥ "))
	digits := strings.TrimSpace(strings.TrimSuffix(typed, unitText(f)))
	if _, err := checks.ParseNumber(digits); err == nil {
		return strings.TrimSpace(a.Bound + strings.Replace(digits, ",", ".", 1) + " " + unitText(f))
	}
	return a.Bound + checks.Short(checks.FromBase(a.Value, f.Unit)) + " " + unitText(f) + " (" + a.Typed + ")"
}

// unitText is the unit a field is shown in; a bare number has none.
func unitText(f checks.Field) string {
	if f.Unit == "1" {
		return ""
	}
	return f.Unit
}

// clockText is a time of day, with its date when that is not today's.
func clockText(t, now time.Time) string {
	if t = t.In(now.Location()); t.Format(time.DateOnly) != now.Format(time.DateOnly) {
		return t.Format("2006-01-02 15:04:05")
	}
	return t.Format("15:04:05")
}
