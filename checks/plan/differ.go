package plan

import (
	"fmt"
	"slices"
	"strings"

	"go.yaml.in/yaml/v3"
)

// Difference is one place in which two versions of a plan differ, as they are written;
// Was is "" for what was added, Is for what was taken out.
type Difference struct {
	Path string `json:"path"`
	Was  string `json:"was,omitempty"`
	Is   string `json:"is,omitempty"`
}

// Differences names what one version of a plan has otherwise than another, in the order
// of the older. Things with an id are compared by it, wherever they stand; comments and
// layout are not looked at.
func Differences(was, is *Plan) []Difference {
	var d differ
	d.node("", was.root, is.root)
	return d.out
}

type differ struct{ out []Difference }

func (d *differ) node(path string, was, is *yaml.Node) {
	switch {
	case written(was) == written(is):
	case was == nil || is == nil || was.Kind != is.Kind || was.Kind == yaml.ScalarNode:
		d.out = append(d.out, Difference{path, written(was), written(is)})
	case was.Kind == yaml.MappingNode:
		d.members(path, membersOf(was), membersOf(is), Join)
	default:
		a, named := itemsOf(was)
		b, both := itemsOf(is)
		if !named || !both {
			d.out = append(d.out, Difference{path, written(was), written(is)})
			return
		}
		d.members(path, a, b, func(path, id string) string { return fmt.Sprintf("%s[%s]", path, id) })
		if x, y := order(a, b), order(b, a); x != y {
			d.out = append(d.out, Difference{path, x, y})
		}
	}
}

// member is a value with its key, or an item of a list with its id.
type member struct {
	key  string
	node *yaml.Node
}

func (d *differ) members(path string, was, is []member, join func(path, key string) string) {
	for _, m := range was {
		d.node(join(path, m.key), m.node, named(is, m.key))
	}
	for _, m := range is {
		if named(was, m.key) == nil {
			d.node(join(path, m.key), nil, m.node)
		}
	}
}

func named(list []member, key string) *yaml.Node {
	if i := slices.IndexFunc(list, func(m member) bool { return m.key == key }); i >= 0 {
		return list[i].node
	}
	return nil
}

func membersOf(n *yaml.Node) []member {
	var out []member
	for i := 0; n != nil && i+1 < len(n.Content); i += 2 {
		out = append(out, member{n.Content[i].Value, n.Content[i+1]})
	}
	return out
}

// idKeys are the keys by which things in a list are known, the first that stands.
var idKeys = []string{"id", "check", "hold", "step", "position"}

// itemsOf are the items of a list by their ids; ok is false where one has none, or two
// have the same.
func itemsOf(n *yaml.Node) (out []member, ok bool) {
	for _, item := range n.Content {
		id := ""
		for _, key := range idKeys {
			if v := named(membersOf(item), key); item.Kind == yaml.MappingNode && v != nil && id == "" {
				id = v.Value
			}
		}
		if id == "" || named(out, id) != nil {
			return nil, false
		}
		out = append(out, member{id, item})
	}
	return out, true
}

// order lists the ids of a that b has too.
func order(a, b []member) string {
	var ids []string
	for _, m := range a {
		if named(b, m.key) != nil {
			ids = append(ids, m.key)
		}
	}
	return strings.Join(ids, ", ")
}

// written is a value on one line, without comments and layout; "" for none.
func written(n *yaml.Node) string {
	if n == nil {
		return ""
	}
	var parts []string
	switch n.Kind {
	case yaml.MappingNode:
		for _, m := range membersOf(n) {
			parts = append(parts, m.key+": "+written(m.node))
		}
		return "{" + strings.Join(parts, ", ") + "}"
	case yaml.SequenceNode:
		for _, item := range n.Content {
			parts = append(parts, written(item))
		}
		return "[" + strings.Join(parts, ", ") + "]"
	}
	return n.Value
}

// leaving is what is written of a mapping but for some keys.
func leaving(n *yaml.Node, out ...string) string {
	if n == nil {
		return ""
	}
	var parts []string
	for _, m := range membersOf(n) {
		if !slices.Contains(out, m.key) {
			parts = append(parts, m.key+": "+written(m.node))
		}
	}
	return strings.Join(parts, ", ")
}

func (p *Plan) item(list, id string) *yaml.Node {
	n := named(membersOf(p.root), list)
	if n == nil {
		return nil
	}
	items, _ := itemsOf(n)
	return named(items, id)
}

// StepWritten is how a step of the plan is written but for the words it is shown with;
// "" for a step the plan has not.
func (p *Plan) StepWritten(id string) string {
	return leaving(p.item("steps", id), "title", "at", "note")
}

// MeterWritten is what the plan gives of an instrument but for what its label says; ""
// for one the plan has not.
func (p *Plan) MeterWritten(id string) string {
	return leaving(p.item("instruments", id), "name", "serial", "certificate", "due")
}

// BaseWritten is what every check of the plan is judged with: nameplate data, system and
// rules.
func (p *Plan) BaseWritten() string {
	plant := named(membersOf(p.root), "plant")
	return leaving(p.root, append(slices.Clone(paperKeys), "plant")...) + "\n" + plantWritten(plant)
}
