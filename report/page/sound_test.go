package page

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"io"
	"regexp"
	"slices"
	"strings"
	"testing"

	"handback/report"
)

// node is an element of a page, or text where Name is "".
type node struct {
	Name  string
	Attrs map[string]string
	Kids  []*node
	Words string
}

// parsed reads a page as XML, strictly: every tag closed, every attribute quoted,
// no character XML forbids.
func parsed(t testing.TB, page []byte) *node {
	t.Helper()
	dec := xml.NewDecoder(bytes.NewReader(page))
	root := &node{}
	stack := []*node{root}
	for {
		tok, err := dec.Token()
		if err == io.EOF {
			break
		}
		if err != nil {
			t.Fatalf("the page is not well-formed: %v", err)
		}
		top := stack[len(stack)-1]
		switch k := tok.(type) {
		case xml.StartElement:
			n := &node{Name: k.Name.Local, Attrs: map[string]string{}}
			for _, a := range k.Attr {
				if _, twice := n.Attrs[a.Name.Local]; twice && a.Name.Space == "" {
					t.Errorf("<%s> has %s twice", n.Name, a.Name.Local)
				}
				n.Attrs[a.Name.Local] = a.Value
			}
			top.Kids = append(top.Kids, n)
			stack = append(stack, n)
		case xml.EndElement:
			stack = stack[:len(stack)-1]
		case xml.CharData:
			top.Kids = append(top.Kids, &node{Words: string(k)})
		}
	}
	return root
}

// each calls f with every element and those around it, outermost first.
func (n *node) each(f func(n *node, above []*node)) { n.walk(nil, f) }

func (n *node) walk(above []*node, f func(*node, []*node)) {
	if n.Name != "" {
		f(n, above)
	}
	for _, k := range n.Kids {
		k.walk(append(above[:len(above):len(above)], n), f)
	}
}

// all lists the elements of a name.
func (n *node) all(name string) []*node {
	var out []*node
	n.each(func(k *node, _ []*node) {
		if k.Name == name {
			out = append(out, k)
		}
	})
	return out
}

// text is all words below, each element's apart, on one line.
func (n *node) text() string {
	var b strings.Builder
	var gather func(*node)
	gather = func(n *node) {
		if n.Name == "style" {
			return
		}
		b.WriteString(n.Words)
		for _, k := range n.Kids {
			gather(k)
		}
		b.WriteString(" ")
	}
	gather(n)
	return report.OneLine(b.String())
}

// pageOf renders a document and reads it back.
func pageOf(t testing.TB, d *report.Document) *node {
	t.Helper()
	page, err := Make(d)
	if err != nil {
		t.Fatal(err)
	}
	return parsed(t, page)
}

var outward = regexp.MustCompile(`(?i)url\(|@import|https?://|//[a-z]`)

func TestPage_is_sound(t *testing.T) {
	for name, d := range stories(t) {
		t.Run(name, func(t *testing.T) {
			page, err := Make(d)
			if err != nil {
				t.Fatal(err)
			}
			if bytes.ContainsAny(page, "\x00\x07\x1b\r") || !bytes.HasPrefix(page, []byte("<!DOCTYPE html>\n<html lang=\"en\"")) {
				t.Error("control characters, or no language")
			}
			root := parsed(t, page)
			t.Run("headings", func(t *testing.T) { headingsInOrder(t, root) })
			t.Run("ids", func(t *testing.T) { idsMeet(t, root) })
			t.Run("tables", func(t *testing.T) { tablesAreNamed(t, root) })
			t.Run("pictures", func(t *testing.T) { picturesAreTold(t, root) })
			t.Run("nothing from outside", func(t *testing.T) { selfContained(t, root) })
		})
	}
}

func headingsInOrder(t *testing.T, root *node) {
	level, first := 0, 0
	root.each(func(n *node, _ []*node) {
		if len(n.Name) != 2 || n.Name[0] != 'h' || n.Name[1] < '1' || n.Name[1] > '6' {
			return
		}
		now := int(n.Name[1] - '0')
		if now == 1 {
			first++
		}
		if now > level+1 {
			t.Errorf("h%d %.40q after h%d", now, n.text(), level)
		}
		if n.text() == "" {
			t.Errorf("an h%d says nothing", now)
		}
		level = now
	})
	if first != 1 || level == 0 {
		t.Errorf("%d first headings", first)
	}
	for _, name := range []string{"header", "nav", "main", "footer"} {
		if n := len(root.all(name)); n != 1 {
			t.Errorf("%d landmarks %s", n, name)
		}
	}
}

// idsMeet demands that ids are unique and that what points at one finds it.
func idsMeet(t *testing.T, root *node) {
	ids, points := map[string]bool{}, []string{}
	root.each(func(n *node, _ []*node) {
		if id, ok := n.Attrs["id"]; ok {
			if ids[id] {
				t.Errorf("id %q stands twice", id)
			}
			ids[id] = true
		}
		points = append(points, strings.Fields(n.Attrs["aria-labelledby"])...)
		if to, ok := n.Attrs["href"]; ok {
			points = append(points, strings.TrimPrefix(to, "#"))
		}
	})
	for _, p := range points {
		if !ids[p] {
			t.Errorf("nothing has the id %q", p)
		}
	}
	if len(points) < 20 {
		t.Errorf("%d references: there are more", len(points))
	}
}

// tablesAreNamed demands captions, scopes and rows as wide as the head.
func tablesAreNamed(t *testing.T, root *node) {
	tables := root.all("table")
	if len(tables) < 5 {
		t.Fatalf("%d tables", len(tables))
	}
	for _, table := range tables {
		caption := table.all("caption")
		if len(caption) != 1 || caption[0].text() == "" {
			t.Errorf("a table without a caption: %.60q", table.text())
			continue
		}
		width := 0
		for i, row := range table.all("tr") {
			cells := 0
			for _, c := range append(row.all("th"), row.all("td")...) {
				span := 1
				fmt.Sscan(c.Attrs["colspan"], &span)
				cells += span
			}
			if i == 0 {
				width = cells
			}
			if cells != width || len(row.all("th")) == 0 {
				t.Errorf("table %q: row %d has %d cells of %d, %d of them heads", caption[0].text(), i, cells, width, len(row.all("th")))
			}
		}
		for _, head := range table.all("th") {
			if s := head.Attrs["scope"]; s != "col" && s != "row" {
				t.Errorf("table %q: head %q has scope %q", caption[0].text(), head.text(), s)
			}
		}
	}
}

// picturesAreTold demands title and desc of every picture, and its numbers in a table
// beside or around it; what a screen reader passes over has its words in the same cell.
func picturesAreTold(t *testing.T, root *node) {
	root.each(func(n *node, above []*node) {
		if n.Name != "svg" {
			return
		}
		if n.Attrs["aria-hidden"] == "true" {
			if cell := above[len(above)-1]; cell.Name != "td" || cell.text() == "" {
				t.Errorf("a hidden picture without words beside it, in <%s>", cell.Name)
			}
			return
		}
		if n.Attrs["role"] != "img" || len(n.Kids) < 3 || n.Kids[0].Name != "title" || n.Kids[1].Name != "desc" || n.Kids[0].text() == "" || len(n.Kids[1].text()) < 20 {
			t.Errorf("a picture that tells nothing: %.80q", n.text())
		}
		around := slices.IndexFunc(above, func(a *node) bool { return a.Name == "figure" || a.Name == "table" })
		if around < 0 {
			t.Fatalf("a picture on its own: %q", n.Kids[0].text())
		}
		holder := above[around]
		if holder.Name == "table" || len(holder.all("table")) > 0 {
			return
		}
		t.Errorf("no numbers beside %q", n.Kids[0].text())
	})
}

func selfContained(t *testing.T, root *node) {
	root.each(func(n *node, _ []*node) {
		switch n.Name {
		case "img":
			if !strings.HasPrefix(n.Attrs["src"], "data:image/png;base64,") || n.Attrs["alt"] == "" {
				t.Errorf("a picture from outside or without words: %.80q, %q", n.Attrs["src"], n.Attrs["alt"])
			}
		case "script", "iframe", "object", "embed", "link", "base", "form", "foreignObject", "use", "image":
			t.Errorf("<%s> on the page", n.Name)
		case "style":
			for _, k := range n.Kids {
				if outward.MatchString(k.Words) {
					t.Errorf("the style reaches outside: %q", outward.FindString(k.Words))
				}
			}
		}
		for key, value := range n.Attrs {
			switch {
			case strings.HasPrefix(key, "on"), key == "src" && n.Name != "img", key == "style":
				t.Errorf("<%s %s=%q>", n.Name, key, value)
			case key == "href" && !strings.HasPrefix(value, "#"):
				t.Errorf("a link leads outside: %q", value)
			}
		}
	})
}
