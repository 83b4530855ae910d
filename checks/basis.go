package checks

import (
	"slices"

	"handback/checks/calc"
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
	Fields []string // field, or check/field of an earlier check: the cells of the choice
	Was    []string // the words they held when they were judged
	choice calc.Choice
}

// passes is a condition that passes where a test holds, else fails.
func passes(test calc.Test, fields ...string) Condition {
	return Condition{Fields: fields, choice: calc.If{Test: test, Then: calc.Word(Pass.Shown()), Else: calc.Word(Fail.Shown())}}
}

// WordIs passes when the answer is one of the words, else fails.
func WordIs(field string, words ...string) Condition { return passes(oneOf(field, words), field) }

func oneOf(field string, words []string) (is calc.Any) {
	for _, word := range words {
		is = append(is, calc.Typed{Cell: field, Word: word})
	}
	return is
}

// Or gives other words a verdict of their own.
func (c Condition) Or(v Verdict, words ...string) Condition {
	first := c.choice.(calc.If)
	first.Else = calc.If{Test: oneOf(c.Fields[0], words), Then: calc.Word(v.Shown()), Else: first.Else}
	c.choice = first
	return c
}

// CountsAre passes when each field is n, else fails.
func CountsAre(n float64, fields ...string) Condition {
	are := calc.All{calc.Numbers(fields)}
	for _, f := range fields {
		are = append(are, calc.Equals{Cell: f, Number: n})
	}
	return passes(are, fields...)
}

// SameWord passes when two answers are the same word, else fails.
func SameWord(a, b string) Condition { return passes(calc.Same{A: a, B: b}, a, b) }

// OtherWord passes when two answers are different words, else fails.
func OtherWord(a, b string) Condition { return passes(calc.Same{A: a, B: b, Not: true}, a, b) }

// WordAlone passes when an answer holds a word that none of the others does, else fails.
func WordAlone(field string, others ...string) Condition {
	alone := calc.All{calc.Not{Test: calc.Typed{Cell: field}}}
	for _, o := range others {
		alone = append(alone, calc.Same{A: field, B: o, Not: true})
	}
	return passes(alone, append([]string{field}, others...)...)
}

// WordAmong passes when an answer is the same word as one of the others, else fails.
func WordAmong(field string, others ...string) Condition {
	var among calc.Any
	for _, o := range others {
		among = append(among, calc.Same{A: field, B: o})
	}
	return passes(calc.All{calc.Not{Test: calc.Typed{Cell: field}}, among}, append([]string{field}, others...)...)
}

// WordHeld passes when one of the fields holds the word that another answer is, else
// fails.
func WordHeld(word string, fields ...string) Condition {
	var held calc.Any
	for _, f := range fields {
		held = append(held, calc.Same{A: word, B: f})
	}
	return passes(calc.All{calc.Not{Test: calc.Typed{Cell: word}}, held}, append(slices.Clone(fields), word)...)
}

// Passes tells whether a condition does, without saying so.
func (w *Work) Passes(c Condition) bool { return c.judge(w) == Pass }

// Want judges a condition and says the outcome, which rests on its first field.
func (w *Work) Want(c Condition, code string, args ...Arg) Verdict {
	v := c.judge(w)
	for _, f := range c.Fields {
		a, _ := w.reading(f)
		c.Was = append(c.Was, a.Word)
	}
	w.Say(v, c.Fields[0], code, args...)
	w.basis().Answers = &c
	return v
}

// Follows marks what was said last as the consequence of failures said of values
// or fields: with them it falls.
func (w *Work) Follows(keys ...string) {
	w.basis().After = keys
}

func (c Condition) judge(w *Work) Verdict {
	return chosen(c.choice, func(field string) calc.Content {
		a, _ := w.reading(field)
		return calc.Content{Number: w.Value(field), Word: a.Word}
	})
}

// Formula writes the condition as a spreadsheet formula without its leading =, over
// the cells of its fields; it gives the verdict's word in capitals.
func (c Condition) Formula(cells []string) string {
	return c.choice.Formula(func(field string) string { return cells[slices.Index(c.Fields, field)] })
}
