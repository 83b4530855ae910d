package session

import (
	"math"
	"slices"
	"strings"
	"time"

	"handback/checks"
	"handback/checks/quantity"
)

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

// Plainly tells whether an answer was typed as it was understood, but for a power of ten
// in its unit.
func Plainly(f checks.Field, a checks.Answer) bool {
	switch f.Sort {
	case checks.Measured:
		digits := strings.TrimRight(strings.TrimLeft(a.Typed, "<>=≤≥ "), "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ°·Ωµμ.% ")
		x, err := quantity.ParseNumber(digits)
		tens := math.Log10(math.Abs(quantity.FromBase(a.Value, f.Unit) / x))
		return err == nil && !strings.Contains(digits, ",") && (x == 0 || math.Abs(tens-math.Round(tens)) < 1e-9)
	case checks.Choice:
		return strings.EqualFold(a.Typed, a.Word) || slices.Equal(f.Options, checks.YesNo)
	case checks.MeterUsed, checks.Initials:
		return strings.EqualFold(a.Typed, a.Word)
	}
	return true
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
