package checks

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"iter"
	"maps"
	"math"
	"slices"
	"strconv"
	"time"
	"unicode/utf8"
)

// MarshalJSON writes the value as {"word": …}, {"unit": …, "x": …} and so on: the
// member tells its sort. A number that JSON has no sign for is told in words.
func (v Value) MarshalJSON() ([]byte, error) {
	sort := v.sort()
	out := map[string]any{}
	switch sort {
	case "x":
		out[sort] = v.Held.X
		if math.IsNaN(v.Held.X) || math.IsInf(v.Held.X, 0) {
			out[sort] = fmt.Sprint(v.Held.X)
		}
		if v.Held.Unit != "" {
			out["unit"] = v.Held.Unit
		}
	case "at":
		out[sort] = v.At
	case "field":
		out[sort] = v.Field
	case "value":
		out[sort] = v.Of
	case "said":
		out[sort] = v.Part
	case "list":
		out[sort] = v.List
	case "shown":
		out[sort] = v.Shown
	default:
		out[sort] = v.Word
	}
	return json.Marshal(out)
}

// MarshalJSON writes an object of the values by their names.
func (v Values) MarshalJSON() ([]byte, error) {
	out := []byte{'{'}
	for i, a := range v {
		if i > 0 {
			out = append(out, ',')
		}
		name, err := json.Marshal(a.Name)
		if err != nil {
			return nil, err
		}
		value, err := a.Value.MarshalJSON()
		if err != nil {
			return nil, fmt.Errorf("%s: %w", a.Name, err)
		}
		out = append(append(append(out, name...), ':'), value...)
	}
	return append(out, '}'), nil
}

// UnmarshalJSON reads what MarshalJSON wrote.
func (v *Values) UnmarshalJSON(data []byte) error {
	if plain, ok, err := plainValues(data); ok || err != nil {
		*v = plain
		return err
	}
	var members map[string]Value
	if err := json.Unmarshal(data, &members); err != nil {
		return err
	}
	*v = make(Values, 0, len(members))
	for _, name := range slices.Sorted(maps.Keys(members)) {
		*v = append(*v, Arg{name, members[name]})
	}
	return nil
}

// UnmarshalJSON reads what MarshalJSON wrote and nothing else, so that no two texts
// of an entry say the same.
func (v *Value) UnmarshalJSON(data []byte) error {
	if v.plain(data) {
		return nil
	}
	if nested(data) > mostNested {
		return fmt.Errorf("nested deeper than %d", mostNested)
	}
	var members map[string]json.RawMessage
	if err := json.Unmarshal(data, &members); err != nil {
		return err
	}
	unit, hasUnit := members["unit"]
	if _, number := members["x"]; hasUnit && !number {
		return errors.New("unit: it belongs to a number alone")
	}
	delete(members, "unit")
	if len(members) != 1 {
		return errors.New("a value has one of word, x, at, field, value, said, list, shown")
	}
	*v = Value{}
	for sort, raw := range members {
		if err := v.read(sort, raw); err != nil {
			return fmt.Errorf("%s: %w", sort, err)
		}
	}
	if hasUnit {
		return needText(unit, &v.Held.Unit)
	}
	return nil
}

// mostNested is how many brackets deep a value may stand (our choice): what checks say
// needs a dozen, and each depth is read once more than the one around it.
const mostNested = 40

// nested is how many brackets deep a text of JSON goes.
func nested(data []byte) int {
	depth, most := 0, 0
	for _, c := range brackets(data, 0) {
		if c == '{' || c == '[' {
			depth++
			most = max(most, depth)
		} else {
			depth--
		}
	}
	return most
}

// brackets are those of a text of JSON from a place on, with where they stand; what looks like
// one within a text is none.
func brackets(data []byte, i int) iter.Seq2[int, byte] {
	return func(yield func(int, byte) bool) {
		for inText := false; i < len(data); i++ {
			switch c := data[i]; {
			case c == '"':
				inText = !inText
			case inText && c == '\\':
				i++
			case !inText && (c == '{' || c == '}' || c == '[' || c == ']'):
				if !yield(i, c) {
					return
				}
			}
		}
	}
}

// read reads the member that tells the sort of a value.
func (v *Value) read(sort string, raw json.RawMessage) error {
	switch sort {
	case "x":
		v.Held = &Magnitude{}
		return readNumber(raw, &v.Held.X)
	case "at":
		v.At = &time.Time{}
		if err := json.Unmarshal(raw, v.At); err != nil {
			return err
		}
		if again, err := json.Marshal(v.At); err != nil || string(again) != string(raw) {
			return fmt.Errorf("%.40s is not spelt as a moment is written", raw)
		}
		return nil
	case "field":
		return needText(raw, &v.Field)
	case "value":
		return needText(raw, &v.Of)
	case "said":
		v.Part = &Said{}
		return v.Part.read(raw)
	case "list":
		v.List = []Value{}
		return unlessNull(raw, &v.List)
	case "shown":
		v.Shown = new(string)
		return unlessNull(raw, v.Shown)
	case "word":
		return unlessNull(raw, &v.Word)
	}
	return errors.New("no sort of value is called so")
}

// read reads what is said within a value. What stands on its own is read with the
// entry that holds it.
func (s *Said) read(raw json.RawMessage) error {
	var members map[string]json.RawMessage
	if err := unlessNull(raw, &members); err != nil {
		return err
	}
	for key, raw := range members {
		var err error
		switch key {
		case "kind":
			err = needText(raw, &s.Kind)
		case "code":
			err = needText(raw, &s.Code)
		case "values":
			if err = unlessNull(raw, &s.Values); err == nil && len(s.Values) == 0 {
				err = errors.New("empty: it is left out then")
			}
		default:
			err = errors.New("what is said has kind, code and values")
		}
		if err != nil {
			return fmt.Errorf("%s: %w", key, err)
		}
	}
	if s.None() {
		return errors.New("no code")
	}
	return nil
}

func readNumber(raw json.RawMessage, x *float64) error {
	if raw[0] != '"' {
		return unlessNull(raw, x)
	}
	var text string
	if err := json.Unmarshal(raw, &text); err != nil {
		return err
	}
	special, ok := map[string]float64{"NaN": math.NaN(), "+Inf": math.Inf(1), "-Inf": math.Inf(-1)}[text]
	if !ok {
		return fmt.Errorf("%.20q: a number is wanted", text)
	}
	*x = special
	return nil
}

// needText reads a text that is not empty.
func needText(raw json.RawMessage, into *string) error {
	if err := json.Unmarshal(raw, into); err != nil {
		return err
	}
	if *into == "" {
		return errors.New("empty: a text is wanted")
	}
	return nil
}

// unlessNull reads what may be empty and not null.
func unlessNull(raw json.RawMessage, into any) error {
	if string(raw) == "null" {
		return errors.New("null: nothing is told so")
	}
	return json.Unmarshal(raw, into)
}

// A job is read whole by every command, and nearly every value in it is as MarshalJSON wrote
// it. What is below reads such values by one look at each; what it does not tell, encoding/json
// decides. It is given JSON alone: encoding/json has gone through it.

// plain reads a word, a field, a value, words that are shown or a number in a unit, and says
// no to all else.
func (v *Value) plain(data []byte) bool {
	if len(data) == 0 || data[0] != '{' {
		return false
	}
	sort, end, ok := plainText(data, 1)
	if !ok || end >= len(data) || data[end] != ':' {
		return false
	}
	text, end, ok := plainText(data, end+1)
	if !ok || len(text) == 0 {
		return false
	}
	if string(sort) == "unit" {
		return v.plainNumber(string(text), data[end:])
	}
	if string(data[end:]) != "}" {
		return false
	}
	switch is := string(text); string(sort) {
	case "word":
		*v = Value{Word: is}
	case "field":
		*v = Value{Field: is}
	case "value":
		*v = Value{Of: is}
	case "shown":
		*v = Value{Shown: &is}
	default:
		return false
	}
	return true
}

// plainNumber reads what stands behind the unit of a number.
func (v *Value) plainNumber(unit string, rest []byte) bool {
	rest, ok := bytes.CutPrefix(rest, []byte(`,"x":`))
	rest, closed := bytes.CutSuffix(rest, []byte("}"))
	if !ok || !closed {
		return false
	}
	x, err := strconv.ParseFloat(string(rest), 64)
	if err != nil {
		return false
	}
	*v = Value{Held: &Magnitude{x, unit}}
	return true
}

// plainValues reads values whose names stand in order; ok is false for all else.
func plainValues(data []byte) (out Values, ok bool, err error) {
	for i := 1; len(data) > 2 && data[0] == '{'; {
		name, end, ok := plainText(data, i)
		if !ok || end+1 >= len(data) || data[end] != ':' || data[end+1] != '{' || len(out) > 0 && string(name) <= out[len(out)-1].Name {
			return nil, false, nil
		}
		to := objectEnd(data, end+1)
		a := Arg{Name: string(name)}
		if err := a.Value.UnmarshalJSON(data[end+1 : to]); err != nil {
			return nil, false, err
		}
		out = append(out, a)
		switch {
		case string(data[to:]) == "}":
			return out, true, nil
		case to >= len(data) || data[to] != ',':
			return nil, false, nil
		}
		i = to + 1
	}
	return nil, false, nil
}

// objectEnd is the end of the object that begins at i.
func objectEnd(data []byte, i int) int {
	depth := 0
	for at, c := range brackets(data, i) {
		switch c {
		case '{':
			depth++
		case '}':
			if depth--; depth == 0 {
				return at + 1
			}
		}
	}
	return len(data)
}

// plainText is a text without escapes that begins at i, and where it ends.
func plainText(data []byte, i int) (text []byte, end int, ok bool) {
	if i >= len(data) || data[i] != '"' {
		return nil, i, false
	}
	n := bytes.IndexByte(data[i+1:], '"')
	if n < 0 {
		return nil, i, false
	}
	text = data[i+1 : i+1+n]
	return text, i + n + 2, bytes.IndexByte(text, '\\') < 0 && utf8.Valid(text)
}
