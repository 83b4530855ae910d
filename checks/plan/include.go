package plan

import (
	"fmt"
	"reflect"
	"slices"
	"strings"

	"go.yaml.in/yaml/v3"

	"handback/checks/written"
)

// Limits are what checks of one kind share: part of what each is given.
type Limits struct {
	ID    string     `plan:"id,need" doc:"short name that checks call them by"`
	Kind  string     `plan:"kind,need" doc:"kind of the checks that share them"`
	Given *yaml.Node `plan:"given,need" doc:"what each of the checks is given, as if it stood there"`
}

// sharing is the key by which a check takes its share.
type sharing struct {
	Limits string `plan:"limits" doc:"id of limits whose given stands here too"`
}

// ofPlan are the keys that tell one plan from another: no included file holds them.
var ofPlan = []string{"handback", "id", "title", "work", "include", "steps"}

// whole is the plan as if all that it includes stood in its own file.
func (n *Notes) whole(parts []written.Part) *yaml.Node {
	size := 0
	for _, part := range parts {
		size += len(part.Text)
	}
	if size > maxPlan && len(parts) > 1 { // of one file readNode says it
		n.At("", "%d bytes with what it includes: at most %d are read", size, maxPlan)
		return nil
	}
	root := readNode(parts[0].Text, n)
	for _, part := range parts[1:] {
		of := &Notes{file: part.Name, places: map[string]Place{}}
		from := readNode(part.Text, of)
		n.found = append(n.found, of.found...)
		if root == nil || from == nil {
			continue
		}
		n.keep(from, part.Name)
		n.foreignKeys(from)
		n.merge("", root, from)
	}
	if len(n.found) > 0 && len(parts) > 1 {
		return nil // where a file is missing, all that refers to it would be wrong
	}
	return root
}

// keep remembers the file of a node and of all below it.
func (n *Notes) keep(node *yaml.Node, file string) {
	n.included[node] = file
	for _, child := range node.Content {
		n.keep(child, file)
	}
}

func (n *Notes) foreignKeys(from *yaml.Node) {
	for i := 0; i+1 < len(from.Content); i += 2 {
		if key := from.Content[i]; slices.Contains(ofPlan, key.Value) {
			n.places[key.Value] = n.stands(key)
			n.At(key.Value, "belongs to the plan itself, in its own file: an included file holds what plans share, such as instruments, people, plant, limits")
		}
	}
}

// merge sets what an included file holds into the plan: keys that the plan does not have,
// members of a mapping that both have, items behind those of a list.
func (n *Notes) merge(path string, into, from *yaml.Node) {
	seen := map[string]bool{}
	for i := 0; i+1 < len(from.Content); i += 2 {
		key, value := from.Content[i], from.Content[i+1]
		sub := Join(path, key.Value)
		have := written.Named(written.Members(into), key.Value)
		switch {
		case seen[key.Value]:
			n.places[sub] = n.stands(key)
			n.At(sub, "given twice: keep one")
		case have == nil:
			into.Content = append(into.Content, key, value)
		case have.Tag == "!!null":
			*have = *value
			n.included[have] = n.included[value]
		case have.Kind == yaml.MappingNode && value.Kind == yaml.MappingNode:
			n.merge(sub, have, value)
		case have.Kind == yaml.SequenceNode && value.Kind == yaml.SequenceNode:
			have.Content = append(have.Content, value.Content...)
		case value.Tag != "!!null":
			n.places[sub] = n.stands(have)
			first := n.lineOf(sub)
			n.places[sub] = n.stands(key)
			n.At(sub, "stands already at %s: keep one", first)
		}
		seen[key.Value] = true
	}
}

// covers holds what a plan includes against the files that stand behind it.
func (n *Notes) covers(include []string, parts []written.Part) {
	for i, name := range include {
		path := fmt.Sprintf("include[%d]", i+1)
		switch {
		case !written.Beside(name) || PlainText(name) != nil:
			n.At(path, "%q: a file in the plan's folder or below it is wanted, such as people.yaml, or a folder such as register/", name)
		case slices.Contains(include[:i], name):
			n.At(path, "%q stands twice: keep one", name)
		case !slices.ContainsFunc(parts[1:], func(p written.Part) bool { return written.Covers(name, p.Name) }):
			n.At(path, "%q: %s", name, map[bool]string{true: "no file ending in .yaml stands in it", false: "it was not read with the plan"}[strings.HasSuffix(name, "/")])
		}
	}
	for _, part := range parts[1:] {
		if !slices.ContainsFunc(include, func(name string) bool { return written.Covers(name, part.Name) }) {
			n.At("include", "%q stands behind the plan, which does not include it", part.Name)
		}
	}
}

// share sets the limits that checks share by name into what each is given, so that what
// follows meets every check whole.
func (n *Notes) share(root *yaml.Node) {
	list := written.Named(written.Members(root), "limits")
	var known []written.Member
	if list != nil {
		var ok bool
		if known, ok = written.Items(list); !ok && list.Kind == yaml.SequenceNode {
			n.places["limits"] = n.stands(list)
			n.At("limits", "each wants an id of its own")
			return
		}
		n.sharedKeys(known)
	}
	steps := written.Named(written.Members(root), "steps")
	if steps == nil {
		return
	}
	for i, step := range steps.Content {
		if id := written.Named(written.Members(step), "limits"); id != nil {
			n.shareInto(fmt.Sprintf("steps[%d]", i+1), step, id, known)
		}
	}
}

// sharedKeys notes limits of a kind that is none, or with keys that the kind has not: a
// check that takes them would say so, and no check need take them.
func (n *Notes) sharedKeys(known []written.Member) {
	for _, m := range known {
		path := fmt.Sprintf("limits[%s]", m.Key)
		kind := written.Named(written.Members(m.Node), "kind")
		if kind == nil {
			continue // as decode says
		}
		k := TraitsNamed(kind.Value)
		if k == nil {
			n.places[path] = n.stands(kind)
			n.At(path, "unknown kind %q%s", kind.Value, Nearest(kind.Value, KindNames()))
			continue
		}
		keys := keysOf(reflect.TypeOf(k.Given()).Elem())
		for _, g := range written.Members(written.Named(written.Members(m.Node), "given")) {
			if !slices.Contains(keys, g.Key) {
				n.places[path] = n.stands(g.Node)
				n.At(path, "unknown key %s%s", g.Key, Nearest(g.Key, keys))
			}
		}
	}
}

func (n *Notes) shareInto(path string, step, id *yaml.Node, known []written.Member) {
	at := Join(path, "limits")
	n.places[at] = n.stands(id)
	limits := written.Named(known, id.Value)
	kind := written.Named(written.Members(step), "kind")
	switch of := written.Named(written.Members(limits), "kind"); {
	case limits == nil:
		*step = *without(step, "limits")
		n.At(at, "no limits %q%s", id.Value, Nearest(id.Value, IDsOf(known, func(m written.Member) string { return m.Key })))
		return
	case kind == nil || of == nil || kind.Value != of.Value:
		*step = *without(step, "limits")
		n.At(at, "limits %s are for another kind of check", id.Value)
		return
	}
	given := written.Named(written.Members(step), "given")
	if given == nil || given.Tag == "!!null" {
		given = &yaml.Node{Kind: yaml.MappingNode, Line: id.Line, Column: id.Column}
		n.included[given] = n.stands(id).File
		dropped := without(step, "given", "limits")
		dropped.Content = append(dropped.Content, &yaml.Node{Kind: yaml.ScalarNode, Tag: "!!str", Value: "given", Line: id.Line, Column: id.Column}, given)
		*step = *dropped
	} else {
		*step = *without(step, "limits")
		given = written.Named(written.Members(step), "given")
	}
	if shared := written.Named(written.Members(limits), "given"); shared != nil && given.Kind == yaml.MappingNode && shared.Kind == yaml.MappingNode {
		n.setIn(Join(path, "given"), given, shared)
	}
}

// setIn puts the members of shared into given, which has none of them itself.
func (n *Notes) setIn(path string, given, shared *yaml.Node) {
	for i := 0; i+1 < len(shared.Content); i += 2 {
		key := shared.Content[i]
		if own := written.Named(written.Members(given), key.Value); own != nil {
			n.places[Join(path, key.Value)] = n.stands(key)
			first := n.lineOf(Join(path, key.Value))
			n.places[Join(path, key.Value)] = n.stands(own)
			n.At(Join(path, key.Value), "stands already at %s, in the limits it shares: keep one", first)
			continue
		}
		given.Content = append(given.Content, key, shared.Content[i+1])
	}
}

// without is a mapping but for some keys.
func without(n *yaml.Node, keys ...string) *yaml.Node {
	out := *n
	out.Content = nil
	for i := 0; i+1 < len(n.Content); i += 2 {
		if !slices.Contains(keys, n.Content[i].Value) {
			out.Content = append(out.Content, n.Content[i], n.Content[i+1])
		}
	}
	return &out
}
