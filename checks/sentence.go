package checks

import (
	"math"
	"strings"

	"handback/checks/calc"
	"handback/checks/quantity"
)

// Text is the value with its uncertainty and unit, such as "440.9 ± 2.6 V", or
// "440.9 ± at least 2.6 V" where only a part of it is known.
func (d Derived) Text() string {
	if math.IsNaN(d.Value) || math.IsInf(d.Value, 0) {
		return quantity.Significant(d.Value, 1)
	}
	d = d.inLarger()
	if !(d.U > 0) {
		return d.number() + quantity.WithUnit(d.Unit)
	}
	least := ""
	if d.Known == calc.KnownPart {
		least = "at least "
	}
	return d.number() + " ± " + least + quantity.Show(d.U, d.Unit, uncertainDecimals(d.U))
}

// inLarger is the value, its uncertainty and its limit in the unit they are told in: in
// MΩ where they take seven figures in Ω.
func (d Derived) inLarger() Derived {
	figures := []float64{d.Value}
	if d.Limit != nil {
		figures = append(figures, d.Limit.Low, d.Limit.High)
	}
	unit, holds := quantity.Larger(d.Unit, figures...)
	d.Unit, d.Value, d.U = unit, d.Value/holds, d.U/holds
	if d.Limit != nil {
		d.Limit = &Limit{Low: d.Limit.Low / holds, High: d.Limit.High / holds, Source: d.Limit.Source}
	}
	return d
}

// number is the value without its unit: to the decimals of two significant digits
// of its uncertainty where that is known, and to more where value and limit would
// print alike.
func (d Derived) number() string {
	limits := []float64{}
	if d.Limit != nil {
		limits = []float64{d.Limit.Low, d.Limit.High}
	}
	if d.U > 0 {
		return quantity.Show(d.Value, "", quantity.DistinctDecimals(uncertainDecimals(d.U), d.Value, limits))
	}
	return quantity.TrimZeros(quantity.Show(d.Value, "", quantity.Decimals(d.Value, limits...)))
}

// OfLimit is how far a value has gone towards its limit, its uncertainty included: 1 at
// the limit. Negative where nothing compares.
func (d Derived) OfLimit() float64 {
	l := d.Limit
	u := d.U
	if !(u > 0) {
		u = 0
	}
	switch {
	case l == nil || math.IsNaN(d.Value):
		return -1
	case math.IsNaN(l.Low) && l.High != 0:
		return (d.Value + u) / l.High
	case math.IsNaN(l.High) && d.Value != 0:
		return l.Low / (d.Value - u)
	case l.High > l.Low:
		return (math.Abs(d.Value-(l.Low+l.High)/2) + u) / ((l.High - l.Low) / 2)
	}
	return -1
}

// Deciding is the value a verdict hangs on: of those with the worst verdict the one
// that has gone farthest towards its limit, or beyond it. A condition of the test decides
// only where it is not met. None has a limit: not ok.
func Deciding(values []Derived) (d Derived, ok bool) {
	for _, v := range values {
		if v.Limit == nil || v.Verdict == Pass && (v.Condition || v.OfLimit() < 0) {
			continue
		}
		worse := v.Verdict != d.Verdict && Worst(v.Verdict, d.Verdict) == v.Verdict
		if !ok || worse || v.Verdict == d.Verdict && v.OfLimit() > d.OfLimit() {
			d, ok = v, true
		}
	}
	return d, ok
}

// Margin is how far a value lies from the nearer of its limits, in its own unit, without
// its uncertainty; negative beyond the limit. NaN without one.
func (d Derived) Margin() float64 {
	if d.Limit == nil {
		return math.NaN()
	}
	m := math.Inf(1)
	for _, room := range []float64{d.Value - d.Limit.Low, d.Limit.High - d.Value} {
		if !math.IsNaN(room) {
			m = math.Min(m, room)
		}
	}
	if math.IsInf(m, 0) {
		return math.NaN()
	}
	return m
}

// MarginText is the margin with its unit, to the decimals of the value; "" for none.
func (d Derived) MarginText() string {
	d = d.inLarger()
	m := d.Margin()
	if math.IsNaN(m) || d.Bound != "" {
		return ""
	}
	if d.U > 0 {
		return quantity.Show(m, d.Unit, quantity.DistinctDecimals(uncertainDecimals(d.U), m, []float64{0}))
	}
	return quantity.TrimZeros(quantity.Show(m, "", quantity.Decimals(m))) + quantity.WithUnit(d.Unit)
}

// Bare is the limit in words without its source.
func (l Limit) Bare(unit string) string {
	l.Source = ""
	return l.Text(unit)
}

func uncertainDecimals(u float64) int {
	return max(0, min(12, 1-int(math.Floor(math.Log10(u)))))
}

// code says how the value stands to its limit.
func (d Derived) code() string {
	switch {
	case math.IsNaN(d.Value) || math.IsInf(d.Value, 0):
		return "not-worked-out"
	case d.Verdict == Pass:
		return "within"
	case d.Verdict == Fail:
		return "beyond"
	}
	return "not-told"
}

// inside says where a value that passes stands: "at most 50 V (plan)".
func (l Limit) inside(unit string) string {
	if math.IsNaN(l.Low) || math.IsNaN(l.High) {
		return l.Text(unit)
	}
	return "within " + l.Text(unit)
}

// outside says where a value that fails stands: "above 50 V (plan)".
func (l Limit) outside(x float64, unit string) string {
	text := l.Text(unit)
	switch {
	case l.Low == -l.High:
		return "beyond " + text
	case math.IsNaN(l.Low):
		return "above " + strings.TrimPrefix(text, "at most ")
	case math.IsNaN(l.High):
		return "below " + strings.TrimPrefix(text, "at least ")
	case x < l.Low:
		return "below " + text
	}
	return "above " + text
}

// Text is the limit in words with its source.
func (l Limit) Text(unit string) string {
	low, high := quantity.Significant(l.Low, 6), quantity.Significant(l.High, 6)
	src := ""
	if l.Source != "" {
		src = " (" + l.Source + ")"
	}
	switch {
	case l.Low == -l.High:
		return "±" + high + quantity.WithUnit(unit) + src
	case math.IsNaN(l.Low):
		return "at most " + high + quantity.WithUnit(unit) + src
	case math.IsNaN(l.High):
		return "at least " + low + quantity.WithUnit(unit) + src
	}
	return low + " to " + high + quantity.WithUnit(unit) + src
}

// Said is the limit as data, without its source.
func (l Limit) Said(unit string) Said {
	switch {
	case math.IsNaN(l.Low):
		return Say("at-most", Num("high", l.High, unit))
	case math.IsNaN(l.High):
		return Say("at-least", Num("low", l.Low, unit))
	}
	return Say("from-to", Num("low", l.Low, unit), Num("high", l.High, unit))
}

// BareLimit is the limit in words without its source, in the unit the value is told in.
func (d Derived) BareLimit() string {
	d = d.inLarger()
	return d.Limit.Bare(d.Unit)
}

// LimitText is the limit in words with its source, in the value's unit.
func (d Derived) LimitText() string {
	if d.Limit == nil {
		return ""
	}
	d = d.inLarger()
	return d.Limit.Text(d.Unit)
}
