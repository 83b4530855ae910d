package manual

import (
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strings"
)

// Kind is what the reference says of a kind of check above what it is given.
type Kind struct {
	Name, Title, Shows string
	Sources            []string // of its limits
	Unread             []string // of these, those that nobody here has read
}

// shape is what the reference reads of a JSON Schema.
type shape struct {
	Ref         string           `json:"$ref"`
	Defs        map[string]shape `json:"$defs"`
	Description string           `json:"description"`
	Type        any              `json:"type"`
	Enum        []any            `json:"enum"`
	Items       *shape           `json:"items"`
	AllOf       []shape          `json:"allOf"`
	AnyOf       []shape          `json:"anyOf"`
	Properties  map[string]shape `json:"properties"`
	Required    []string         `json:"required"`
	If, Then    *shape
	Else        *shape
	Const       string          `json:"const"`
	More        json.RawMessage `json:"additionalProperties"`
}

// UnmarshalJSON takes true and false, which stand for any value and none, for no shape.
func (s *shape) UnmarshalJSON(data []byte) error {
	type plain shape
	if text := string(data); text == "true" || text == "false" {
		return nil
	}
	return json.Unmarshal(data, (*plain)(s))
}

// reference lays the schema of a plan out, an object under a heading, once each.
type reference struct {
	defs   map[string]shape
	told   map[string]string // the heading of each definition
	blocks []Block
}

// Reference is the page of all that a plan may hold, made from its JSON Schema.
func Reference(schema []byte, kinds []Kind) (Page, error) {
	var root shape
	if err := json.Unmarshal(schema, &root); err != nil {
		return Page{}, fmt.Errorf("schema of plans: %w", err)
	}
	r := &reference{defs: root.Defs, told: map[string]string{}}
	r.say("Every key that a plan may hold, made from the schema that plans are read by. A value with a unit is written with it, as in `400 V`; what it may be at " +
		"least and at most stands behind it. Where a key may be left out, what counts then is said, with whose word that is. A list is written one item a line behind " +
		"`-`, or in `[ ]`. `handback help plan` shows a whole plan, `handback kinds KIND` an example of each kind of check.")
	for _, part := range []*shape{root.Then, root.Then.Else} {
		root.Required = append(root.Required, part.Required...)
	}
	r.object("a plan", root, root.Required)
	for _, step := range []struct{ def, heading string }{{"check", "steps: a check"}, {"hold", "steps: a hold point"}, {"plain-step", "steps: a plain step"}} {
		r.object(step.heading, r.defs[step.def], r.defs[step.def].Required)
	}
	for _, k := range kinds {
		r.kind(k)
	}
	return Page{Name: "reference", Section: Topics, Title: "every key that a plan may hold", Blocks: r.blocks}, nil
}

func (r *reference) say(text string) {
	r.blocks = append(r.blocks, Block{Sort: Paragraph, Text: text})
}

// kind tells what a kind of check is given, and where its limits come from.
func (r *reference) kind(k Kind) {
	given := r.defs["given-"+k.Name]
	var need []string
	for _, each := range r.defs["check"].AllOf {
		if each.If != nil && each.If.Properties["kind"].Const == k.Name && each.Then.Else != nil {
			need = each.Then.Else.Properties["given"].Required
		}
	}
	at := len(r.blocks)
	r.object("given: "+k.Name, given, need)
	about := []Block{{Sort: Paragraph, Text: k.Title + ". " + k.Shows}}
	if len(k.Sources) > 0 {
		about = append(about, Block{Sort: Paragraph, Text: "Limits come from: " + strings.Join(k.Sources, "; ") + "."})
	}
	if len(k.Unread) > 0 {
		about = append(about, Block{Sort: Paragraph, Text: "Not read by who wrote this: " + strings.Join(k.Unread, "; ") + "."})
	}
	r.blocks = slices.Insert(r.blocks, at+1, about...)
}

// object lists the keys of an object, those that are needed first, and what stands in them
// after it.
func (r *reference) object(heading string, s shape, need []string) {
	r.blocks = append(r.blocks, Block{Sort: Heading, Text: heading})
	keys := slices.SortedStableFunc(maps.Keys(s.Properties), func(a, b string) int {
		if wanted := slices.Contains(need, a); wanted != slices.Contains(need, b) {
			if wanted {
				return -1
			}
			return 1
		}
		return strings.Compare(a, b)
	})
	type below struct {
		heading string
		shape   shape
	}
	var next []below
	for _, key := range keys {
		value := s.Properties[key]
		text, def := r.value(value)
		if slices.Contains(need, key) {
			text = "needed: " + text
		}
		if def != "" && def != "step" {
			if r.told[def] == "" {
				r.told[def] = strings.TrimPrefix(heading+"."+key, "a plan.")
				next = append(next, below{r.told[def], r.defs[def]})
			}
			text += " Its keys stand under " + strings.ToUpper(r.told[def]) + "."
		}
		r.blocks = append(r.blocks, Block{Sort: Point, Mark: key, Text: text})
	}
	for _, b := range next {
		r.object(b.heading, b.shape, b.shape.Required)
	}
}

// value tells one value, and the definition of the object that stands in it.
func (r *reference) value(s shape) (text, def string) {
	text = s.Description
	for _, also := range s.AllOf {
		if also.Description != "" {
			text = also.Description
		}
	}
	list := s.Items != nil
	if list {
		s = *s.Items
	}
	var more shape
	if err := json.Unmarshal(s.More, &more); err == nil && s.Properties == nil {
		text, s = text+"; any names of your own, each with a value", more
	}
	def = strings.TrimPrefix(s.Ref, "#/$defs/")
	if r.defs[def].Properties == nil && def != "step" {
		def = ""
	}
	if sort := sortOf(s, def); sort != "" && list {
		text += "; a list, each " + sort
	} else if list {
		text += "; a list"
	} else if sort != "" {
		text += "; " + sort
	}
	return strings.TrimSuffix(text, ".") + ".", def
}

// sortOf tells what a value is where its words do not: text needs none.
func sortOf(s shape, def string) string {
	switch {
	case len(s.Enum) > 0:
		var words []string
		for _, w := range s.Enum {
			if w, ok := w.(string); ok {
				words = append(words, w)
			}
		}
		return "one of " + strings.Join(words, ", ")
	case len(s.AnyOf) > 0 && s.AnyOf[0].Type == "boolean":
		return "yes or no"
	case len(s.AnyOf) > 0 && (s.AnyOf[0].Type == "integer" || s.AnyOf[0].Type == "number"):
		return "a number"
	case def == "step":
		return "a check, a hold point or a plain step"
	}
	return ""
}
