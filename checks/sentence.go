package checks

import (
	"math"
	"strings"
)

// Text is the value with its uncertainty and unit, such as "440.9 ± 2.6 V", or
// "440.9 ± at least 2.6 V" where only a part of it is known.
func (d Derived) Text() string {
	if math.IsNaN(d.Value) || math.IsInf(d.Value, 0) {
		return significant(d.Value, 1)
	}
	if !(d.U > 0) {
		return d.number() + withUnit(d.Unit)
	}
	least := ""
	if d.Known == KnownPart {
		least = "at least "
	}
	return d.number() + " ± " + least + Show(d.U, d.Unit, uncertainDecimals(d.U))
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
		return Show(d.Value, "", apart(uncertainDecimals(d.U), d.Value, limits))
	}
	return trimZeros(Show(d.Value, "", Decimals(d.Value, limits...)))
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
		return l.text(unit)
	}
	return "within " + l.text(unit)
}

// outside says where a value that fails stands: "above 50 V (plan)".
func (l Limit) outside(x float64, unit string) string {
	text := l.text(unit)
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

// text is the limit in words with its source.
func (l Limit) text(unit string) string {
	low, high := significant(l.Low, 6), significant(l.High, 6)
	src := ""
	if l.Source != "" {
		src = " (" + l.Source + ")"
	}
	switch {
	case l.Low == -l.High:
		return "±" + high + withUnit(unit) + src
	case math.IsNaN(l.Low):
		return "at most " + high + withUnit(unit) + src
	case math.IsNaN(l.High):
		return "at least " + low + withUnit(unit) + src
	}
	return low + " to " + high + withUnit(unit) + src
}

// said is the limit as data, without its source.
func (l Limit) said(unit string) Said {
	switch {
	case math.IsNaN(l.Low):
		return Say("at-most", Num("high", l.High, unit))
	case math.IsNaN(l.High):
		return Say("at-least", Num("low", l.Low, unit))
	}
	return Say("from-to", Num("low", l.Low, unit), Num("high", l.High, unit))
}

// LimitText is the limit in words with its source, in the value's unit.
func (d Derived) LimitText() string {
	if d.Limit == nil {
		return ""
	}
	return d.Limit.text(d.Unit)
}
