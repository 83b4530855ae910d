package checks

import (
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"math"
	"slices"
	"time"
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
	for i, inText := 0, false; i < len(data); i++ {
		switch c := data[i]; {
		case c == '"':
			inText = !inText
		case inText && c == '\\':
			i++
		case inText:
		case c == '{' || c == '[':
			depth++
			most = max(most, depth)
		case c == '}' || c == ']':
			depth--
		}
	}
	return most
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
