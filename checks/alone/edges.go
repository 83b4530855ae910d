package alone

import (
	"cmp"
	"math"
	"slices"
	"strconv"

	"handback/checks"
	"handback/checks/calc"
	"handback/checks/quantity"
)

// digits are as many significant ones as every spreadsheet reads of a number.
const digits = 12

// An edge is closed in by so many halvings, by fewer where no side of it passes.
const halvings, halvingsBeyond = 6, 3

// told is a probe of a number.
type told struct {
	at float64
	is string
}

// byNumber is the verdict by the number in a cell. Between two numbers that were judged
// otherwise, the worse of both stands; beyond all of them nothing is known.
func (p prober) byNumber(cell string, from []float64, whole bool, judge func(float64) string) calc.Choice {
	probes := probed(from, whole, judge)
	if len(probes) == 0 {
		return calc.Word(checks.Unreached)
	}
	type part struct {
		test calc.Test
		is   string
	}
	parts := []part{{calc.Under{Cell: cell, Number: probes[0].at}, checks.Unreached}}
	for i, next := range probes[1:] {
		switch last := probes[i]; {
		case next.is == last.is:
		case badness(last.is) >= badness(next.is):
			parts = append(parts, part{calc.Under{Cell: cell, Number: next.at}, last.is})
		default:
			parts = append(parts, part{calc.Under{Cell: cell, Number: last.at, At: true}, last.is})
		}
	}
	last := probes[len(probes)-1]
	parts = append(parts, part{calc.Under{Cell: cell, Number: last.at, At: true}, last.is})
	var c calc.Choice = calc.Word(checks.Unreached)
	for _, x := range slices.Backward(parts) {
		c = calc.If{Test: x.test, Then: calc.Word(x.is), Else: c}
	}
	return c
}

// probed judges the numbers to begin with, in order, and closes in on every edge between
// them.
func probed(from []float64, whole bool, judge func(float64) string) (out []told) {
	for i, x := range from {
		from[i] = rounded(x, whole)
	}
	from = slices.DeleteFunc(from, func(x float64) bool { return !quantity.Finite(x) })
	slices.Sort(from)
	for _, x := range slices.Compact(from) {
		next := told{x, judge(x)}
		if n := len(out); n > 0 {
			last, times := out[n-1], halvingsBeyond
			if pass := checks.Pass.Shown(); last.is == pass || next.is == pass {
				times = halvings
			}
			out = append(out, between(last, next, times, whole, judge)...)
		}
		out = append(out, next)
	}
	return out
}

// between are probes between two of different verdicts that close in on where they turn.
func between(a, b told, times int, whole bool, judge func(float64) string) []told {
	mid := told{at: rounded((a.at+b.at)/2, whole)}
	if a.is == b.is || times == 0 || mid.at <= a.at || mid.at >= b.at {
		return nil
	}
	mid.is = judge(mid.at)
	left := between(a, mid, times-1, whole, judge)
	return append(append(left, mid), between(mid, b, times-1, whole, judge)...)
}

// badness orders verdicts; what is not known is worse than a pass, and better than what
// is known to be none.
func badness(v string) int {
	return cmp.Or(map[string]int{checks.Pass.Shown(): 1, checks.Unreached: 2, checks.Inconclusive.Shown(): 3, checks.Missing.Shown(): 4, checks.Fail.Shown(): 5, checks.Void.Shown(): 6}[v], 7)
}

func rounded(x float64, whole bool) float64 {
	if whole {
		return math.Round(x)
	}
	out, err := strconv.ParseFloat(strconv.FormatFloat(x, 'g', digits, 64), 64)
	if err != nil {
		return math.NaN()
	}
	return out
}
