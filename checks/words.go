package checks

import (
	"errors"
	"fmt"
	"strings"

	"handback/checks/quantity"
)

// Catalogue gives the words of a code of a kind, filled in with values; the error
// names what it lacks.
type Catalogue func(kind, code string, values map[string]any) (string, error)

// Words is what is said, in the words of a catalogue. What the catalogue lacks is told
// by its code and values: a record is shown in any case.
func (s Said) Words(kind string, catalogue Catalogue) string {
	if s.None() {
		return ""
	}
	if s.Kind != "" {
		kind = s.Kind
	}
	values := map[string]any{}
	for _, a := range s.Values {
		values[a.Name] = a.Value.said(kind, catalogue)
	}
	text, err := catalogue(kind, s.Code, values)
	if err != nil {
		return s.bare(kind, catalogue)
	}
	return text
}

// said is the value as the words of a catalogue place it: a list of them, words, or a
// value with a say in how it prints.
func (v Value) said(kind string, catalogue Catalogue) any {
	switch v.sort() {
	case "list":
		out := make([]any, len(v.List))
		for i, w := range v.List {
			out[i] = w.said(kind, catalogue)
		}
		return out
	case "said":
		return v.Part.Words(kind, catalogue)
	case "word":
		return v.Word
	case "shown":
		return *v.Shown
	}
	return Told{v}
}

func (s Said) bare(kind string, catalogue Catalogue) string {
	parts := []string{s.Code}
	for _, a := range s.Values {
		parts = append(parts, fmt.Sprint(a.Name, " ", a.Value.said(kind, catalogue)))
	}
	return strings.Join(parts, ", ")
}

// Told is a number, a moment, an answer or a derived value among words: it prints in
// the usual way, and its methods print it otherwise.
type Told struct{ v Value }

// String is a number to six significant digits in its unit, or in a larger one, a moment as hours, minutes
// and seconds, an answer by its label, a derived value with its uncertainty.
func (t Told) String() string {
	switch {
	case t.v.Held != nil:
		unit, holds := quantity.Larger(t.v.Held.Unit, t.v.Held.X)
		return quantity.Spell(t.v.Held.X/holds, unit)
	case t.v.At != nil:
		return Clock(*t.v.At)
	case t.v.label != "":
		return t.v.label
	case t.v.Field != "":
		return t.v.Field
	case t.v.derived().Key != "":
		return t.v.derived().Text()
	}
	return t.v.Of
}

// Dec is a number to so many decimals, in its unit.
func (t Told) Dec(decimals int) string { return quantity.Show(t.v.Held.X, t.v.Held.Unit, decimals) }

// Sig is a number to so many significant digits, in its unit.
func (t Told) Sig(digits int) string {
	return quantity.Significant(t.v.Held.X, digits) + quantity.WithUnit(t.v.Held.Unit)
}

// In is a number told in another unit of its quantity.
func (t Told) In(unit string) Told {
	return Told{Value{Held: &Magnitude{quantity.FromBase(t.v.Held.X, unit), unit}}}
}

// Beside is a number with the decimals that tell it from another.
func (t Told) Beside(other Told) string {
	return quantity.Show(t.v.Held.X, t.v.Held.Unit, quantity.Decimals(t.v.Held.X, other.v.Held.X))
}

// Bare is a number to six significant digits, or so many, without its unit.
func (t Told) Bare(digits ...int) string {
	return quantity.Significant(t.v.Held.X, append(digits, 6)[0])
}

// Whole is a number without decimals and unit.
func (t Told) Whole() string { return quantity.Show(t.v.Held.X, "", 0) }

// Is tells whether a number is n.
func (t Told) Is(n float64) bool { return t.v.Held.X == n }

// Name is that of a derived value.
func (t Told) Name() string { return t.v.derived().Name }

// Plain is a derived value without its uncertainty, in its unit.
func (t Told) Plain() string {
	d := t.v.derived().inLarger()
	return d.number() + quantity.WithUnit(d.Unit)
}

// Judged is a derived value with its uncertainty where that was a guard band.
func (t Told) Judged() string {
	if t.v.derived().Guarded() {
		return t.v.derived().Text()
	}
	return t.Plain()
}

// ByPart tells whether a derived value was guarded by a part of its uncertainty only.
func (t Told) ByPart() bool { return t.v.derived().Rule == RulePart }

// Unsure tells whether the uncertainty of a derived value cannot be worked out.
func (t Told) Unsure() bool { return t.v.derived().U != t.v.derived().U }

// Limit is the limit of a derived value with its source.
func (t Told) Limit() string { return t.v.derived().LimitText() }

// Inside and Outside say where a derived value stands to its limit.
func (t Told) Inside() string {
	d := t.v.derived().inLarger()
	return d.Limit.inside(d.Unit)
}

// Outside says which limit a derived value is beyond.
func (t Told) Outside() string {
	d := t.v.derived().inLarger()
	return d.Limit.outside(d.Value, d.Unit)
}

// String is the code with its values, as it is told where no catalogue is at hand.
func (s Said) String() string {
	return s.bare("", func(string, string, map[string]any) (string, error) { return "", errNoWords })
}

var errNoWords = errors.New("no words here")
