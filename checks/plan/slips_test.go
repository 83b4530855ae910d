package plan_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"go.yaml.in/yaml/v3"

	"handback/checks/plan"
	"handback/templates"
	"handback/testdata/demo"
	"handback/testdata/starters"
)

// slip is a way to get one member of a plan wrong; it says whether it applies.
type slip struct {
	name string
	make func(key, value *yaml.Node) bool
}

// slips are those that any member of any plan can suffer.
var slips = []slip{
	{"the key misspelt", func(key, _ *yaml.Node) bool { key.Value += "x"; return true }},
	{"a map for a value", func(_, v *yaml.Node) bool {
		if v.Kind != yaml.ScalarNode {
			return false
		}
		*v = yaml.Node{Kind: yaml.MappingNode, Tag: "!!map", Content: []*yaml.Node{{Kind: yaml.ScalarNode, Value: "x"}, {Kind: yaml.ScalarNode, Value: "y"}}}
		return true
	}},
	{"one value for a list or a map", func(_, v *yaml.Node) bool {
		if v.Kind == yaml.ScalarNode {
			return false
		}
		*v = yaml.Node{Kind: yaml.ScalarNode, Tag: "!!str", Value: "x y"}
		return true
	}},
	{"a unit that is none", func(_, v *yaml.Node) bool {
		number, unit, ok := strings.Cut(v.Value, " ")
		if ok = ok && v.Kind == yaml.ScalarNode && number != "" && strings.Trim(number, "0123456789.") == "" && len(unit) < 5; ok {
			v.Value = number + " furlong"
		}
		return ok
	}},
}

// members are all maps of a plan, key by key, in the order they are written.
func members(n *yaml.Node) (out [][2]*yaml.Node) {
	if n.Kind == yaml.MappingNode {
		for i := 0; i+1 < len(n.Content); i += 2 {
			out = append(out, [2]*yaml.Node{n.Content[i], n.Content[i+1]})
		}
	}
	for _, c := range n.Content {
		out = append(out, members(c)...)
	}
	return out
}

// Whatever member of whatever starter, or of the demo, somebody gets wrong so: where plan
// check refuses it, the schema does. Of some thousand slips every so many-th is tried.
func TestSchema_slips(t *testing.T) {
	s := compiled(t)
	plans := map[string]string{"the demo": string(demo.Plan)}
	for _, name := range templates.Plans() {
		data, err := templates.Plan(name)
		if err != nil {
			t.Fatal(err)
		}
		plans[name] = string(starters.FilledIn(data))
	}
	if len(plans) < 8 {
		t.Fatalf("%d plans", len(plans))
	}
	every := 17
	if testing.Short() {
		every = 97
	}
	tried, passed := 0, map[string][]string{}
	for name, text := range plans {
		var n yaml.Node
		if err := yaml.Unmarshal([]byte(text), &n); err != nil {
			t.Fatal(err)
		}
		all := members(&n)
		for i := range all {
			for k, slip := range slips {
				if (i+k)%every != 0 {
					continue
				}
				key, value := *all[i][0], *all[i][1]
				if !slip.make(all[i][0], all[i][1]) {
					continue
				}
				changed, err := yaml.Marshal(&n)
				*all[i][0], *all[i][1] = key, value
				if err != nil {
					t.Fatal(err)
				}
				tried++
				if validate(t, s, string(changed)) != nil {
					continue
				}
				p, err := plan.Load("plan.yaml", changed)
				if err == nil && len(p.Objections()) > 0 {
					err = p.Objections()
				}
				if err != nil {
					passed[slip.name] = append(passed[slip.name], fmt.Sprintf("%s line %d, %s: %.160s", name, all[i][0].Line, key.Value, strings.ReplaceAll(err.Error(), "\n", " ")))
				}
			}
		}
	}
	for what, where := range passed {
		slices.Sort(where)
		t.Errorf("%s: the schema accepts %d:\n%s", what, len(where), strings.Join(where[:min(len(where), 12)], "\n"))
	}
	if tried < 50 {
		t.Errorf("%d slips", tried)
	}
	t.Logf("%d slips", tried)
}
