package plan

import (
	"fmt"
	"slices"
	"strings"

	"go.yaml.in/yaml/v3"

	"handback/checks/written"
)

// Differences names what one version of a plan has otherwise than another, as they are
// written, in the order of the older.
func Differences(was, is *Plan) []Difference {
	return written.Differences(was.root, is.root, written.Same)
}

// Changes names what one plan means otherwise than another: 0.5 kV is 500 V, and the order
// of the keys of a thing says nothing.
func Changes(was, is *Plan) []Difference {
	return written.Differences(was.root, is.root, func(a, b *yaml.Node) bool { return was.meaning(a) == is.meaning(b) })
}

// meaning is what a part of the plan comes to, on one line.
func (p *Plan) meaning(n *yaml.Node) string {
	if n == nil {
		return ""
	}
	if what, ok := p.meant[n]; ok {
		return what
	}
	var parts []string
	switch n.Kind {
	case yaml.MappingNode:
		for _, m := range written.Members(n) {
			parts = append(parts, fmt.Sprintf("%q: %s", m.Key, p.meaning(m.Node)))
		}
		slices.Sort(parts)
		return "{" + strings.Join(parts, ", ") + "}"
	case yaml.SequenceNode:
		for _, item := range n.Content {
			parts = append(parts, p.meaning(item))
		}
		return "[" + strings.Join(parts, ", ") + "]"
	}
	return fmt.Sprintf("%q", n.Value)
}

// Difference is one place in which two versions of a plan differ.
type Difference = written.Difference

// item is one of a list of the plan, as it is written.
func (p *Plan) item(list, id string) *yaml.Node {
	n := written.Named(written.Members(p.root), list)
	if n == nil {
		return nil
	}
	items, _ := written.Items(n)
	return written.Named(items, id)
}

// StepWritten is how a step of the plan is written but for the words it is shown with;
// "" for a step the plan has not.
func (p *Plan) StepWritten(id string) string {
	return written.Leaving(p.item("steps", id), "title", "at", "note")
}

// MeterWritten is what the plan gives of an instrument but for what its label says; ""
// for one the plan has not.
func (p *Plan) MeterWritten(id string) string {
	return written.Leaving(p.item("instruments", id), "name", "serial", "certificate", "due")
}

// BaseWritten is what every check of the plan is judged with: nameplate data, system and
// rules.
func (p *Plan) BaseWritten() string {
	plant := written.Named(written.Members(p.root), "plant")
	return written.Leaving(p.root, append(slices.Clone(paperKeys), "plant")...) + "\n" + plantWritten(plant)
}
