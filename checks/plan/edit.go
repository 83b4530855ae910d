package plan

import (
	"bytes"
	"errors"
	"fmt"
	"slices"

	"go.yaml.in/yaml/v3"
)

// Set is a key of an instrument with its value, as a plan writes them.
type Set struct{ Key, Value string }

// ofLabel are the keys in which two instruments of one make differ.
var ofLabel = []string{"id", "serial", "certificate", "due"}

// WithInstrument writes a plan with another instrument in it, or with keys of one that it
// has put right. A new one takes all that its label does not say from the instrument
// like, where that is named. What the plan then is, Load tells.
func WithInstrument(data []byte, id, like string, set []Set) ([]byte, error) {
	var doc yaml.Node
	if err := yaml.Unmarshal(data, &doc); err != nil {
		return nil, err
	}
	list := named(membersOf(doc.Content[0]), "instruments")
	if list == nil {
		list = &yaml.Node{Kind: yaml.SequenceNode}
		doc.Content[0].Content = append(doc.Content[0].Content, textNode("instruments"), list)
	}
	items, ok := itemsOf(list)
	if !ok {
		return nil, errors.New("the instruments of the plan cannot be told apart by their ids")
	}
	is := named(items, id)
	switch {
	case is != nil && like != "":
		return nil, fmt.Errorf("instrument %s is in the plan: like is for a new one", id)
	case is == nil && like != "" && named(items, like) == nil:
		return nil, fmt.Errorf("no instrument %q in the plan to be like%s", like, Nearest(like, IDsOf(items, func(m member) string { return m.key })))
	case is == nil:
		is = &yaml.Node{Kind: yaml.MappingNode, Content: []*yaml.Node{textNode("id"), textNode(id)}}
		for _, m := range membersOf(named(items, like)) {
			if !slices.Contains(ofLabel, m.key) {
				is.Content = append(is.Content, textNode(m.key), bare(m.node))
			}
		}
		list.Content = append(list.Content, is)
	}
	for _, s := range set {
		if n := named(membersOf(is), s.Key); n != nil {
			*n = *textNode(s.Value)
			continue
		}
		is.Content = append(is.Content, textNode(s.Key), textNode(s.Value))
	}
	var out bytes.Buffer
	enc := yaml.NewEncoder(&out)
	enc.SetIndent(2)
	if err := enc.Encode(&doc); err != nil {
		return nil, err
	}
	return out.Bytes(), enc.Close()
}

func textNode(text string) *yaml.Node {
	return &yaml.Node{Kind: yaml.ScalarNode, Tag: "!!str", Value: text}
}

// bare is a copy of a node without its comments.
func bare(n *yaml.Node) *yaml.Node {
	c := *n
	c.HeadComment, c.LineComment, c.FootComment, c.Content = "", "", "", nil
	for _, inner := range n.Content {
		c.Content = append(c.Content, bare(inner))
	}
	return &c
}
