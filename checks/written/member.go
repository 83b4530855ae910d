package written

import (
	"slices"
	"strings"

	"go.yaml.in/yaml/v3"
)

// Member is a value with its key, or an item of a list with its id.
type Member struct {
	Key  string
	Node *yaml.Node
}

// Named finds a member by its key, nil when there is none.
func Named(list []Member, key string) *yaml.Node {
	if i := slices.IndexFunc(list, func(m Member) bool { return m.Key == key }); i >= 0 {
		return list[i].Node
	}
	return nil
}

// Members are the values of a mapping with their keys; none of what is no mapping.
func Members(n *yaml.Node) []Member {
	var out []Member
	if n == nil || n.Kind != yaml.MappingNode {
		return nil
	}
	for i := 0; i+1 < len(n.Content); i += 2 {
		out = append(out, Member{n.Content[i].Value, n.Content[i+1]})
	}
	return out
}

// idKeys are the keys by which things in a list are known, the first that stands.
var idKeys = []string{"id", "check", "hold", "step", "position"}

// Items are the items of a list by their ids; ok is false where one has none, or two
// have the same.
func Items(n *yaml.Node) (out []Member, ok bool) {
	for _, item := range n.Content {
		id := ""
		for _, key := range idKeys {
			if v := Named(Members(item), key); v != nil && id == "" {
				id = v.Value
			}
		}
		if id == "" || Named(out, id) != nil {
			return nil, false
		}
		out = append(out, Member{id, item})
	}
	return out, true
}

// Line is a value on one line, without comments and layout; "" for none.
func Line(n *yaml.Node) string {
	if n == nil {
		return ""
	}
	var parts []string
	switch n.Kind {
	case yaml.MappingNode:
		for _, m := range Members(n) {
			parts = append(parts, m.Key+": "+Line(m.Node))
		}
		return "{" + strings.Join(parts, ", ") + "}"
	case yaml.SequenceNode:
		for _, item := range n.Content {
			parts = append(parts, Line(item))
		}
		return "[" + strings.Join(parts, ", ") + "]"
	}
	return n.Value
}

// Leaving is what is written of a mapping but for some keys.
func Leaving(n *yaml.Node, out ...string) string {
	var parts []string
	for _, m := range Members(n) {
		if !slices.Contains(out, m.Key) {
			parts = append(parts, m.Key+": "+Line(m.Node))
		}
	}
	return strings.Join(parts, ", ")
}
