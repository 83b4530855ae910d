// Package alone finds what a check comes to when one of its answers alone is changed and
// all others stay as recorded. It knows no rule: it has the check judged with other
// answers, and keeps what came out as a choice.
//
// Its words:
//
//	probe      one other answer, judged
//	edge       a number at which the verdict changes, closed in by probes
//	unreached  what no probe tells
package alone

import (
	"maps"
	"slices"
	"strconv"
	"time"

	"handback/checks"
	"handback/checks/calc"
	"handback/checks/plan"
	"handback/checks/quantity"
)

// Cells of the choice.
const (
	Cell    = "now"     // what stands for the answer: a number in the unit of its field, or its word
	Seconds = "seconds" // of a time: how long after the recorded one
)

// Of is what the check comes to by the answer of a field alone, in capitals, or
// checks.Unreached: where that is not known, and of what would not be taken. left counts
// down the probes that may be made; once there are none left, nothing is known.
func Of(in checks.Input, f checks.Field, left *int) calc.Choice {
	p := prober{in: in, field: f, was: in.Answers[f.Key], left: left}
	var c calc.Choice = calc.Word(checks.Unreached)
	switch f.Sort {
	case checks.Measured, checks.Count:
		c = p.numbers()
	case checks.Instant:
		c = calc.If{Test: calc.Number(Seconds), Then: p.byNumber(Seconds, p.moved(), true, p.instant), Else: c}
	case checks.Choice:
		c = p.words(f.Options, f.Options)
	case checks.MeterUsed:
		ids := plan.IDsOf(in.Plan.Meters, func(m plan.Meter) string { return m.ID })
		c = p.words(ids, ids)
	case checks.Initials:
		c = p.words(plan.IDsOf(in.Plan.People, func(q plan.Person) string { return q.Name }), plan.IDsOf(in.Plan.People, func(q plan.Person) string { return q.ID }))
	}
	return calc.If{Test: calc.Typed{Cell: Cell}, Then: calc.Word(p.judge(nil)), Else: c}
}

// prober has a check judged with other answers for one field.
type prober struct {
	in    checks.Input
	field checks.Field
	was   checks.Answer
	left  *int
}

// judge is the verdict with another answer, or without one.
func (p prober) judge(is *checks.Answer) string {
	if *p.left--; *p.left < 0 {
		return checks.Unreached
	}
	in := p.in
	in.Answers = maps.Clone(in.Answers)
	delete(in.Answers, p.field.Key)
	if is != nil {
		is.Bound, is.Kept, is.Unit = p.was.Bound, p.was.Kept, p.was.Unit
		in.Answers[p.field.Key] = *is
	}
	if len(in.Refused()) > 0 {
		return checks.Unreached
	}
	return checks.VerdictOf(in).Shown()
}

// words are the verdicts by what a cell shows; two that show the same tell nothing.
func (p prober) words(shown, typed []string) calc.Choice {
	var c calc.Choice = calc.Word(checks.Unreached)
	for i, s := range shown {
		if s != "" && !slices.ContainsFunc(shown[:i], func(o string) bool { return calc.SameWord(o, s) }) {
			twice := slices.ContainsFunc(shown[i+1:], func(o string) bool { return calc.SameWord(o, s) })
			if v := p.judge(&checks.Answer{Typed: typed[i], Word: typed[i]}); !twice {
				c = calc.If{Test: calc.Typed{Cell: Cell, Word: s}, Then: calc.Word(v), Else: c}
			}
		}
	}
	return c
}

// instant is the verdict so many seconds after the recorded time.
func (p prober) instant(seconds float64) string {
	word := p.was.Time().Add(time.Duration(seconds) * time.Second).Format(time.RFC3339)
	return p.judge(&checks.Answer{Typed: word, Word: word})
}

// moved are the times to begin with, in seconds from the recorded one.
func (p prober) moved() (out []float64) {
	for _, by := range []float64{0, 1, 60, 300, 900, 3600, 3 * 3600, 12 * 3600, 24 * 3600, 7 * 24 * 3600} {
		out = append(out, by, -by)
	}
	return out
}

// number is the verdict of a number in the field's own unit.
func (p prober) number(x float64) string {
	a := checks.Answer{Typed: strconv.FormatFloat(x, 'f', -1, 64), Value: x}
	if p.field.Unit != "" {
		a.Typed, a.Value = a.Typed+" "+p.field.Unit, quantity.ToBase(x, p.field.Unit)
	}
	return p.judge(&a)
}

func (p prober) numbers() calc.Choice {
	count := p.field.Sort == checks.Count
	c := p.byNumber(Cell, p.around(), count, p.number)
	if count {
		c = calc.If{Test: calc.Whole(Cell), Then: c, Else: calc.Word(checks.Unreached)}
	}
	return calc.If{Test: calc.Number(Cell), Then: c, Else: calc.Word(checks.Unreached)}
}

// around are the numbers to begin with: shares and multiples of the one recorded, and
// those about what is expected.
func (p prober) around() []float64 {
	x := p.was.Value
	if p.field.Sort == checks.Count {
		return []float64{0, 1, 2, x - 1, x, x + 1, 2 * x, 10*x + 10, 1e6}
	}
	own := func(base float64) float64 { return quantity.FromBase(base, p.field.Unit) }
	x = own(x)
	out := []float64{0, -x, x, x - 1, x + 1}
	for _, by := range []float64{0.1, 0.5, 0.9, 0.99, 1.01, 1.1, 2, 100} {
		out = append(out, x*by)
	}
	if e := p.field.Expect; e != nil {
		low, high := own(e.Low), own(e.High)
		out = append(out, low, high, own(e.Value), low-(high-low)/4, high+(high-low)/4)
	}
	if l := p.field.Side; l != nil {
		out = append(out, own(l.Low), own(l.High))
	}
	return out
}
