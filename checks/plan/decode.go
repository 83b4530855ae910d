package plan

import (
	"errors"
	"fmt"
	"io"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"go.yaml.in/yaml/v3"

	"handback/checks/quantity"
)

var (
	amountType = reflect.TypeFor[quantity.Amount]()
	timeType   = reflect.TypeFor[time.Time]()
	nodeType   = reflect.TypeFor[*yaml.Node]()
)

// maxPlan bounds a plan file; the largest honest ones are a few tens of KiB.
const maxPlan = 1 << 20

// readNode parses one YAML document into a mapping node.
func readNode(data []byte, n *Notes) *yaml.Node {
	if len(data) > maxPlan {
		n.At("", "file of %d bytes: at most %d are read", len(data), maxPlan)
		return nil
	}
	dec := yaml.NewDecoder(strings.NewReader(string(data)))
	var doc, extra yaml.Node
	if err := dec.Decode(&doc); err != nil {
		n.syntax(err)
		return nil
	}
	switch err := dec.Decode(&extra); {
	case err == nil:
		n.places[""] = n.stands(&extra)
		n.At("", "a second document begins here: a file holds one")
		return nil
	case !errors.Is(err, io.EOF):
		n.syntax(err)
		return nil
	}
	root := doc.Content[0]
	n.places[""] = n.stands(root)
	if root.Kind != yaml.MappingNode {
		n.At("", "the file holds %s; keys with values are wanted, such as title: …", describe(root))
		return nil
	}
	return root
}

// syntax turns the parser's "yaml: line 5: …" into a problem at that line.
func (n *Notes) syntax(err error) {
	msg := strings.TrimPrefix(err.Error(), "yaml: ")
	line := 1
	if rest, ok := strings.CutPrefix(msg, "line "); ok {
		if num, cause, ok := strings.Cut(rest, ": "); ok {
			if l, err := strconv.Atoi(num); err == nil {
				line, msg = l, cause
			}
		}
	}
	if msg == "EOF" {
		msg = "the file is empty"
	}
	n.found = append(n.found, Problem{File: n.file, Line: line, Col: 1, Cause: "not readable as YAML: " + msg})
}

// decode fills v from node and notes every problem with its place. Keys must be
// known, spelt exactly and stand once; measured values must carry their unit.
func (n *Notes) decode(path string, node *yaml.Node, v reflect.Value) {
	n.places[path] = n.stands(node)
	if node.Kind == yaml.AliasNode || node.Anchor != "" {
		n.At(path, "aliases (& and *) are not read: write the value out")
		return
	}
	t := v.Type()
	switch {
	case t == nodeType:
		v.Set(reflect.ValueOf(node))
	case t.Kind() == reflect.Pointer:
		p := reflect.New(t.Elem())
		n.decode(path, node, p.Elem())
		v.Set(p)
	case t == timeType:
		n.decodeTime(path, node, v)
	case t == amountType:
		if node.Kind != yaml.ScalarNode {
			n.At(path, "%s; one value with its unit is wanted", describe(node))
			return
		}
		a, err := quantity.ParseAmount(node.Value)
		if err != nil {
			n.At(path, "%v", err)
			return
		}
		v.Set(reflect.ValueOf(a))
		n.means(node, a.Value, a.Of)
	case t.Kind() == reflect.Struct:
		n.decodeStruct(path, node, v)
	case t.Kind() == reflect.Slice:
		n.decodeList(path, node, v)
	case t.Kind() == reflect.Map:
		n.decodeMap(path, node, v)
	default:
		n.decodeScalar(path, node, v)
	}
}

func (n *Notes) decodeStruct(path string, node *yaml.Node, v reflect.Value) {
	if node.Kind != yaml.MappingNode {
		n.At(path, "%s; these keys are wanted: %s", describe(node), strings.Join(keysOf(v.Type()), ", "))
		return
	}
	known := layoutOf(v.Type())
	seen := make([]bool, len(known.tags))
	var strange []string // keys that are none of it
	for i := 0; i+1 < len(node.Content); i += 2 {
		key, val := node.Content[i], node.Content[i+1]
		sub := Join(path, key.Value)
		n.places[sub] = n.stands(key)
		switch at := slices.Index(known.keys, key.Value); {
		case at >= 0 && seen[at] || slices.Contains(strange, key.Value):
			n.At(sub, "given twice: keep one")
		case at < 0:
			strange = append(strange, key.Value)
			n.At(sub, "unknown key%s", Nearest(key.Value, known.keys))
		default:
			seen[at] = true
			n.decode(sub, val, v.FieldByIndex(known.at[at]))
		}
	}
	for i, f := range known.tags {
		if f.need && !seen[i] {
			n.At(Join(path, f.Name), "missing: %s", f.doc)
		}
		if seen[i] {
			n.hold(Join(path, f.Name), f, v.FieldByIndex(known.at[i]))
		}
	}
}

// hold checks what the tags demand of a value that was given.
func (n *Notes) hold(path string, f tag, v reflect.Value) {
	if v.Kind() == reflect.Pointer {
		v = v.Elem()
	}
	if f.pos && v.Kind() == reflect.Float64 && !(v.Float() > 0) && !n.has(path) {
		n.At(path, "%v is not above zero: %s", v.Float(), f.doc)
	}
	if f.need && v.Kind() == reflect.String && strings.TrimSpace(v.String()) == "" && !n.has(path) {
		n.At(path, "empty: %s", f.doc)
	}
	if len(f.One) > 0 && v.Kind() == reflect.String && v.String() != "" {
		for _, o := range f.One {
			if v.String() == o {
				return
			}
		}
		n.At(path, "%q is not one of %s", v.String(), strings.Join(f.One, ", "))
	}
}

func (n *Notes) has(path string) bool {
	for _, p := range n.found {
		if p.Path == path {
			return true
		}
	}
	return false
}

func (n *Notes) decodeList(path string, node *yaml.Node, v reflect.Value) {
	if node.Kind != yaml.SequenceNode {
		n.At(path, "%s; a list is wanted", describe(node))
		return
	}
	list := reflect.MakeSlice(v.Type(), len(node.Content), len(node.Content))
	for i, item := range node.Content {
		n.decode(fmt.Sprintf("%s[%d]", path, i+1), item, list.Index(i))
	}
	v.Set(list)
}

func (n *Notes) decodeMap(path string, node *yaml.Node, v reflect.Value) {
	if node.Kind != yaml.MappingNode {
		n.At(path, "%s; keys with values are wanted", describe(node))
		return
	}
	m := reflect.MakeMap(v.Type())
	for i := 0; i+1 < len(node.Content); i += 2 {
		key, val := node.Content[i], node.Content[i+1]
		sub := Join(path, key.Value)
		n.places[sub] = n.stands(key)
		k := reflect.ValueOf(key.Value)
		if m.MapIndex(k).IsValid() {
			n.At(sub, "given twice: keep one")
			continue
		}
		elem := reflect.New(v.Type().Elem()).Elem()
		n.text(sub, key.Value)
		n.decode(sub, val, elem)
		m.SetMapIndex(k, elem)
	}
	v.Set(m)
}

func (n *Notes) decodeTime(path string, node *yaml.Node, v reflect.Value) {
	if node.Kind != yaml.ScalarNode {
		n.At(path, "%s; a date is wanted, such as 2026-03-31", describe(node))
		return
	}
	for _, layout := range []string{time.RFC3339, "2006-01-02"} {
		if t, err := time.Parse(layout, node.Value); err == nil {
			v.Set(reflect.ValueOf(t))
			n.means(node, t.UTC())
			return
		}
	}
	n.At(path, "%q is not a date: write 2026-03-31 or 2026-03-31T14:05:00+00:00", node.Value)
}

func (n *Notes) decodeScalar(path string, node *yaml.Node, v reflect.Value) {
	if node.Kind != yaml.ScalarNode {
		n.At(path, "%s; one value is wanted", describe(node))
		return
	}
	text := node.Value
	if err := PlainText(text); err != nil {
		n.At(path, "%v", err)
		return
	}
	if of, ok := quantity.Measured[v.Type()]; ok {
		q, err := quantity.ParseQuantity(text, of, "")
		if err == nil && q.Bound != "" {
			err = fmt.Errorf("%q is a bound; one value is wanted", text)
		}
		if err != nil {
			n.At(path, "%v", err)
			return
		}
		v.SetFloat(q.Value)
		n.means(node, q.Value)
		return
	}
	switch v.Kind() {
	case reflect.String:
		n.text(path, text)
		v.SetString(text)
	case reflect.Bool:
		switch strings.ToLower(text) {
		case "yes", "true":
			v.SetBool(true)
		case "no", "false":
			v.SetBool(false)
		default:
			n.At(path, "%q: yes or no is wanted", text)
		}
		n.means(node, v.Bool())
	case reflect.Int:
		i, err := strconv.Atoi(text)
		if err != nil {
			n.At(path, "%q: a whole number is wanted", text)
			return
		}
		v.SetInt(int64(i))
		n.means(node, i)
	case reflect.Float64:
		x, err := quantity.ParseNumber(text)
		if err != nil {
			n.At(path, "%v", err)
			return
		}
		v.SetFloat(x)
		n.means(node, x)
	default:
		panic("plan: plan type " + v.Type().String() + " is not decoded")
	}
}

// means remembers what a value comes to that can be written in more ways than one.
func (n *Notes) means(node *yaml.Node, what ...any) {
	if n.meant != nil {
		n.meant[node] = fmt.Sprintln(what...)
	}
}

// PlainText refuses what would disturb a terminal or a spreadsheet cell.
func PlainText(s string) error {
	if !utf8.ValidString(s) {
		return errors.New("letters that are not written in UTF-8 are not read: save the file so; where Windows' shell gives them, type first: chcp 65001")
	}
	for _, c := range s {
		if c != '\n' && c != '\t' && isHidden(c) || c == '\ufffd' {
			return errors.New("control characters are not read: type plain text")
		}
	}
	return nil
}

// isHidden tells signs that show nothing themselves and may change how the text
// around them shows; the joiners of Indic and Persian writing are none.
func isHidden(c rune) bool {
	return unicode.In(c, unicode.Cc, unicode.Cf, unicode.Zl, unicode.Zp) && c != '\u200c' && c != '\u200d'
}

func Join(path, key string) string {
	switch "" {
	case path:
		return key
	case key:
		return path
	}
	return path + "." + key
}

func describe(n *yaml.Node) string {
	switch n.Kind {
	case yaml.MappingNode:
		return "a set of keys stands here"
	case yaml.SequenceNode:
		return "a list stands here"
	case yaml.AliasNode:
		return "an alias stands here"
	}
	if n.Tag == "!!null" {
		return "nothing stands here"
	}
	return fmt.Sprintf("%q stands here", n.Value)
}
