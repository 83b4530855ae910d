package quantity

import (
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode"
)

// Patterns are regular expressions for what the parsers here read, for a schema that
// knows text alone. They are of the sort that JSON Schema asks for (ECMA-262).

// NumberPattern is the shape of a number as ParseNumber reads it.
const NumberPattern = `[-+−]?([0-9]+([.,][0-9]*)?|[.,][0-9]+)([eE][-+]?[0-9]{1,2})?`

// QuantityPattern is a number with one of some units.
func QuantityPattern(units []string) string {
	return `^\s*` + NumberPattern + `\s*(` + strings.Join(units, "|") + `)\s*$`
}

// UnitPatterns are the ways to write the units of a quantity, as findUnit reads
// them: any capitals, but m and M kept apart where they are a prefix.
func UnitPatterns(of string) []string {
	var out []string
	for _, u := range Units {
		if u.Of == of {
			out = append(out, unitPattern(u.Symbol))
		}
	}
	for typed, symbol := range Spellings {
		if QuantityOf(symbol) == of {
			out = append(out, unitPattern(typed))
		}
	}
	slices.Sort(out)
	return slices.Compact(out)
}

func unitPattern(name string) string {
	if FirstStands(name) {
		return name[:1] + foldCase(name[1:])
	}
	return foldCase(name)
}

// ExactUnits are the ways to write any unit, as ParseAmount reads them.
func ExactUnits() []string {
	var out []string
	for _, u := range Units {
		if u.Symbol[0] == '1' { // 51 is no 5 of unit 1, nor 51/min one of 1/min
			out = append(out, `\s`+regexp.QuoteMeta(u.Symbol))
			continue
		}
		out = append(out, regexp.QuoteMeta(u.Symbol))
	}
	for typed := range Spellings {
		out = append(out, regexp.QuoteMeta(typed))
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// foldCase is a pattern for s in any capitals, the foldings of strings.EqualFold.
func foldCase(s string) string {
	var b strings.Builder
	for _, r := range s {
		set := []rune{r}
		for f := unicode.SimpleFold(r); f != r; f = unicode.SimpleFold(f) {
			set = append(set, f)
		}
		if len(set) == 1 {
			b.WriteString(regexp.QuoteMeta(string(r)))
			continue
		}
		slices.Sort(set)
		b.WriteString("[" + string(set) + "]")
	}
	return b.String()
}

// AbovePattern is a number of a quantity above most of a unit, and BelowPattern one from
// nothing to below least. What is written with an exponent they do not tell, and slack
// they do not grant.
func AbovePattern(of string, most float64, unit string) string {
	return outside(of, most, unit, digitsAbove)
}

func BelowPattern(of string, least float64, unit string) string {
	return outside(of, least, unit, digitsBelow)
}

func outside(of string, bound float64, unit string, digits func(whole, part string) []string) string {
	base := ToBase(bound, unit)
	var each []string
	for _, u := range Units {
		x := FromBase(base, u.Symbol)
		if u.Of != of || u.Symbol[0] == '1' || !(x >= 0 && x < 1e15) { // 51 is no 5 of unit 1
			continue
		}
		x, _ = strconv.ParseFloat(strconv.FormatFloat(x, 'g', 12, 64), 64) // as it would be written
		whole, part, _ := strings.Cut(strconv.FormatFloat(x, 'f', -1, 64), ".")
		names := []string{unitPattern(u.Symbol)}
		for typed, symbol := range Spellings {
			if symbol == u.Symbol {
				names = append(names, unitPattern(typed))
			}
		}
		slices.Sort(names)
		if d := digits(strings.TrimLeft(whole, "0"), part); len(d) > 0 {
			each = append(each, "("+strings.Join(d, "|")+`)\s*(`+strings.Join(slices.Compact(names), "|")+")")
		}
	}
	return `^\s*\+?0*(` + strings.Join(each, "|") + `)\s*$`
}

const point = "[.,]"

// digitsAbove are the patterns of numbers above whole.part, leading noughts aside.
func digitsAbove(whole, part string) []string {
	out := []string{"[1-9]" + repeated("[0-9]", len(whole), true) + fraction}
	for i, d := range whole {
		if d < '9' {
			out = append(out, whole[:i]+span(d+1, '9')+repeated("[0-9]", len(whole)-i-1, false)+fraction)
		}
	}
	for i, d := range part {
		if d < '9' {
			out = append(out, whole+point+part[:i]+span(d+1, '9')+"[0-9]*")
		}
	}
	return append(out, whole+point+part+"[0-9]*[1-9][0-9]*")
}

// digitsBelow are the patterns of numbers below whole.part, leading noughts aside.
func digitsBelow(whole, part string) []string {
	var out []string
	if len(whole) > 1 {
		out = append(out, "[0-9]{0,"+strconv.Itoa(len(whole)-1)+"}"+fraction)
	} else if len(whole) == 1 {
		out = append(out, fraction)
	}
	for i, d := range whole {
		low := '0'
		if i == 0 {
			low = '1' // noughts before it are read already
		}
		if d > low {
			out = append(out, whole[:i]+span(low, d-1)+repeated("[0-9]", len(whole)-i-1, false)+fraction)
		}
	}
	for i, d := range part {
		out = append(out, whole+"("+point+part[:i]+"0*)?") // it does not end in noughts itself
		if d > '0' {
			out = append(out, whole+point+part[:i]+span('0', d-1)+"[0-9]*")
		}
	}
	return out
}

const fraction = "(" + point + "[0-9]*)?"

func span(from, to rune) string { return "[" + string(from) + "-" + string(to) + "]" }

func repeated(what string, n int, more bool) string {
	switch {
	case more:
		return what + "{" + strconv.Itoa(n) + ",}"
	case n == 0:
		return ""
	}
	return what + "{" + strconv.Itoa(n) + "}"
}
