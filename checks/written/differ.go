package written

import (
	"fmt"
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

// Differences names what one text has otherwise than another, in the order of the older.
// Things with an id are compared by it, wherever they stand; comments and layout are not
// looked at. same tells whether two values that stand at one place come to the same.
func Differences(was, is *yaml.Node, same func(was, is *yaml.Node) bool) []Difference {
	d := differ{same: same}
	d.node("", was, is)
	return d.out
}

// Same tells that two values are written alike.
func Same(was, is *yaml.Node) bool { return Line(was) == Line(is) }

type differ struct {
	same func(was, is *yaml.Node) bool
	out  []Difference
}

func (d *differ) node(path string, was, is *yaml.Node) {
	switch {
	case d.same(was, is):
	case was == nil || is == nil || was.Kind != is.Kind || was.Kind == yaml.ScalarNode:
		d.out = append(d.out, Difference{path, Line(was), Line(is)})
	case was.Kind == yaml.MappingNode:
		d.members(path, Members(was), Members(is), join)
	default:
		a, named := Items(was)
		b, both := Items(is)
		if !named || !both {
			d.out = append(d.out, Difference{path, Line(was), Line(is)})
			return
		}
		d.members(path, a, b, func(path, id string) string { return fmt.Sprintf("%s[%s]", path, id) })
		if x, y := order(a, b), order(b, a); x != y {
			d.out = append(d.out, Difference{path, x, y})
		}
	}
}

func join(path, key string) string {
	if path == "" {
		return key
	}
	return path + "." + key
}

func (d *differ) members(path string, was, is []Member, join func(path, key string) string) {
	for _, m := range was {
		d.node(join(path, m.Key), m.Node, Named(is, m.Key))
	}
	for _, m := range is {
		if Named(was, m.Key) == nil {
			d.node(join(path, m.Key), nil, m.Node)
		}
	}
}

// order lists the ids of a that b has too.
func order(a, b []Member) string {
	var ids []string
	for _, m := range a {
		if Named(b, m.Key) != nil {
			ids = append(ids, m.Key)
		}
	}
	return strings.Join(ids, ", ")
}
