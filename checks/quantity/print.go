package quantity

import (
	"math"
	"strconv"
	"strings"
)

// Significant prints x with at most n significant digits, trailing zeros cut,
// in plain decimals wherever a person would write them so.
func Significant(x float64, n int) string {
	if math.IsNaN(x) {
		return "not a number"
	}
	if math.IsInf(x, 0) {
		return "beyond all numbers"
	}
	if x == 0 {
		return "0"
	}
	s := strconv.FormatFloat(x, 'g', n, 64)
	if mant, exp, ok := strings.Cut(s, "e"); ok {
		if e, _ := strconv.Atoi(exp); e >= -6 && e < 12 {
			s = strconv.FormatFloat(mustFloat(s), 'f', -1, 64)
		} else {
			s = TrimZeros(mant) + "e" + strings.TrimPrefix(exp, "+")
		}
	}
	return minus(TrimZeros(s))
}

// minus writes a leading sign as the printed minus; an exponent keeps its own.
func minus(s string) string {
	if rest, ok := strings.CutPrefix(s, "-"); ok {
		return "−" + rest
	}
	return s
}

func mustFloat(s string) float64 {
	x, err := strconv.ParseFloat(s, 64)
	if err != nil {
		panic("quantity: own number " + s + " does not parse")
	}
	return x
}

func TrimZeros(s string) string {
	if strings.Contains(s, ".") && !strings.ContainsAny(s, "e") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	return s
}

func WithUnit(unit string) string {
	switch unit {
	case "", "1":
		return ""
	case "°":
		return unit
	}
	return " " + unit
}

// Show prints a base-unit value in its unit with digits decimals; what rounds to
// zero has no sign. From 10¹² on no reading has decimals, and six digits are shown.
func Show(x float64, unit string, decimals int) string {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return Significant(x, 1)
	}
	if math.Abs(x) >= 1e12 {
		return Significant(x, 6) + WithUnit(unit)
	}
	s := strconv.FormatFloat(x, 'f', decimals, 64)
	if strings.Trim(s, "-0.") == "" {
		s = strings.TrimPrefix(s, "-")
	}
	return minus(s) + WithUnit(unit)
}

// Decimals is how many decimals a value needs so that it shows three
// significant digits, and so that value and limit print differently whenever
// they differ. A value judged against 5 with uncertainty shows 0.55, not 0.553219.
func Decimals(x float64, limits ...float64) int { return DistinctDecimals(wanted(x), x, limits) }

// DistinctDecimals raises the decimals from d until value and limits print differently.
func DistinctDecimals(d int, x float64, limits []float64) int {
	for ; d < 12; d++ {
		same := false
		for _, l := range limits {
			if !math.IsNaN(l) && !math.IsInf(l, 0) && x != l && math.Abs(x-l) > Slack*math.Abs(l) &&
				strconv.FormatFloat(x, 'f', d, 64) == strconv.FormatFloat(l, 'f', d, 64) {
				same = true
			}
		}
		if !same {
			break
		}
	}
	return d
}

func wanted(x float64) int {
	a := math.Abs(x)
	switch {
	case a == 0 || math.IsNaN(a) || math.IsInf(a, 0):
		return 0
	case a >= 1000:
		return 0
	case a >= 100:
		return 1
	case a >= 0.1:
		return 2
	}
	return min(12, int(math.Ceil(-math.Log10(a)))+1)
}

// Number prints x with at most twelve significant digits and no more than it
// holds: an answer echoed as it was understood.
func Number(x float64) string { return Significant(x, 12) }

// Short prints x with at most four significant digits.
func Short(x float64) string { return Significant(x, 4) }

// Neat prints a base-unit value in the unit of its quantity that keeps the figure
// short: 10 GΩ, 0.1 µΩ, 15 kV, 30 min. Only the SI's own units are taken.
func Neat(x float64, symbol string) string {
	u := neatest(x, symbol)
	return Spell(x/u.Factor, u.Symbol)
}

// NeatUnit is the unit in which Neat tells a figure of a base unit.
func NeatUnit(x float64, symbol string) string { return neatest(x, symbol).Symbol }

// Large figures in a base unit are told in a larger one, those that can be told at all.
const (
	Large    = 1e6
	tooLarge = 1e15
)

// Larger is the unit in which figures of a base unit are told together where one of them
// is Large, and how many of the base unit it holds: 850 MΩ and 1 MΩ. Else it is the unit
// itself.
func Larger(symbol string, figures ...float64) (in string, holds float64) {
	least := math.Inf(1)
	for _, x := range figures {
		if a := math.Abs(x); a >= Large && a < min(least, tooLarge) {
			least = a
		}
	}
	if math.IsInf(least, 1) {
		return symbol, 1
	}
	u := neatest(least, symbol)
	return u.Symbol, u.Factor
}

// neatest is the unit that Neat tells a figure in.
func neatest(x float64, symbol string) unit {
	base, ok := BySymbol(symbol)
	if !ok || base.Factor != 1 || base.Offset != 0 || x == 0 || math.IsNaN(x) || math.IsInf(x, 0) {
		return unit{Symbol: symbol, Factor: 1}
	}
	best, found := base, false
	for _, u := range Units { // the base unit stands first
		thousands := math.Log10(u.Factor) / 3
		decimal := u.Offset == 0 && math.Abs(thousands-math.Round(thousands)) < 1e-9
		if u.Of != base.Of || !decimal && u.Of != "duration" || u.Factor < 1 && u.Of != "resistance" {
			continue // 0.3 Hz and 0.5 V are said so
		}
		least := u.Factor
		if u.Of == "duration" && u.Factor > 1 {
			least *= 2 // 90 s and 60 min, not 1.5 min and 1 h
		}
		switch fits := math.Abs(x) >= least*(1-Slack); {
		case fits && (!found || u.Factor > best.Factor):
			best, found = u, true
		case !fits && !found && u.Factor < best.Factor:
			best = u
		}
	}
	return best
}

func Spell(x float64, unit string) string { return Significant(x, 6) + WithUnit(unit) }
