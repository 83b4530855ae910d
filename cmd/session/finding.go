package session

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"handback/checks"
	"handback/checks/plan"
	"handback/checks/quantity"
	"handback/report"
)

// PrintFinding tells a finding: its verdict, a stop first of all, what did not
// pass, and then at most as many passes as are named in full.
func PrintFinding(w io.Writer, kind *plan.Traits, f checks.Finding, passes int) {
	fmt.Fprintf(w, "  %s\n", strings.ToUpper(f.Verdict.String()))
	printAgainst(w, kind, f, 0)
	named, more := 0, 0
	for _, r := range f.Reasons {
		switch {
		case r.Verdict != checks.Pass:
		case named == passes:
			more++
		default:
			named++
			fmt.Fprintf(w, "  - %s\n", report.Words(kind, r.Said))
		}
	}
	if more > 0 {
		fmt.Fprintf(w, "  - and %d more within their limits\n", more)
	}
	printChanges(w, f, 0)
	if f.Soon && f.Verdict == checks.Pass {
		fmt.Fprintf(w, "  valid until %s\n", f.Until.Format("15:04:05"))
	}
}

// How many passes are named where one was typed in, and where a finding is studied.
const (
	Briefly    = 3
	Everything = 1 << 30
)

// printAgainst tells the stop of a finding and what else did not pass. Where a person
// works, each is wrapped at a width, and what a stop left unasked is not told; width 0
// leaves each on one line.
func printAgainst(w io.Writer, kind *plan.Traits, f checks.Finding, width int) {
	line := func(text string) {
		if width > 0 {
			text = strings.TrimPrefix(Wrapped(text, "  ", width), "  ")
		}
		fmt.Fprintf(w, "  %s\n", text)
	}
	if !f.Stop.None() {
		line("STOP: " + report.Words(kind, f.Stop))
	}
	for _, r := range f.Reasons {
		unasked := width > 0 && !f.Stop.None() && r.Verdict == checks.Missing // the stop came before the question
		if r.Verdict != checks.Pass && !r.Same(f.Stop) && !unasked {
			line(fmt.Sprintf("! %s: %s", r.Verdict, report.Words(kind, r.Said)))
		}
	}
}

// TellFinding tells a finding where a person works: a pass in one line, with the value
// that came nearest its limit; everything else set apart, and a stop framed.
func (env *Env) TellFinding(kind *plan.Traits, f checks.Finding) { env.tellFinding("", kind, f) }

// tellFinding tells a finding, named where it is not that of the check at hand.
func (env *Env) tellFinding(name string, kind *plan.Traits, f checks.Finding) {
	width := env.Width()
	if name != "" {
		name += ": "
	}
	if name != "" && len([]rune(name))+10 > width { // a narrow terminal
		fmt.Fprintln(env.Out, Wrapped(name, "  ", width))
		name = ""
	}
	if f.Verdict == checks.Pass {
		fmt.Fprintln(env.Out, Wrapped(name+passText(f, width-len([]rune(name))), "  ", width))
		printChanges(env.Out, f, width)
		return
	}
	title, frame := name+strings.ToUpper(f.Verdict.String()), "-"
	if !f.Stop.None() {
		title, frame = title+", STOP", "*"
	}
	rule := strings.Repeat(frame, 2) + " " + title + " "
	fmt.Fprintf(env.Out, "\n  %s%s\n", rule, strings.Repeat(frame, max(2, width-len(rule)-2)))
	printAgainst(env.Out, kind, f, width)
	printChanges(env.Out, f, width)
	if near := slices.ContainsFunc(f.Derived, func(d checks.Derived) bool { return d.Verdict == checks.Inconclusive && d.Guarded() }); near {
		fmt.Fprintln(env.Out, Wrapped("repeating with this instrument will not help: take a more accurate one, or the engineer decides", "  ", width))
	}
	if !f.Stop.None() {
		fmt.Fprintf(env.Out, "  %s\n", strings.Repeat(frame, width-2))
	}
}

// passText is one line on a pass: until when it counts, where that is for hours at most,
// or the value that came nearest its limit.
func passText(f checks.Finding, width int) string {
	if f.Soon {
		return "PASS, valid until " + f.Until.Format("15:04:05")
	}
	nearest, ok := checks.Deciding(f.Derived)
	if !ok {
		return "PASS"
	}
	text := fmt.Sprintf("PASS, nearest: %s %s", nearest.Name, nearest.Text())
	if whole := text + ", limit " + nearest.BareLimit(); len([]rune(whole))+2 <= width {
		return whole
	}
	if len([]rune(text))+2 > width && width > 0 { // one line: the value stands in the handover
		return "PASS, nearest: " + nearest.Name
	}
	return text
}

// Targets are what the open fields of a row should read, one each: the part that passes
// with the instrument in hand; "" where nothing is foretold.
func Targets(in checks.Input, row []checks.Field) []string {
	out := make([]string, len(row))
	for i, f := range row {
		if i > 0 && f.Expect != nil && f.Expect == row[i-1].Expect && f.Meter == row[i-1].Meter {
			out[i] = out[i-1]
			continue
		}
		out[i] = target(in, f)
	}
	return out
}

// SharedTarget says the targets of a row in one: once where they are the same, with their
// unit once where they are not.
func SharedTarget(row []checks.Field, targets []string) string {
	if slices.Contains(targets, "") {
		return ""
	}
	if len(slices.Compact(slices.Clone(targets))) == 1 {
		return targets[0]
	}
	unit := UnitText(row[0])
	for i, t := range targets { // what is only expected stands in brackets
		if value, band, ok := strings.Cut(t, ", expected "); ok {
			band, _ = strings.CutSuffix(band, " "+unit)
			targets[i] = strings.TrimSpace(value + " (" + band + ") " + unit)
		}
	}
	for _, t := range targets {
		if unit == "" || !strings.HasSuffix(t, " "+unit) {
			return strings.Join(targets, "; ")
		}
	}
	return strings.ReplaceAll(strings.Join(targets, "; "), " "+unit+";", ";")
}

// target is what one field should read, with its unit.
func target(in checks.Input, f checks.Field) string {
	e, show := f.Expect, func(x float64) string { return quantity.Short(quantity.FromBase(x, f.Unit)) }
	unit := quantity.WithUnit(UnitText(f))
	switch {
	case f.Wanted != "":
		return f.Wanted
	case f.Side != nil:
		return sideTarget(in, f, unit)
	case e == nil:
		return ""
	}
	low, high, judged := in.Passing(f)
	switch {
	case math.IsNaN(low):
		return show(e.Value) + unit + "; no reading passes with this instrument"
	case judged:
		low, high = inward(quantity.FromBase(low, f.Unit), quantity.FromBase(high, f.Unit))
		if value := quantity.FromBase(e.Value, f.Unit); value == low || value == high {
			return fmt.Sprintf("passes %s to %s%s", quantity.Significant(low, 6), quantity.Significant(high, 6), unit)
		}
		return fmt.Sprintf("%s, passes %s to %s%s", show(e.Value), quantity.Significant(low, 6), quantity.Significant(high, 6), unit)
	}
	return fmt.Sprintf("%s, expected %s to %s%s", show(e.Value), show(e.Low), show(e.High), unit)
}

// sideTarget is the target of a field with one limit.
func sideTarget(in checks.Input, f checks.Field, unit string) string {
	x := in.PassingFrom(f)
	if math.IsNaN(x) {
		return ""
	}
	x = quantity.FromBase(x, f.Unit)
	step := math.Pow(10, math.Floor(math.Log10(x))-2)
	if math.IsNaN(f.Side.Low) {
		return "up to " + quantity.Significant(math.Floor(x/step+1e-6)*step, 6) + unit
	}
	return "from " + quantity.Significant(math.Ceil(x/step-1e-6)*step, 6) + unit
}

// inward rounds the ends of a band into it, to a step of at most a fiftieth of it, so
// that what is printed passes.
func inward(low, high float64) (float64, float64) {
	if !(high > low) {
		return low, high
	}
	step := math.Pow(10, math.Floor(math.Log10((high-low)/50)))
	return math.Ceil(low/step-1e-6) * step, math.Floor(high/step+1e-6) * step
}
