package checks

import (
	"slices"
	"strconv"
	"strings"
)

// Basis is what the verdict of a reason hangs on, so that it can be judged again
// where the readings stand. A zero basis says no more than the verdict itself.
type Basis struct {
	Value   string     // key of the derived value whose verdict it is
	Answers *Condition // on answers
	After   []string   // keys of the values or fields whose failure brings this one
	Doubted bool       // a failure does not count: it may rest on a doubted reading
}

// Condition is a condition on answers as they stand, without arithmetic.
type Condition struct {
	Fields    []string // field, or check/field of an earlier check
	Was       []string // the words they held when they were judged
	cases     []wordCase
	number    *float64
	alike     *bool
	otherwise Verdict
}

type wordCase struct {
	words   []string
	verdict Verdict
}

// wordIs passes when the answer is one of the words, else fails.
func wordIs(field string, words ...string) Condition {
	return Condition{Fields: []string{field}, cases: []wordCase{{words, Pass}}, otherwise: Fail}
}

// or gives other words a verdict of their own.
func (c Condition) or(v Verdict, words ...string) Condition {
	c.cases = append(slices.Clone(c.cases), wordCase{words, v})
	return c
}

// countsAre passes when each field is n, else fails.
func countsAre(n float64, fields ...string) Condition {
	return Condition{Fields: fields, number: &n, otherwise: Fail}
}

// sameWord passes when two answers are the same word, else fails.
func sameWord(a, b string) Condition {
	same := true
	return Condition{Fields: []string{a, b}, alike: &same, otherwise: Fail}
}

// otherWord passes when two answers are different words, else fails.
func otherWord(a, b string) Condition {
	same := false
	return Condition{Fields: []string{a, b}, alike: &same, otherwise: Fail}
}

// Want judges a condition and says the outcome, which rests on its first field.
func (w *Work) Want(c Condition, code string, args ...Arg) Verdict {
	v := c.judge(w)
	for i := range c.Fields {
		c.Was = append(c.Was, c.word(w, i))
	}
	w.Say(v, c.Fields[0], code, args...)
	w.basis().Answers = &c
	return v
}

// follows marks what was said last as the consequence of failures said of values
// or fields: with them it falls.
func (w *Work) follows(keys ...string) {
	w.basis().After = keys
}

func (c Condition) word(w *Work, i int) string {
	a, _ := w.reading(c.Fields[i])
	return a.Word
}

func (c Condition) judge(w *Work) Verdict {
	switch {
	case c.number != nil:
		for _, f := range c.Fields {
			if !(w.value(f) == *c.number) {
				return c.otherwise
			}
		}
		return Pass
	case c.alike != nil:
		if (c.word(w, 0) == c.word(w, 1)) == *c.alike {
			return Pass
		}
		return c.otherwise
	}
	for _, k := range c.cases {
		if slices.Contains(k.words, c.word(w, 0)) {
			return k.verdict
		}
	}
	return c.otherwise
}

// Formula writes the condition as a spreadsheet formula without its leading =, over
// the cells of its fields; it gives the verdict's word in capitals.
func (c Condition) Formula(cells []string) string {
	verdict := func(v Verdict) string { return `"` + strings.ToUpper(v.String()) + `"` }
	choose := func(condition string, v Verdict, otherwise string) string {
		return "IF(" + condition + "," + verdict(v) + "," + otherwise + ")"
	}
	switch {
	case c.number != nil:
		parts := []string{"COUNT(" + strings.Join(cells, ",") + ")=" + strconv.Itoa(len(cells))}
		for _, cell := range cells {
			parts = append(parts, cell+"="+FormulaNumber(*c.number))
		}
		return choose("AND("+strings.Join(parts, ",")+")", Pass, verdict(c.otherwise))
	case c.alike != nil:
		sign := map[bool]string{true: "=", false: "<>"}[*c.alike]
		return choose(cells[0]+sign+cells[1], Pass, verdict(c.otherwise))
	}
	out := verdict(c.otherwise)
	for _, k := range slices.Backward(c.cases) {
		parts := make([]string, len(k.words))
		for i, word := range k.words {
			parts[i] = cells[0] + `&""="` + strings.ReplaceAll(word, `"`, `""`) + `"`
		}
		condition := parts[0]
		if len(parts) > 1 {
			condition = "OR(" + strings.Join(parts, ",") + ")"
		}
		out = choose(condition, k.verdict, out)
	}
	return out
}
