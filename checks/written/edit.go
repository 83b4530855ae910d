package written

import (
	"bytes"
	"errors"
	"fmt"
	"slices"
	"strings"

	"go.yaml.in/yaml/v3"
)

// Set is a key of an instrument with its value, as a plan writes them.
type Set struct{ Key, Value string }

// ofLabel are the keys in which two instruments of one make differ.
var ofLabel = []string{"id", "serial", "certificate", "due"}

// document is one part of a whole, with its instruments.
type document struct {
	node yaml.Node
	list *yaml.Node // nil where it has none
}

// WithInstrument writes a plan with another instrument in it, or with keys of one that it
// has put right, in the file where that stands. A new one stands in the plan's own file,
// and takes all that its label does not say from the instrument like, where that is
// named. What the plan then is, who loads it says.
func WithInstrument(whole []byte, id, like string, set []Set) ([]byte, error) {
	parts := Split("", whole)
	docs := make([]document, len(parts))
	var all []Member
	at := 0 // the part that is changed
	for i, p := range parts {
		d := &docs[i]
		if err := yaml.Unmarshal(p.Text, &d.node); err != nil {
			return nil, err
		}
		if len(d.node.Content) == 0 {
			continue
		}
		if d.list = Named(Members(d.node.Content[0]), "instruments"); d.list == nil {
			continue
		}
		if d.list.Kind == yaml.ScalarNode { // the key alone
			*d.list = yaml.Node{Kind: yaml.SequenceNode}
		}
		items, ok := Items(d.list)
		if !ok {
			return nil, errors.New("the instruments of the plan cannot be told apart by their ids")
		}
		if Named(items, id) != nil {
			at = i
		}
		all = append(all, items...)
	}
	is := Named(all, id)
	switch {
	case is != nil && like != "":
		return nil, fmt.Errorf("instrument %s is in the plan: like is for a new one", id)
	case is == nil && like != "" && Named(all, like) == nil:
		var ids []string
		for _, m := range all {
			ids = append(ids, m.Key)
		}
		return nil, fmt.Errorf("no instrument %q in the plan to be like: accepted here are %s", like, strings.Join(ids, ", "))
	case is == nil:
		is = docs[0].add(id, Named(all, like))
	}
	for _, s := range set {
		if n := Named(Members(is), s.Key); n != nil {
			*n = *textNode(s.Value)
			continue
		}
		is.Content = append(is.Content, textNode(s.Key), textNode(s.Value))
	}
	var err error
	parts[at].Text, err = encoded(&docs[at].node)
	return Whole(parts), err
}

// add puts a new instrument into a document, like another where there is one.
func (d *document) add(id string, like *yaml.Node) *yaml.Node {
	is := &yaml.Node{Kind: yaml.MappingNode, Content: []*yaml.Node{textNode("id"), textNode(id)}}
	for _, m := range Members(like) {
		if !slices.Contains(ofLabel, m.Key) {
			is.Content = append(is.Content, textNode(m.Key), bare(m.Node))
		}
	}
	if d.list == nil {
		d.list = &yaml.Node{Kind: yaml.SequenceNode}
		d.node.Content[0].Content = append(d.node.Content[0].Content, textNode("instruments"), d.list)
	}
	d.list.Content = append(d.list.Content, is)
	return is
}

func encoded(doc *yaml.Node) ([]byte, error) {
	var out bytes.Buffer
	enc := yaml.NewEncoder(&out)
	enc.SetIndent(2)
	if err := enc.Encode(doc); err != nil {
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
