package plan

import (
	"bytes"
	"encoding/json"
	"reflect"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"handback/checks/quantity"
)

// Schema is the JSON Schema (draft 2020-12) of a plan, for editors that help to
// write one. It is made from the tags the loader decodes by, so the two cannot
// drift apart. It knows shapes, words and units; what only the whole plan shows
// (a reference to nothing, an id given twice, an impossible nameplate) is left to
// LoadPlan. id is what it is called wherever it is kept.
func Schema(id string) ([]byte, error) {
	s := schemaOf{Defs: shape{}}
	root := s.object(reflect.TypeFor[Plan](), "")
	root["$schema"] = "https://json-schema.org/draft/2020-12/schema"
	root["$id"], root["title"] = id, "handback plan"
	root["properties"].(shape)["handback"] = shape{"enum": []any{PlanFormat, strconv.Itoa(PlanFormat)}, "description": "version of the plan format"}
	root["properties"].(shape)["steps"].(shape)["minItems"] = 1
	root["$defs"] = s.Defs
	var out bytes.Buffer
	enc := json.NewEncoder(&out)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", "  ")
	if err := enc.Encode(root); err != nil {
		return nil, err
	}
	return out.Bytes(), nil
}

type shape = map[string]any

// schemaOf gathers the definitions a schema refers to.
type schemaOf struct{ Defs shape }

// object describes a struct that stands under path: its keys, which of them are needed,
// and no others.
func (s schemaOf) object(t reflect.Type, path string) shape {
	keys, need := shape{}, []string{}
	for _, f := range FieldsOf(reflect.New(t).Elem()) {
		keys[f.Name] = s.Value(f.V.Type(), f.tag, Join(path, f.Name))
		if f.need {
			need = append(need, f.Name)
		}
	}
	out := shape{"type": "object", "properties": keys, "additionalProperties": false}
	if len(need) > 0 {
		out["required"] = need
	}
	return out
}

// define puts a definition under name once and gives the reference to it.
func (s schemaOf) define(name string, describe func() shape) shape {
	if s.Defs[name] == nil {
		s.Defs[name] = shape{} // a struct that holds itself finds its own reference
		s.Defs[name] = describe()
	}
	return shape{"$ref": "#/$defs/" + name}
}

// Value describes what stands under one key, as decode reads it; path is its row in the
// table of floors.
func (s schemaOf) Value(t reflect.Type, f tag, path string) shape {
	if t.Kind() == reflect.Pointer && t != nodeType {
		return s.Value(t.Elem(), f, path)
	}
	out := shape{}
	switch of, isMeasured := quantity.Measured[t]; {
	case isMeasured:
		out = s.measured(of, f)
	case t == nodeType: // its kind says more
	case t == timeType:
		out = shape{"type": "string", "pattern": `^[0-9]{4}-[0-9]{2}-[0-9]{2}(T.+)?$`}
	case t == amountType:
		out = s.define("amount", func() shape { return shape{"type": "string", "pattern": quantityPattern(exactUnits())} })
	case t == reflect.TypeFor[rawStep]():
		out = s.define("step", s.step)
	case t.Kind() == reflect.Struct:
		out = s.define(strings.ToLower(t.Name()), func() shape { return s.object(t, path) })
	case t.Kind() == reflect.Slice:
		out = shape{"type": "array", "items": s.Value(t.Elem(), tag{ref: f.ref}, path)}
	case t.Kind() == reflect.Map:
		out = shape{"type": "object", "additionalProperties": s.Value(t.Elem(), tag{}, path)}
	default:
		out = scalar(t, f)
		s.bound(out, path)
	}
	if f.doc != "" {
		out["description"] = f.doc + describeUnits(t)
		if bounds := boundsOf(path); bounds != "" {
			out["description"] = out["description"].(string) + "; " + bounds
		}
	}
	return out
}

// bound puts the bounds of the table of floors on a plain number. A number with a unit
// is text to a schema: its bounds stand in its description.
func (s schemaOf) bound(out shape, path string) {
	either, ok := out["anyOf"].([]any)
	if !ok {
		return
	}
	for _, f := range floorTable[path] {
		if number := either[0].(shape); f.of == nil && number["type"] != "boolean" {
			number["minimum"], number["maximum"] = f.Least, f.Most
		}
	}
}

// scalar describes one plain value. A string may be typed bare, so a number or a
// yes is one too; nothing at all is an empty string.
func scalar(t reflect.Type, f tag) shape {
	switch t.Kind() {
	case reflect.Bool:
		return shape{"anyOf": []any{shape{"type": "boolean"}, shape{"type": "string", "pattern": "^([Yy][Ee][Ss]|[Nn][Oo]|[Tt][Rr][Uu][Ee]|[Ff][Aa][Ll][Ss][Ee])$"}}}
	case reflect.Int:
		return shape{"anyOf": []any{shape{"type": "integer"}, shape{"type": "string", "pattern": "^[+-]?[0-9]+$"}}}
	case reflect.Float64:
		return shape{"anyOf": []any{shape{"type": "number"}, shape{"type": "string", "pattern": "^" + numberPattern + "$"}}}
	case reflect.String:
	default:
		panic("plan: plan type " + t.String() + " has no schema")
	}
	if len(f.One) > 0 {
		words := []any{}
		for _, o := range f.One {
			words = append(words, o)
			if x, err := strconv.ParseFloat(o, 64); err == nil {
				words = append(words, x)
			}
		}
		if !f.need {
			words = append(words, nil)
		}
		return shape{"enum": words}
	}
	return text(f)
}

// idPattern is the shape of an id; plant may have capitals in its own.
const idPattern = "[A-Za-z0-9][A-Za-z0-9-]{0,39}"

// text describes a string. Of what it refers to a schema sees the shape of the id, not
// whether there is one.
func text(f tag) shape {
	switch {
	case f.need && f.ref != "":
		return shape{"type": []string{"string", "number", "boolean"}, "pattern": "^" + idPattern + "$"}
	case f.need:
		return shape{"type": []string{"string", "number", "boolean"}, "pattern": `\S`}
	case f.ref != "":
		return shape{"type": []string{"string", "number", "boolean", "null"}, "pattern": "^(" + idPattern + ")?$"}
	}
	return shape{"type": []string{"string", "number", "boolean", "null"}}
}

// step describes a check or a hold point.
func (s schemaOf) step() shape {
	check, hold, step := s.object(reflect.TypeFor[checkKeys](), "check"), s.object(reflect.TypeFor[holdKeys](), "hold"), s.object(reflect.TypeFor[stepKeys](), "step")
	for key, in := range map[string]shape{"check": check, "kind": check, "hold": hold, "step": step} {
		in["properties"].(shape)[key].(shape)["type"] = []string{"string", "number", "boolean"}
		in["properties"].(shape)[key].(shape)["pattern"] = `\S`
	}
	check["required"], hold["required"], step["required"] = []string{"check", "kind"}, []string{"hold"}, []string{"step"}
	for _, x := range []shape{hold, step} { // told by its act, in words, or both
		x["anyOf"] = []any{shape{"required": []string{"act"}}, shape{"required": []string{"action"}}}
	}
	hold["properties"].(shape)["needs"].(shape)["minItems"] = 1
	kind := check["properties"].(shape)["kind"].(shape)
	delete(kind, "type")
	delete(kind, "pattern")
	kind["enum"] = KindNames()
	var each []any
	for _, name := range KindNames() {
		each = append(each, shape{
			"if":   shape{"properties": shape{"kind": shape{"const": name}}, "required": []string{"kind"}},
			"then": s.given(TraitsNamed(name)),
		})
	}
	check["allOf"] = each
	s.Defs["check"], s.Defs["hold"], s.Defs["plain-step"] = check, hold, step
	plain := shape{"if": shape{"required": []string{"hold"}}, "then": shape{"$ref": "#/$defs/hold"}, "else": shape{"$ref": "#/$defs/plain-step"}}
	return shape{"if": shape{"required": []string{"check"}}, "then": shape{"$ref": "#/$defs/check"}, "else": plain}
}

// given describes what a check of one kind is given.
func (s schemaOf) given(k *Traits) shape {
	v := reflect.ValueOf(k.Given()).Elem()
	given := s.define("given-"+k.Name, func() shape { return s.object(v.Type(), k.Name) })
	out := shape{"properties": shape{"given": given}}
	if slices.ContainsFunc(FieldsOf(v), func(f namedField) bool { return f.need }) {
		out["required"] = []string{"given"}
	}
	return out
}

// measured describes a number with a unit of one quantity.
func (s schemaOf) measured(of string, f tag) shape {
	out := s.define(strings.ReplaceAll(of, " ", "-"), func() shape {
		return shape{"type": "string", "pattern": quantityPattern(unitPatterns(of))}
	})
	if f.pos {
		out["not"] = shape{"pattern": `^\s*([-−]|\+?[0.,]+\s*($|[^0-9.,\s]))`} // below zero, or zero
	}
	return out
}

func describeUnits(t reflect.Type) string {
	for t.Kind() == reflect.Pointer {
		t = t.Elem()
	}
	if of, ok := quantity.Measured[t]; ok {
		return "; " + quantity.WithArticle(of) + " with its unit: " + strings.Join(quantity.UnitsOf(of), ", ")
	}
	if t == amountType {
		return "; a number with its unit"
	}
	return ""
}

// numberPattern is the shape of a number as ParseNumber reads it.
const numberPattern = `[-+−]?([0-9]+([.,][0-9]*)?|[.,][0-9]+)([eE][-+]?[0-9]{1,2})?`

func quantityPattern(units []string) string {
	return `^\s*` + numberPattern + `\s*(` + strings.Join(units, "|") + `)\s*$`
}

// unitPatterns are the ways to write the units of a quantity, as findUnit reads
// them: any capitals, but m and M kept apart where they are a prefix.
func unitPatterns(of string) []string {
	var out []string
	for _, u := range quantity.Units {
		if u.Of == of {
			out = append(out, unitPattern(u.Symbol))
		}
	}
	for typed, symbol := range quantity.Spellings {
		if quantity.QuantityOf(symbol) == of {
			out = append(out, unitPattern(typed))
		}
	}
	slices.Sort(out)
	return slices.Compact(out)
}

func unitPattern(name string) string {
	if quantity.FirstStands(name) {
		return name[:1] + foldCase(name[1:])
	}
	return foldCase(name)
}

// exactUnits are the ways to write any unit, as ParseAmount reads them.
func exactUnits() []string {
	var out []string
	for _, u := range quantity.Units {
		if u.Symbol[0] == '1' { // 51 is no 5 of unit 1, nor 51/min one of 1/min
			out = append(out, `\s`+regexp.QuoteMeta(u.Symbol))
			continue
		}
		out = append(out, regexp.QuoteMeta(u.Symbol))
	}
	for typed := range quantity.Spellings {
		out = append(out, regexp.QuoteMeta(typed))
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// foldCase is a pattern for s in any capitals, the foldings of strings.EqualFold.
func foldCase(s string) string {
	var b strings.Builder
	for _, r := range s {
		set := []rune{r}
		for f := unicode.SimpleFold(r); f != r; f = unicode.SimpleFold(f) {
			set = append(set, f)
		}
		if len(set) == 1 {
			b.WriteString(regexp.QuoteMeta(string(r)))
			continue
		}
		slices.Sort(set)
		b.WriteString("[" + string(set) + "]")
	}
	return b.String()
}
