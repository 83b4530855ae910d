package plan_test

import (
	"bytes"
	"encoding/json"
	"slices"
	"testing"

	"go.yaml.in/yaml/v3"

	"handback/checks/plan"
	"handback/testdata/demo"
	"handback/testdata/schemas"
)

// Who reads a plan gets a schema of the kinds it has, a third as long, by which values may
// be any of their unit: what the whole schema lets through fits it too.
func TestSchemaFor(t *testing.T) {
	p := loadText(t, string(demo.Plan))
	kinds := []string{}
	for _, c := range p.Checks() {
		if !slices.Contains(kinds, c.Kind.Name) {
			kinds = append(kinds, c.Kind.Name)
		}
	}
	short, err := plan.SchemaFor("urn:example:plan", kinds)
	if err != nil {
		t.Fatal(err)
	}
	whole, err := plan.Schema("urn:example:plan")
	if err != nil || len(short) > len(whole)/2 {
		t.Errorf("%d bytes of %d, %v", len(short), len(whole), err)
	}
	for was, is := range map[string]string{"": "", "impedance: 3.97 %": "impedance: 99 %", "rule: guarded": "rule: loose", "kind: rotation": "kind: withstand", "impedance: 3.85 %": "impedance: 3.85 V"} {
		var doc yaml.Node
		if err := yaml.Unmarshal(bytes.Replace(demo.Plan, []byte(was), []byte(is), 1), &doc); err != nil {
			t.Fatal(err)
		}
		text, err := json.Marshal(asJSON(&doc))
		if err != nil {
			t.Fatal(err)
		}
		if err := schemas.Fits(short, text); (err == nil) != (was == "" || was == "impedance: 3.97 %") {
			t.Errorf("%q in place of %q: %v", is, was, err)
		}
	}
}
