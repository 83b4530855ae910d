package cmd

import (
	"fmt"
	"io"
	"strings"

	"handback/checks"
)

// printFinding tells a finding: its verdict, a stop first of all, what did not
// pass, and then what did.
func printFinding(w io.Writer, f checks.Finding) {
	fmt.Fprintf(w, "  %s\n", strings.ToUpper(f.Verdict.String()))
	if f.Stop != "" {
		fmt.Fprintf(w, "  STOP: %s\n", f.Stop)
	}
	for _, pass := range []bool{false, true} {
		for _, r := range f.Reasons {
			if (r.Verdict == checks.Pass) != pass || r.Text == f.Stop {
				continue
			}
			mark := "  - "
			if !pass {
				mark = "  ! "
			}
			fmt.Fprintf(w, "%s%s\n", mark, r.Text)
		}
	}
	if !f.Until.IsZero() {
		fmt.Fprintf(w, "  counts until %s\n", f.Until.Format("15:04:05"))
	}
}

// expectText says what a field should read, "" where nothing is predicted.
func expectText(f checks.Field) string {
	e := f.Expect
	if e == nil {
		return ""
	}
	show := func(x float64) string {
		x = checks.FromBase(x, f.Unit)
		return checks.Show(x, "", checks.Decimals(x))
	}
	mid := checks.FromBase(e.Value, f.Unit)
	return fmt.Sprintf("expect %s (%s to %s): %s", checks.Show(mid, f.Unit, checks.Decimals(mid)), show(e.Low), show(e.High), e.Source)
}

// answerText is an answer as understood, echoed so that a slip is seen.
func answerText(f checks.Field, a checks.Answer) string {
	switch f.Sort {
	case checks.Measured:
		x := checks.FromBase(a.Value, f.Unit)
		text := a.Bound + checks.Number(x) + " " + f.Unit
		return f.Label + " " + strings.TrimSpace(text)
	case checks.Count:
		return f.Label + " " + checks.Number(a.Value)
	case checks.Instant:
		return f.Label + " " + a.Time().Format("15:04:05")
	}
	return f.Label + ": " + a.Word
}
