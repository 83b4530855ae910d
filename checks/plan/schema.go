package plan

import (
	"bytes"
	"encoding/json"
	"reflect"
	"slices"
	"strconv"
	"strings"

	"handback/checks/quantity"
)

// Schema is the JSON Schema (draft 2020-12) of a plan, for editors that help to
// write one. It is made from the tags the loader decodes by, so the two cannot
// drift apart. It knows shapes, words, units and bounds; what only the whole plan shows
// (a reference to nothing, an id given twice, an impossible nameplate, the order of dead
// and live work) is left to Load: mutation_test.go lists it with the reasons. id is what it is called wherever it is kept.
func Schema(id string) ([]byte, error) {
	return schemaOf{Defs: shape{}, kinds: KindNames(), bounds: true}.text(id)
}

// SchemaFor is the schema of plans with checks of these kinds alone, for who reads one: it
// knows shapes, words and units, and not within which bounds a value is given.
func SchemaFor(id string, kinds []string) ([]byte, error) {
	return schemaOf{Defs: shape{}, kinds: kinds}.text(id)
}

func (s schemaOf) text(id string) ([]byte, error) {
	root := s.object(reflect.TypeFor[Plan](), "")
	root["$schema"] = "https://json-schema.org/draft/2020-12/schema"
	root["$id"], root["title"] = id, "handback plan"
	root["properties"].(shape)["handback"] = shape{"enum": []any{PlanFormat, strconv.Itoa(PlanFormat)}, "description": "version of the plan format"}
	root["properties"].(shape)["steps"].(shape)["minItems"] = 1
	s.whole()
	parted(root)
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

// parted lets a file be a plan, a plan that includes the rest, or a file that is included:
// one that holds no key of ofPlan.
func parted(root shape) {
	var own, shared []string
	for _, key := range root["required"].([]string) {
		if slices.Contains(ofPlan, key) {
			own = append(own, key)
		} else {
			shared = append(shared, key)
		}
	}
	delete(root, "required")
	var each []any
	for _, key := range ofPlan {
		each = append(each, shape{"required": []string{key}})
	}
	root["if"] = shape{"anyOf": each}
	root["then"] = shape{"required": own, "if": shape{"required": []string{"include"}}, "else": shape{"required": shared}}
}

type shape = map[string]any

// schemaOf gathers the definitions a schema refers to.
type schemaOf struct {
	Defs   shape
	kinds  []string // of checks
	bounds bool     // values are held within theirs
}

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
		out = s.measured(of, f, path)
	case t == nodeType: // its kind says more
	case t == timeType:
		out = shape{"type": "string", "pattern": datePattern}
	case t == amountType:
		out = s.define("amount", func() shape {
			return shape{"type": "string", "pattern": quantity.QuantityPattern(quantity.ExactUnits())}
		})
	case t == reflect.TypeFor[rawStep]():
		out = s.define("step", s.step)
	case t.Kind() == reflect.Struct:
		out = s.define(defName(t, path), func() shape { return s.object(t, path) })
	case t.Kind() == reflect.Slice:
		out = shape{"type": "array", "items": s.Value(t.Elem(), tag{ref: f.ref}, path)}
	case t.Kind() == reflect.Map:
		out = shape{"type": "object", "additionalProperties": s.Value(t.Elem(), tag{}, path)}
	default:
		out = s.plain(t, f, path)
	}
	switch bounds := boundsOf(path); {
	case f.doc == "":
	case !s.bounds: // units are told where their quantity is defined
		out["description"] = f.doc
	case bounds != "":
		out["description"] = f.doc + describeUnits(t) + "; " + bounds
	default:
		out["description"] = f.doc + describeUnits(t)
	}
	return out
}

// plain describes one plain value, within its bounds; for who reads, a number or yes is
// defined once and any text is text.
func (s schemaOf) plain(t reflect.Type, f tag, path string) shape {
	out := scalar(t, f)
	switch isText := t.Kind() == reflect.String; {
	case s.bounds && isText && len(f.One) == 0:
		narrow(out, path)
	case s.bounds:
		s.bound(out, path)
	case !isText:
		return s.define(t.Kind().String(), func() shape { return out })
	case len(f.One) == 0 && out["pattern"] == nil:
		delete(out, "type")
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
	for _, f := range rowsOf(path) {
		if number := either[0].(shape); number["type"] != "boolean" {
			number["minimum"], number["maximum"] = f.Least, f.Most
		}
	}
}

// rowsOf are the rows of the table of floors that bound what stands under a path whatever
// else the plan says: where rows differ by what a range reads or by the kind of a check,
// the widest of each.
func rowsOf(path string) []floor {
	var out []floor
	for key, rows := range floorTable {
		own := key == path || strings.HasPrefix(key, path+"/") || path == "check.life" && strings.HasSuffix(key, ".life")
		for i, f := range rows {
			switch {
			case !own || f.of != nil:
			case i < len(out):
				out[i].Least, out[i].Most = min(out[i].Least, f.Least), max(out[i].Most, f.Most)
			default:
				out = append(out, f)
			}
		}
	}
	return out
}

// defName is what a struct is called among the definitions: by its place where the table
// of floors bounds something in it.
func defName(t reflect.Type, path string) string {
	for key := range floorTable {
		if strings.HasPrefix(key, path+".") {
			return path
		}
	}
	return strings.ToLower(t.Name())
}

// narrow puts on a text what its place asks of it, beside what its tags do.
func narrow(out shape, path string) {
	key := path[strings.LastIndexByte(path, '.')+1:]
	if pattern, ok := placePatterns[path]; ok {
		out["pattern"] = pattern
	}
	if pattern, ok := starterPatterns[key]; ok {
		// Not "not": editors have no words of their own for it, and give these to a type.
		out["if"] = shape{"type": "string", "pattern": pattern}
		out["then"] = shape{"type": "null", "errorMessage": "the text of a starter: put your own"}
	}
	switch {
	case path == "people.keys":
	case textBounds[key] > 0:
		out["maxLength"] = textBounds[key]
	case key == "photos":
		out["maxLength"] = mostPhotoName
	case key == "include":
		out["pattern"] = `^[^/\\:\n\r\t.]+([./]|[^/\\:\n\r\t])*$`
	default:
		out["maxLength"] = mostText
	}
}

// whole puts on what is defined what its values ask of one another.
func (s schemaOf) whole() {
	keys := func(name string) shape { return s.Defs[name].(shape)["properties"].(shape) }
	ranges := keys("instruments.ranges")
	ranges["resolution"] = shape{"allOf": []any{ranges["resolution"], shape{"not": shape{"pattern": notPositive}}}}
	ranges["to"] = shape{"allOf": []any{ranges["to"], shape{"anyOf": []any{
		shape{"pattern": quantity.QuantityPattern(quantity.UnitPatterns("temperature"))}, shape{"not": shape{"pattern": notPositive}}}}}}
	s.Defs["instruments.ranges"].(shape)["dependentRequired"] = shape{"digits": []string{"resolution"}}
	s.Defs["baseline"].(shape)["dependentRequired"] = shape{"only": []string{"change"}}
	keys("system")["frequency"].(shape)["anyOf"] = []any{shape{"pattern": networkPattern}, shape{"pattern": "[KkMm][Hh]|[0-9][Ee]"}}
	keys("system")["conductors"].(shape)["anyOf"] = []any{shape{"maxItems": 0}, shape{"minItems": 3, "maxItems": 3}}
	for _, name := range []string{"check", "hold", "plain-step"} {
		photos := keys(name)["photos"].(shape)
		photos["maxItems"], photos["uniqueItems"] = mostPhotos, true
	}
	var each []any
	for _, a := range acts {
		then := shape{"required": a.needs}
		none := shape{}
		for _, key := range actKeys {
			if !slices.Contains(a.needs, key) {
				none[key] = false
			}
		}
		then["properties"] = none
		each = append(each, shape{"if": shape{"properties": shape{"act": shape{"const": string(a.act)}}, "required": []string{"act"}}, "then": then})
	}
	s.Defs["act"] = shape{"allOf": each}
	for _, name := range []string{"hold", "plain-step"} {
		s.Defs[name].(shape)["allOf"] = []any{shape{"$ref": "#/$defs/act"}}
		leave := []any{}
		for _, r := range mayLeave {
			leave = append(leave, string(r))
		}
		keys(name)["leave"].(shape)["items"] = shape{"enum": leave}
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
		return shape{"anyOf": []any{shape{"type": "number"}, shape{"type": "string", "pattern": "^" + quantity.NumberPattern + "$"}}}
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
	kind["enum"] = s.kinds
	var each []any
	var titles []string // what editors say beside each word
	for _, name := range s.kinds {
		titles = append(titles, TraitsNamed(name).Title)
		each = append(each, shape{
			"if":   shape{"properties": shape{"kind": shape{"const": name}}, "required": []string{"kind"}},
			"then": s.given(TraitsNamed(name)),
		})
	}
	kind["enumDescriptions"] = titles
	check["allOf"] = each
	s.Defs["check"], s.Defs["hold"], s.Defs["plain-step"] = check, hold, step
	plain := shape{"if": shape{"required": []string{"hold"}}, "then": shape{"$ref": "#/$defs/hold"}, "else": shape{"$ref": "#/$defs/plain-step"}}
	return shape{"if": shape{"required": []string{"check"}}, "then": shape{"$ref": "#/$defs/check"}, "else": plain}
}

// given describes what a check of one kind is given. What limits that it shares give it,
// it need not give itself.
func (s schemaOf) given(k *Traits) shape {
	v := reflect.ValueOf(k.Given()).Elem()
	given := s.define("given-"+k.Name, func() shape {
		out := s.object(v.Type(), k.Name)
		delete(out, "required")
		out["title"] = "given of " + k.Name
		return out
	})
	out := shape{"properties": shape{"given": given}}
	var need []string
	for _, f := range FieldsOf(v) {
		if f.need {
			need = append(need, f.Name)
		}
	}
	if len(need) > 0 {
		out["if"] = shape{"required": []string{"limits"}}
		out["else"] = shape{"required": []string{"given"}, "properties": shape{"given": shape{"required": need}}}
	}
	return out
}
