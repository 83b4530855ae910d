package plan

import (
	"fmt"
	"math"
	"strings"
	"time"

	"handback/checks/quantity"
)

// RangeFor is the range that reads x: the smallest whose top holds it.
// ok is false when no range of that quantity does.
func (m *Meter) RangeFor(of string, x float64) (Range, bool) {
	var best Range
	found := false
	for _, r := range m.Ranges {
		if r.To.Of != of || quantity.Above(math.Abs(x), r.To.Value) || r.From != nil && quantity.Below(math.Abs(x), r.From.Value) {
			continue
		}
		if !found || r.To.Value < best.To.Value {
			best, found = r, true
		}
	}
	return best, found
}

// Measures tells whether the meter has any range of the quantity.
func (m *Meter) Measures(of string) bool {
	for _, r := range m.Ranges {
		if r.To.Of == of {
			return true
		}
	}
	return false
}

// ErrorAt gives the half-widths of a reading's error: gain grows with the reading,
// span is a share of the range, step is the reading's own.
//
//	gain = reading % · |x|      span = of_range % · top      step = max(digits, ½) · resolution
//
// No error is below half of the last digit, whatever the maker states. known is
// false when the range states no accuracy; half a digit is all that is known then.
func (r Range) ErrorAt(x float64) (gain, span, step float64, known bool) {
	if r.Reading != nil {
		gain, known = float64(*r.Reading)/100*math.Abs(x), true
	}
	if r.OfRange != nil {
		span, known = float64(float64(*r.OfRange)/100*r.To.Value), true
	}
	digits := 0.0
	if r.Digits != nil {
		digits, known = *r.Digits, true
	}
	if r.Resolution != nil {
		step = math.Max(digits, 0.5) * r.Resolution.Value
	}
	return gain, span, step, known
}

// OutOfDate says why an instrument does not count at a time, "" when it does.
// A calibration holds to the end of its due day.
func (m *Meter) OutOfDate(at time.Time) string {
	y, mo, d := m.Due.Date()
	end := time.Date(y, mo, d+1, 0, 0, 0, 0, at.Location())
	if at.Before(end) {
		return ""
	}
	return fmt.Sprintf("%s (serial %s) was due for calibration on %s", m.Name, m.Serial, m.Due.Format("2006-01-02"))
}

// InDate tells whether the calibration holds at a time.
func (m *Meter) InDate(at time.Time) bool { return m.OutOfDate(at) == "" }

// Words is the range with its accuracy, such as "to 600 V: ±(0.5 % of reading + 3 digits of 0.1 V)".
func (r Range) Words() string {
	span := "to " + quantity.Neat(r.To.Value, quantity.BaseUnit(r.To.Of))
	if r.From != nil {
		span = quantity.Neat(r.From.Value, quantity.BaseUnit(r.To.Of)) + " " + span
	}
	var parts []string
	if r.Reading != nil {
		parts = append(parts, quantity.Spell(float64(*r.Reading), "%")+" of reading")
	}
	if r.Digits != nil {
		parts = append(parts, quantity.Significant(*r.Digits, 3)+" digits of "+quantity.Neat(r.Resolution.Value, quantity.BaseUnit(r.To.Of)))
	}
	if r.OfRange != nil {
		parts = append(parts, quantity.Spell(float64(*r.OfRange), "%")+" of range")
	}
	if len(parts) == 0 {
		return span + ": accuracy not stated"
	}
	return span + ": ±(" + strings.Join(parts, " + ") + ")"
}
