// Package schema describes in JSON Schema what this program writes as JSON: entries,
// statements, handover data, answers of commands. A schema is made from the Go types
// that the JSON is made from, so the two cannot drift apart; no member is let through
// that is not in it.
//
//	schema   the description of one document, under a name and a version
//	answer   the Go types that a document may be made from
package schema

import (
	"bytes"
	"encoding"
	"encoding/json"
	"fmt"
	"reflect"
	"slices"
	"strings"
	"time"

	"handback/checks"
)

// Draft is the dialect of every schema.
const Draft = "https://json-schema.org/draft/2020-12/schema"

// Version is that of every schema here. A member that is added leaves it; one that goes,
// or means something else, raises it.
const Version = 1

// Shape is a piece of a schema.
type Shape = map[string]any

// ID is what a schema is called wherever it is kept.
func ID(name string) string { return fmt.Sprintf("urn:handback:schema:%s:%d", name, Version) }

// Named is a schema with what it describes. Answers are values of the types that the
// document may be made from: one, or one of several.
type Named struct {
	Name, About string
	Answers     []any
}

// Text is the schema as it is printed.
func (n Named) Text() ([]byte, error) { return n.text(shapes.of) }

// AnswerText is Text of what a command prints: an object there says its version in v.
func (n Named) AnswerText() ([]byte, error) {
	return n.text(func(s shapes, t reflect.Type) Shape {
		if t.Kind() != reflect.Struct {
			return s.of(t)
		}
		out := s.object(t)
		members := out["properties"].(Shape)
		if members["v"] == nil {
			members["v"] = Shape{"const": Version}
			required, _ := out["required"].([]string)
			out["required"] = append([]string{"v"}, required...)
		}
		return out
	})
}

func (n Named) text(root func(shapes, reflect.Type) Shape) ([]byte, error) {
	s := shapes{Shape{}}
	var each []any
	for _, a := range n.Answers {
		each = append(each, root(s, reflect.TypeOf(a)))
	}
	whole := Shape{"anyOf": each}
	if len(each) == 1 {
		whole = each[0].(Shape)
	}
	return printed(n.Name, n.About, whole, s.defs)
}

// printed puts together the whole document.
func printed(name, about string, root, defs Shape) ([]byte, error) {
	root["$schema"], root["$id"], root["title"], root["$comment"] = Draft, ID(name), about, fmt.Sprintf("version %d", Version)
	if len(defs) > 0 {
		root["$defs"] = defs
	}
	var out bytes.Buffer
	enc := json.NewEncoder(&out)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", "  ")
	err := enc.Encode(root)
	return out.Bytes(), err
}

// shapes gathers the definitions a schema refers to.
type shapes struct{ defs Shape }

// of describes a type as encoding/json writes it. A type that writes itself and is not
// known here is our own mistake and panics.
func (s shapes) of(t reflect.Type) Shape {
	switch {
	case t == reflect.TypeFor[time.Time]():
		return Shape{"type": "string", "format": "date-time"}
	case t == reflect.TypeFor[json.RawMessage]():
		return Shape{}
	case t == reflect.TypeFor[checks.Verdict]():
		return s.define("verdict", func() Shape { return words(checks.Verdicts()...) })
	case t == reflect.TypeFor[checks.Value]():
		return s.define("value", s.value)
	case t == reflect.TypeFor[checks.Values]():
		return Shape{"type": "object", "additionalProperties": s.of(reflect.TypeFor[checks.Value]())}
	case t.Kind() != reflect.Pointer && t.Implements(reflect.TypeFor[json.Marshaler]()):
		panic("schema: " + t.String() + " writes itself and is not described")
	case t.Kind() != reflect.Pointer && t.Implements(reflect.TypeFor[encoding.TextMarshaler]()):
		return Shape{"type": "string"}
	}
	switch t.Kind() {
	case reflect.Pointer:
		return s.of(t.Elem())
	case reflect.String:
		return Shape{"type": "string"}
	case reflect.Bool:
		return Shape{"type": "boolean"}
	case reflect.Int, reflect.Int64, reflect.Uint16:
		return Shape{"type": "integer"}
	case reflect.Float64:
		return Shape{"type": "number"}
	case reflect.Slice:
		return Shape{"type": "array", "items": s.of(t.Elem())}
	case reflect.Map:
		return Shape{"type": "object", "additionalProperties": s.of(t.Elem())}
	case reflect.Struct:
		return s.define(strings.TrimPrefix(strings.ReplaceAll(t.String(), "*", ""), "cmd."), func() Shape { return s.object(t) })
	}
	panic("schema: " + t.String() + " has no description")
}

// define puts a definition under name once and gives the reference to it.
func (s shapes) define(name string, describe func() Shape) Shape {
	if s.defs[name] == nil {
		s.defs[name] = Shape{} // what holds itself finds its own reference
		s.defs[name] = describe()
	}
	return Shape{"$ref": "#/$defs/" + name}
}

// object describes a struct: its members, which of them are always there, and no others.
func (s shapes) object(t reflect.Type) Shape {
	out := Shape{"type": "object", "additionalProperties": false}
	members, always := Shape{}, []string{}
	s.members(t, members, &always)
	out["properties"] = members
	if len(always) > 0 {
		out["required"] = always
	}
	return out
}

// members adds the members of a struct; those of what is embedded first, for a member of
// the same name further out hides them.
func (s shapes) members(t reflect.Type, members Shape, always *[]string) {
	var fields []reflect.StructField
	for i := range t.NumField() {
		fields = append(fields, t.Field(i))
	}
	slices.SortStableFunc(fields, func(a, b reflect.StructField) int { return embedded(b) - embedded(a) })
	for _, f := range fields {
		name, options, _ := strings.Cut(f.Tag.Get("json"), ",")
		switch {
		case name == "-" || !f.IsExported() && !f.Anonymous:
			continue
		case f.Anonymous && name == "":
			s.members(f.Type, members, always)
			continue
		case name == "":
			panic("schema: " + t.String() + "." + f.Name + " has no name in JSON")
		}
		if inner := members[name]; inner != nil { // the outer one is written
			*always = slices.DeleteFunc(*always, func(n string) bool { return n == name })
		}
		member := s.of(f.Type)
		left := strings.Contains(options, "omitempty") || strings.Contains(options, "omitzero")
		if f.Type.Kind() == reflect.Pointer && !left {
			member = Shape{"anyOf": []any{member, Shape{"type": "null"}}}
		}
		if doc := f.Tag.Get("title"); doc != "" {
			member["description"] = doc
		}
		if closed := closedSets[t.String()+"."+name]; closed != nil {
			member = words(closed...)
		}
		members[name] = member
		if !left {
			*always = append(*always, name)
		}
	}
}

func embedded(f reflect.StructField) int {
	if f.Anonymous && f.Tag.Get("json") == "" {
		return 1
	}
	return 0
}

func words(list ...string) Shape { return Shape{"enum": list} }

// value describes a value of what is said: one member tells its sort.
func (s shapes) value() Shape {
	self := Shape{"$ref": "#/$defs/value"}
	text := Shape{"type": "string"}
	number := Shape{"anyOf": []any{Shape{"type": "number"}, words("NaN", "+Inf", "-Inf")}}
	var sorts []any
	for _, sort := range []struct {
		name  string
		shape Shape
	}{
		{"word", text}, {"at", Shape{"type": "string", "format": "date-time"}}, {"field", text}, {"value", text},
		{"said", s.of(reflect.TypeFor[checks.Said]())}, {"list", Shape{"type": "array", "items": self}}, {"shown", text},
	} {
		sorts = append(sorts, Shape{"type": "object", "properties": Shape{sort.name: sort.shape}, "required": []string{sort.name}, "additionalProperties": false})
	}
	sorts = append(sorts, Shape{"type": "object", "properties": Shape{"x": number, "unit": text}, "required": []string{"x"}, "additionalProperties": false})
	return Shape{"oneOf": sorts}
}
