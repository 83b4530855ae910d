package checks

import (
	"math"
	"slices"
	"strings"
	"time"

	"handback/checks/quantity"
)

// Said is something that a finding says, as data: a code of the catalogue of words,
// and the values that its words name. The zero Said says nothing. Two of them are the
// same when codes and values are; words are made from them and never compared.
type Said struct {
	Kind   string `json:"kind,omitempty"` // whose code it is; "" for the kind of the finding
	Code   string `json:"code"`
	Values Values `json:"values,omitempty"`
}

// Values are what the words of a code name, in the order of their names: a job keeps many,
// of a few each, and a map of each would take ten times the room. Each name stands once.
type Values []Arg

// Named is the value of a name; ok is false where it is not among them.
func (v Values) Named(name string) (value Value, ok bool) {
	i, ok := v.place(name)
	if !ok {
		return Value{}, false
	}
	return v[i].Value, true
}

// with are the values with one more, or another in the place of the one of that name.
func (v Values) with(a Arg) Values {
	i, ok := v.place(a.Name)
	if ok {
		v[i] = a
		return v
	}
	return slices.Insert(v, i, a)
}

func (v Values) place(name string) (i int, ok bool) {
	return slices.BinarySearchFunc(v, name, func(a Arg, name string) int { return strings.Compare(a.Name, name) })
}

// Value is one value of what is said. One of its members is set.
type Value struct {
	Word  string     // an id, a title, a word of an answer, a name of the plan
	Held  *Magnitude // a number
	At    *time.Time // a moment
	Field string     // key of an answer of the check
	Of    string     // key of a derived value of the finding
	Part  *Said      // said within what is said
	List  []Value
	Shown *string // words that are shown and never compared: phrases, labels

	label string   // of Field, as the form has it
	value *Derived // of Of; nil where it was only recorded
}

// Magnitude is a number in a unit, "" for a bare one.
type Magnitude struct {
	X    float64
	Unit string
}

// Arg is a named value.
type Arg struct {
	Name  string
	Value Value
}

// Word is a word or name; the functions below make the other sorts of values.
func Word(name, text string) Arg { return Arg{name, Value{Word: text}} }

// Num is a number in a unit.
func Num(name string, x float64, unit string) Arg { return Arg{name, Value{Held: &Magnitude{x, unit}}} }

// NumIn is a number of a base unit, told in another unit of its quantity.
func NumIn(name string, x float64, unit string) Arg {
	return Num(name, quantity.FromBase(x, unit), unit)
}

// At is a moment.
func At(name string, t time.Time) Arg { return Arg{name, Value{At: &t}} }

// Inner is something said within what is said.
func Inner(name string, s Said) Arg { return Arg{name, Value{Part: &s}} }

// List is several values.
func List(name string, list ...Value) Arg { return Arg{name, Value{List: append([]Value{}, list...)}} }

// Shown is words that are shown and never compared.
func Shown(name, text string) Arg { return Arg{name, Value{Shown: &text}} }

// WordList is a list of words.
func WordList(name string, texts ...string) Arg {
	list := make([]Value, len(texts))
	for i, text := range texts {
		list[i] = Value{Word: text}
	}
	return List(name, list...)
}

// Inners is several things said within what is said.
func Inners(name string, parts ...Said) Arg {
	list := make([]Value, len(parts))
	for i := range parts {
		list[i] = Value{Part: &parts[i]}
	}
	return List(name, list...)
}

// Label is an answer by its field, shown by its label.
func Label(name string, f Field) Arg { return Arg{name, Value{Field: f.Key, label: f.Label}} }

// OfValue is a derived value of the finding.
func OfValue(name string, d Derived) Arg { return Arg{name, Value{Of: d.Key, value: &d}} }

// Say makes something said.
func Say(code string, args ...Arg) Said {
	s := Said{Code: code}
	if len(args) > 0 {
		s.Values = make(Values, 0, len(args))
	}
	for _, a := range args {
		s.Values = s.Values.with(a)
	}
	return s
}

// Of is what is said in another kind's words.
func (s Said) Of(kind string) Said {
	if s.Kind == "" {
		s.Kind = kind
	}
	return s
}

// None tells whether nothing is said.
func (s Said) None() bool { return s.Code == "" }

// Same tells whether two say the same: code and values, numbers to a part in 1e9.
func (s Said) Same(t Said) bool {
	return s.Kind == t.Kind && s.Code == t.Code && slices.EqualFunc(s.Values, t.Values, Arg.same)
}

func (a Arg) same(b Arg) bool { return a.Name == b.Name && a.Value.same(b.Value) }

func (v Value) same(w Value) bool {
	switch {
	case v.Held != nil && w.Held != nil:
		return v.Held.Unit == w.Held.Unit && SameNumber(v.Held.X, w.Held.X)
	case v.At != nil && w.At != nil:
		return v.At.Equal(*w.At)
	case v.Part != nil && w.Part != nil:
		return v.Part.Same(*w.Part)
	case v.sort() == "shown" && w.sort() == "shown":
		return true
	}
	return v.sort() == w.sort() && v.Word == w.Word && v.Field == w.Field && v.Of == w.Of && slices.EqualFunc(v.List, w.List, Value.same)
}

// Alike tells whether two say the same in every sign that an entry keeps of them, words
// that are shown among them.
func (s Said) Alike(t Said) bool {
	return s.Kind == t.Kind && s.Code == t.Code && slices.EqualFunc(s.Values, t.Values, func(a, b Arg) bool {
		return a.Name == b.Name && a.Value.alike(b.Value)
	})
}

func (v Value) alike(w Value) bool {
	if v.sort() != w.sort() || v.Word != w.Word || v.Field != w.Field || v.Of != w.Of {
		return false
	}
	switch {
	case v.Held != nil:
		return v.Held.Unit == w.Held.Unit && math.Float64bits(v.Held.X) == math.Float64bits(w.Held.X)
	case v.At != nil:
		return v.At.Format(time.RFC3339Nano) == w.At.Format(time.RFC3339Nano)
	case v.Part != nil:
		return v.Part.Alike(*w.Part)
	case v.Shown != nil:
		return *v.Shown == *w.Shown
	}
	return slices.EqualFunc(v.List, w.List, Value.alike)
}

// SameNumber tells whether two numbers agree to a part in 1e9, or to 1e-12 where they
// are next to nothing. What is not finite agrees with its like.
func SameNumber(x, y float64) bool {
	if math.IsNaN(x) || math.IsNaN(y) || math.IsInf(x, 0) || math.IsInf(y, 0) {
		return x == y || math.IsNaN(x) && math.IsNaN(y)
	}
	return math.Abs(x-y) <= 1e-9*math.Max(1e-3, math.Max(math.Abs(x), math.Abs(y)))
}

// sort is the member of its JSON object that tells what a value is.
func (v Value) sort() string {
	switch {
	case v.Held != nil:
		return "x"
	case v.At != nil:
		return "at"
	case v.Field != "":
		return "field"
	case v.Of != "":
		return "value"
	case v.Part != nil:
		return "said"
	case v.List != nil:
		return "list"
	case v.Shown != nil:
		return "shown"
	}
	return "word"
}

// derived is the value that Of names, as far as it is known.
func (v Value) derived() Derived {
	if v.value == nil {
		return Derived{}
	}
	return *v.value
}

// keptIn takes the derived value that Of names from a list, where it is told there as it was
// when it was said: a finding keeps it once.
func (v *Value) keptIn(list []Derived) {
	if v.value == nil {
		return
	}
	for i := range list {
		d, was := &list[i], v.value
		if d.Key == was.Key && d.Name == was.Name && d.Value == was.Value && d.Unit == was.Unit && d.Spread == was.Spread && d.Limit == was.Limit &&
			d.Known == was.Known && d.Rule == was.Rule && d.Bound == was.Bound && d.Since == was.Since {
			v.value = d
			return
		}
	}
}

func Volts(name string, list []float64) Arg {
	out := make([]Value, len(list))
	for i, x := range list {
		out[i] = Num("", x, "V").Value
	}
	return List(name, out...)
}
