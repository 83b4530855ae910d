package plan_test

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"testing"
	"unicode"

	"github.com/santhosh-tekuri/jsonschema/v6"
	"go.yaml.in/yaml/v3"

	"handback/checks/plan"
	"handback/checks/quantity"
	"handback/testdata/cases"
	"handback/testdata/starters"
)

func compiled(t testing.TB) *jsonschema.Schema {
	t.Helper()
	text, err := plan.Schema("urn:example:plan")
	if err != nil {
		t.Fatal(err)
	}
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	c := jsonschema.NewCompiler()
	c.DefaultDraft(jsonschema.Draft2020)
	if err := c.AddResource("plan.json", doc); err != nil {
		t.Fatal(err)
	}
	s, err := c.Compile("plan.json") // checks it against the schema of schemas
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// asJSON is what an editor's YAML reader makes of a node: bare numbers, yes and
// nothing have types of their own, dates are text.
func asJSON(n *yaml.Node) any {
	switch n.Kind {
	case yaml.DocumentNode:
		return asJSON(n.Content[0])
	case yaml.MappingNode:
		out := map[string]any{}
		for i := 0; i+1 < len(n.Content); i += 2 {
			out[n.Content[i].Value] = asJSON(n.Content[i+1])
		}
		return out
	case yaml.SequenceNode:
		out := []any{}
		for _, c := range n.Content {
			out = append(out, asJSON(c))
		}
		return out
	}
	switch n.Tag {
	case "!!null":
		return nil
	case "!!bool":
		return n.Value == "true"
	case "!!int", "!!float":
		if _, err := strconv.ParseFloat(n.Value, 64); err == nil {
			return json.Number(n.Value)
		}
	}
	return n.Value
}

func validate(t testing.TB, s *jsonschema.Schema, text string) error {
	t.Helper()
	var n yaml.Node
	if err := yaml.Unmarshal([]byte(text), &n); err != nil {
		t.Fatal(err)
	}
	return s.Validate(asJSON(&n))
}

func TestSchema_acceptsPlans(t *testing.T) {
	s := compiled(t)
	plans := map[string]string{"the plan of the loader's tests": planText,
		"bare numbers and words where text belongs": strings.NewReplacer("serial: EX-1", "serial: 4711", "site: invented pumping station", "site: yes", `position: "1"`, "position: 1").Replace(planText),
		"nothing where text may stand":              strings.Replace(planText, "work: tap", "permit:\nrule:\nwork: tap", 1),
		"units in other ways to write them":         strings.NewReplacer("rating: 800 kVA", "rating: 800 kva", "hv: 11 kV\n", "hv: 11,0 KV\n", "load_loss: 8.4 kW", "load_loss: 8400w", "50 Hz", "50hz").Replace(planText),
		"limits that a check shares":                planText + "  - {check: u, kind: unbalance, limits: drives}\n" + limitsText,
		"a hold that names its checks":              planText + "    needs: [lv]\n",
	}
	for _, pattern := range []string{"../../templates/plans/*.yaml", "../../testdata/demo/*.yaml"} {
		files, err := filepath.Glob(pattern)
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range files {
			data, err := os.ReadFile(f)
			if err != nil {
				t.Fatal(err)
			}
			plans[f] = string(starters.FilledIn(data)) // before, it has texts that plan check objects to
		}
	}
	for name, text := range plans {
		if _, err := plan.Load(name, []byte(text)); err != nil {
			t.Errorf("the loader refuses %s: %v", name, err)
		}
		if err := validate(t, s, text); err != nil {
			t.Errorf("the schema refuses %s: %v", name, err)
		}
	}
}

// A plan that includes the rest need not give it, and what is included is no plan.
func TestSchema_included(t *testing.T) {
	s := compiled(t)
	for _, part := range parted(t) {
		if err := validate(t, s, string(part.Text)); err != nil {
			t.Errorf("%s: %v", part.Name, err)
		}
	}
	for name, text := range map[string]string{"a plan without people": strings.Replace(planText, "people:", "imports: []\nbaseline:", 1), "a part with a wrong date": "instruments: [{id: a, name: a, serial: b, due: soon}]\n", "no such key": "instrument: []\n"} {
		if validate(t, s, text) == nil {
			t.Errorf("%s passes", name)
		}
	}
}

// beyondSchema are the loader's problems that no schema of shapes can see: what
// stands elsewhere in the plan, how two values compare, and what YAML itself does
// not tell.
var beyondSchema = []string{
	"key given twice", "anchor", "control characters", "ambiguous number",
	"a hold that waits for nothing", "a hold that needs a stranger",
	"dangling instrument", "dangling transformer", "dangling board", "dangling earlier check", "an earlier check that is no such kind, and this one", "dangling tap",
	"one of two not given", "an incomer with a transformer's id",
	"duplicate step", "duplicate person", "duplicate plant", "duplicate tap",
	"more resistance than impedance", "LV above HV",
	"a peak below the short-time current", "a lowest supply above the usual", "a highest supply below the usual",
	"a range of two quantities", "a range that ends below its beginning", "a rating upside down", "a band of both kinds",
}

func TestSchema_refusesWhatTheLoaderRefuses(t *testing.T) {
	s := compiled(t)
	left := slices.Clone(beyondSchema)
	refused := 0
	for _, c := range problems {
		text := strings.Replace(planText, c.old, c.with, 1)
		var n yaml.Node
		dec := yaml.NewDecoder(strings.NewReader(text))
		if dec.Decode(&n) != nil || dec.Decode(new(yaml.Node)) == nil || strings.Contains(c.says, "not readable as YAML") {
			continue // no single YAML document: there is nothing to hold against a schema
		}
		err := s.Validate(asJSON(&n))
		if i := slices.Index(left, c.name); i >= 0 {
			left = slices.Delete(left, i, i+1)
			if err != nil {
				t.Errorf("%s: the schema sees it after all: %v", c.name, err)
			}
			continue
		}
		refused++
		if err == nil {
			t.Errorf("%s: the loader refuses it, the schema does not", c.name)
		}
	}
	if len(left) > 0 || refused < 20 {
		t.Errorf("%d problems refused; named as beyond the schema but no problem of the loader: %q", refused, left)
	}
}

// What the loader accepts of any kind, the schema accepts too: every case of
// every kind, its checks turned into the steps of a plan.
func TestSchema_agreesOnEveryCase(t *testing.T) {
	s := compiled(t)
	accepted := map[string]int{}
	for _, kind := range plan.KindNames() {
		f := cases.Read(t, kind)
		for _, c := range f.Cases {
			text := planOfTrial(t, f.Trial(t, c.Set))
			p, loadErr := plan.Load(kind, []byte(text))
			schemaErr := validate(t, s, text)
			if loadErr == nil && schemaErr != nil && !objectedToo(p, schemaErr) {
				t.Errorf("%s, %s: the loader accepts it, the schema says %v\n%v", kind, c.Name, schemaErr, p.Objections())
			}
			if loadErr == nil {
				accepted[kind]++
			}
		}
		if accepted[kind] == 0 {
			t.Errorf("no case of %s is a plan the loader accepts", kind)
		}
	}
}

// objectedToo tells whether the plan is objected to at every place where the schema finds
// something: a trial of a value beyond its bounds is a case, too.
func objectedToo(p *plan.Plan, err error) bool {
	var invalid *jsonschema.ValidationError
	if !errors.As(err, &invalid) {
		return false
	}
	if len(invalid.Causes) > 0 {
		return !slices.ContainsFunc(invalid.Causes, func(c *jsonschema.ValidationError) bool { return !objectedToo(p, c) })
	}
	path := ""
	for _, step := range invalid.InstanceLocation {
		if i, err := strconv.Atoi(step); err == nil {
			path += fmt.Sprintf("[%d]", i+1)
		} else {
			path = plan.Join(path, step)
		}
	}
	return slices.ContainsFunc(p.Objections(), func(q plan.Problem) bool { return q.Path == path })
}

func planOfTrial(t *testing.T, trial []byte) string {
	t.Helper()
	var tree map[string]any
	if err := json.Unmarshal(trial, &tree); err != nil {
		t.Fatal(err)
	}
	p := map[string]any{"handback": 1, "id": "trial", "title": "t", "site": "s", "work": "w", "people": []any{}}
	for _, key := range []string{"people", "system", "rule", "instruments", "plant"} {
		if v, ok := tree[key]; ok {
			p[key] = v
		}
	}
	for _, c := range tree["checks"].([]any) {
		delete(c.(map[string]any), "answers")
		delete(c.(map[string]any), "kept")
	}
	p["steps"] = tree["checks"]
	out, err := json.Marshal(p)
	if err != nil {
		t.Fatal(err)
	}
	return string(out)
}

// The pattern of every quantity and the parser accept the same units.
func TestSchema_units(t *testing.T) {
	names := []string{"volts", "kVAr", ""}
	for _, u := range quantity.Units {
		names = append(names, u.Symbol)
	}
	for typed := range quantity.Spellings {
		names = append(names, typed)
	}
	tried := 0
	for typ, of := range quantity.Measured {
		one := unitSchema(t, typ)
		for _, name := range names {
			for _, typed := range []string{name, strings.ToLower(name), strings.ToUpper(name), capital(name)} {
				tried++
				_, err := quantity.FindUnit(typed, of)
				if got := one.Validate("5 " + typed); (got == nil) != (err == nil && typed != "") {
					t.Errorf("5 %q as %s: the parser says %v, the schema %v", typed, of, err, got)
				}
			}
		}
	}
	amount := unitSchema(t, plan.AmountType)
	for _, name := range append(names, "1", "v", "NM") {
		for _, typed := range []string{"5" + name, "5 " + name, ">5 " + name, "51" + name} {
			tried++
			_, err := quantity.ParseAmount(typed)
			if got := amount.Validate(typed); (got == nil) != (err == nil) {
				t.Errorf("%q: the parser says %v, the schema %v", typed, err, got)
			}
		}
	}
	if tried < 1000 {
		t.Errorf("%d units tried", tried)
	}
}

func capital(s string) string {
	r := []rune(s)
	if len(r) > 0 {
		r[0] = unicode.ToUpper(r[0])
	}
	return string(r)
}

// unitSchema is the schema of one measured type alone.
func unitSchema(t *testing.T, typ reflect.Type) *jsonschema.Schema {
	t.Helper()
	b := plan.SchemaOf{Defs: plan.Shape{}}
	root := b.Value(typ, plan.Tag{}, "")
	root["$defs"] = b.Defs
	text, err := json.Marshal(root)
	if err != nil {
		t.Fatal(err)
	}
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	c := jsonschema.NewCompiler()
	if err := c.AddResource("unit.json", doc); err != nil {
		t.Fatal(err)
	}
	s, err := c.Compile("unit.json")
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func TestSchema_positive(t *testing.T) {
	s := compiled(t)
	for typed, ok := range map[string]bool{"800 kVA": true, "0.5 kVA": true, "+1 kVA": true, "0,05 kVA": true, ".5 kVA": true, "1e-3 kVA": true, "10 kVA": true,
		"0 kVA": false, "0.0 kVA": false, "-5 kVA": false, "−5 kVA": false, "0e5 kVA": false, "kVA": false, "800": false, "800 kW": false, "800 kVA kVA": false, "> 800 kVA": false} {
		text := strings.Replace(planText, "rating: 800 kVA", "rating: "+strconv.Quote(typed), 1)
		if err := validate(t, s, text); (err == nil) != ok {
			t.Errorf("%q: the schema says %v", typed, err)
		}
		_, err := plan.Load("p", []byte(text))
		if noted := err != nil && strings.Contains(err.Error(), "transformers[1].rating: "); noted == ok {
			t.Errorf("%q: the loader says %v", typed, err)
		}
	}
}

// The schema carries the table of floors: as bounds of plain numbers, in words where a
// unit makes a number text; and a plan has steps.
func TestSchema_floors(t *testing.T) {
	s := compiled(t)
	for text, ok := range map[string]bool{
		with("contact-resistance", "{factor: 1.5, groups: [{group: g, joints: [{id: a, name: a}]}]}"): true,
		with("contact-resistance", "{factor: 2.5, groups: [{group: g, joints: [{id: a, name: a}]}]}"): false,
		strings.Replace(planText, "digits: 3", "digits: 100", 1):                                      true,
		strings.Replace(planText, "digits: 3", "digits: 101", 1):                                      false,
		strings.Split(planText, "steps:")[0] + "steps: []\n":                                          false,
	} {
		if err := validate(t, s, text); (err == nil) != ok {
			t.Errorf("the schema says %v of\n%s", err, text)
		}
	}
	text, err := plan.Schema("urn:example:plan")
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{
		"a duration with its unit: s, ms, min, h; 30 s to 60 min",
		"a share with its unit: %; 1 % to 100 %, with a named reason 1 % to 150 %",
		"short-circuit impedance on the rating, such as 4.8 %; a share with its unit: %; 0.5 % to 25 %",
	} {
		if !bytes.Contains(text, []byte(want)) {
			t.Errorf("the schema does not say %q", want)
		}
	}
}
