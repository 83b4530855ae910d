package report

import (
	"strings"

	"handback/checks"
)

// Every formula below is made of functions of ISO/IEC 29500-1, 18.17.7, which
// OpenFormula has under the same names.

// slackText is the relative slack of a limit, see checks.Limit.
const slackText = "1E-9"

// quoted is a text constant of a formula.
func quoted(s string) string { return `"` + strings.ReplaceAll(s, `"`, `""`) + `"` }

func wordOf(v checks.Verdict) string { return strings.ToUpper(v.String()) }

func verdictText(v checks.Verdict) string { return quoted(wordOf(v)) }

// limitTexts say, over the cells of a value, its uncertainty and its limits, whether
// it is shown inside and shown beyond. A limit that is no number is none.
type limitTexts struct{ value, low, high, guard string }

// limitsOf takes the row of a derived value; guard is empty where it is judged
// without its uncertainty.
func limitsOf(c Cell, guarded bool) limitTexts {
	t := limitTexts{value: c.Name(), low: c.In(colLow).Name(), high: c.In(colHigh).Name()}
	if guarded {
		t.guard = c.In(colSpread).Name()
	}
	return t
}

// drawn is a limit moved by the guard and the slack, such as E9+C9-1E-9*ABS(E9).
func (t limitTexts) drawn(limit, guardSign, slackSign string) string {
	s := limit
	if t.guard != "" {
		s += guardSign + t.guard
	}
	return s + slackSign + slackText + "*ABS(" + limit + ")"
}

func ifThere(limit, test, none string) string {
	return "IF(ISNUMBER(" + limit + ")," + test + "," + none + ")"
}

func (t limitTexts) inside() string {
	return "AND(" + ifThere(t.low, t.value+">="+t.drawn(t.low, "+", "-"), "TRUE") + "," + ifThere(t.high, t.value+"<="+t.drawn(t.high, "-", "+"), "TRUE") + ")"
}

func (t limitTexts) beyondLow() string {
	return ifThere(t.low, t.value+"<"+t.drawn(t.low, "-", "-"), "FALSE")
}
func (t limitTexts) beyondHigh() string {
	return ifThere(t.high, t.value+">"+t.drawn(t.high, "+", "+"), "FALSE")
}

// known wraps a verdict: what cannot be worked out is inconclusive, never a pass.
func (t limitTexts) known(verdict string) string {
	count := "COUNT(" + t.value + ")=1"
	if t.guard != "" {
		count = "COUNT(" + t.value + "," + t.guard + ")=2"
	}
	return "IF(AND(" + count + ",COUNT(" + t.low + "," + t.high + ")>0)," + verdict + "," + verdictText(checks.Inconclusive) + ")"
}

// verdictFormula judges a derived value where it stands, as checks.decide and
// checks.HoldBounded do. The uncertainty is that of the readings as recorded, and an
// instrument may read others in another range: where some were changed, of which
// another cell holds the number, a value does not pass.
func verdictFormula(d checks.Derived, c Cell, changed string) string {
	t := limitsOf(c, d.Guarded())
	fail, open := verdictText(checks.Fail), verdictText(checks.Inconclusive)
	pass := "IF(" + changed + "=0," + verdictText(checks.Pass) + "," + open + ")"
	switch {
	case d.Bound == ">":
		return t.known("IF(AND(NOT(ISNUMBER(" + t.high + "))," + t.inside() + ")," + pass + ",IF(" + t.beyondHigh() + "," + fail + "," + open + "))")
	case d.Bound == "<":
		return t.known("IF(AND(NOT(ISNUMBER(" + t.low + "))," + t.inside() + ")," + pass + ",IF(" + t.beyondLow() + "," + fail + "," + open + "))")
	case !d.Guarded():
		return t.known("IF(" + t.inside() + "," + pass + "," + fail + ")")
	}
	return t.known("IF(" + t.inside() + "," + pass + ",IF(OR(" + t.guard + "=0," + t.beyondLow() + "," + t.beyondHigh() + ")," + fail + "," + open + "))")
}

// chanceFormula is the chance that the value is out, as checks works it out
// (JCGM 106:2012, 7), over its standard uncertainty and the most that any error can
// be, which stand in its working.
func chanceFormula(c, working Cell) string {
	t, u := limitsOf(c, false), c.In(colSpread).Name()
	standard, most := working.In(workStandard).Ref(), working.In(workMost).Ref()
	shape := "((" + most + "/" + standard + ")^2-1)/2"
	tail := func(d string) string {
		return "IF(" + d + ">=" + most + ",0,IF(" + d + "<=-" + most + ",1,BETADIST((1-(" + d + ")/" + most + ")/2," + shape + "," + shape + ")))"
	}
	out := ifThere(t.high, tail(t.high+"-"+t.value), "0") + "+" + ifThere(t.low, tail(t.value+"-"+t.low), "0")
	return "IF(OR(COUNT(" + t.value + "," + u + ")<2," + working.In(workChanged).Ref() + ">0)," + quoted(notKnown) + ",IF(" + u + "=0,IF(" + t.inside() + ",0,1),IF(" + out + "<" + leastChanceText + ",0,MIN(1," + out + "))))"
}

// leastChanceText is under what a chance counts as none, see checks.
const leastChanceText = "1E-6"

// worstFormula combines the verdicts of a column of reasons, of which there are n:
// the one that weighs most, and a pass only when all of them pass and no answer was
// changed: what no formula judges again may hang on any.
func worstFormula(from, to Cell, n int, inputs string) string {
	area := from.Name() + ":" + to.Name()
	s := "IF(AND(COUNTIF(" + area + "," + verdictText(checks.Pass) + ")=" + itoa(n) + ",SUM(" + inputs + ")=0)," + verdictText(checks.Pass) + "," + verdictText(checks.Inconclusive) + ")"
	for _, v := range []checks.Verdict{checks.Missing, checks.Fail, checks.Void} {
		s = "IF(COUNTIF(" + area + "," + verdictText(v) + ")>0," + verdictText(v) + "," + s + ")"
	}
	return s
}

// withoutFailure keeps a failure that may rest on a doubted reading from counting.
func withoutFailure(verdict string) string {
	return "IF(" + verdict + "=" + verdictText(checks.Fail) + "," + verdictText(checks.Inconclusive) + "," + verdict + ")"
}

// plural writes a count with its noun.
func plural(count, one, many string) string {
	return count + "&IF(" + count + "=1," + quoted(" "+one) + "," + quoted(" "+many) + ")"
}
