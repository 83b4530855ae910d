package checks

import (
	"math"
	"strconv"
	"strings"
)

// significant prints x with at most n significant digits, trailing zeros cut,
// in plain decimals wherever a person would write them so.
func significant(x float64, n int) string {
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
			s = trimZeros(mant) + "e" + strings.TrimPrefix(exp, "+")
		}
	}
	return minus(trimZeros(s))
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
		panic("checks: own number " + s + " does not parse")
	}
	return x
}

func trimZeros(s string) string {
	if strings.Contains(s, ".") && !strings.ContainsAny(s, "e") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	return s
}

func withUnit(unit string) string {
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
		return significant(x, 1)
	}
	if math.Abs(x) >= 1e12 {
		return significant(x, 6) + withUnit(unit)
	}
	s := strconv.FormatFloat(x, 'f', decimals, 64)
	if strings.Trim(s, "-0.") == "" {
		s = strings.TrimPrefix(s, "-")
	}
	return minus(s) + withUnit(unit)
}

// Decimals is how many decimals a value needs so that it shows three
// significant digits, and so that value and limit print differently whenever
// they differ. A value judged against 5 with uncertainty shows 0.55, not 0.553219.
func Decimals(x float64, limits ...float64) int { return apart(wanted(x), x, limits) }

// apart raises the decimals from d until value and limits print differently.
func apart(d int, x float64, limits []float64) int {
	for ; d < 12; d++ {
		same := false
		for _, l := range limits {
			if !math.IsNaN(l) && !math.IsInf(l, 0) && x != l && math.Abs(x-l) > slack*math.Abs(l) &&
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
func Number(x float64) string { return significant(x, 12) }

// Short prints x with at most four significant digits.
func Short(x float64) string { return significant(x, 4) }

// Neat prints a base-unit value in the unit of its quantity that keeps the figure
// short: 10 GΩ, 0.1 µΩ, 15 kV, 30 min. Only the SI's own units are taken.
func Neat(x float64, symbol string) string {
	base, ok := bySymbol(symbol)
	if !ok || base.factor != 1 || base.offset != 0 || x == 0 || math.IsNaN(x) || math.IsInf(x, 0) {
		return spell(x, symbol)
	}
	best, found := base, false
	for _, u := range units { // the base unit stands first
		thousands := math.Log10(u.factor) / 3
		decimal := u.offset == 0 && math.Abs(thousands-math.Round(thousands)) < 1e-9
		if u.of != base.of || !decimal && u.of != "duration" || u.factor < 1 && u.of != "resistance" {
			continue // 0.3 Hz and 0.5 V are said so
		}
		least := u.factor
		if u.of == "duration" && u.factor > 1 {
			least *= 2 // 90 s and 60 min, not 1.5 min and 1 h
		}
		switch fits := math.Abs(x) >= least*(1-slack); {
		case fits && (!found || u.factor > best.factor):
			best, found = u, true
		case !fits && !found && u.factor < best.factor:
			best = u
		}
	}
	return spell(x/best.factor, best.symbol)
}
