package plan

import (
	"bytes"
	"fmt"
	"regexp"
	"strings"
	"sync"

	"go.yaml.in/yaml/v3"

	"handback/checks/written"
)

// marked is a comment that a starter plan puts on a line somebody must fill in.
var marked = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`(^|\s)#\s*REPLACE\b`) })

// starterText notes what still stands in a plan as its starter had it: lines marked
// REPLACE, and values that only say what belongs there.
func (n *Notes) starterText(parts []written.Part, root *yaml.Node) {
	for _, p := range parts {
		n.marks(p)
	}
	n.starterValues("", root)
}

// marks notes the lines of one file that are marked.
func (n *Notes) marks(p written.Part) {
	if !bytes.Contains(p.Text, []byte("REPLACE")) {
		return
	}
	var lines []string
	first := 0
	for i, line := range bytes.Split(p.Text, []byte("\n")) {
		if marked().Match(line) {
			if lines = append(lines, fmt.Sprint(i+1)); first == 0 {
				first = i + 1
			}
		}
	}
	if len(lines) > 0 {
		is := map[bool]string{true: "line is", false: "lines are"}[len(lines) == 1]
		n.objected = append(n.objected, Problem{File: p.Name, Line: first, Col: 1,
			Cause: fmt.Sprintf("%d %s still marked REPLACE: %s; put your own in and take each mark away", len(lines), is, strings.Join(lines, ", "))})
	}
}

func (n *Notes) starterValues(path string, node *yaml.Node) {
	for i, child := range node.Content {
		switch {
		case node.Kind == yaml.SequenceNode:
			n.starterValues(fmt.Sprintf("%s[%d]", path, i+1), child)
		case node.Kind == yaml.MappingNode && i%2 == 1:
			n.starterValues(Join(path, node.Content[i-1].Value), child)
		}
	}
	if key := path[strings.LastIndexByte(path, '.')+1:]; node.Kind == yaml.ScalarNode && starterValue(key, folded(node.Value)) {
		n.places[path] = n.stands(node)
		n.Object(path, "%q is a starter's text: put your own in", node.Value)
	}
}

// starterValue tells the texts of starter plans that say what belongs there.
func starterValue(key, text string) bool {
	switch key {
	case "firm":
		return text == "firm"
	case "certificate", "serial":
		return text == "number"
	case "name", "site", "source":
		return strings.HasPrefix(text, "name of the ")
	case "permit", "dead_shown_by":
		return strings.HasPrefix(text, "number of the permit")
	}
	return false
}

// starterPatterns are what starterValue tells, by key, for a schema.
var starterPatterns = map[string]string{
	"firm": `^\s*[Ff][Ii][Rr][Mm]\s*$`, "certificate": `^\s*[Nn]umber\s*$`, "serial": `^\s*[Nn]umber\s*$`,
	"name": `^\s*[Nn]ame of the `, "site": `^\s*[Nn]ame of the `, "source": `^\s*[Nn]ame of the `,
	"permit": `^\s*[Nn]umber of the permit`, "dead_shown_by": `^\s*[Nn]umber of the permit`,
}
