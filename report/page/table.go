package page

import (
	"html/template"
	"slices"
	"strings"
)

// table is a table of the page. On a narrow screen every cell stands on a line of its own
// behind the label of its column.
type table struct {
	Name  string // its caption
	Quiet bool   // the heading above says the same: for a screen reader alone
	Class string
	Head  []column
	Rows  []row
}

type column struct{ Label, Class string }

// row is a row; its first cell heads it.
type row struct {
	Anchor, Class string
	Cells         []cell
}

// cell is what stands in a cell: a picture, a verdict and words, then lines below them.
type cell struct {
	Label, Class string // of its column
	Span         int    // columns it takes, 0 for one
	Picture      template.HTML
	Mark         string // a verdict, "" for none
	Text, Link   string
	Loud, Code   bool
	More         []line
}

// line is a verdict, "" for none, and words.
type line struct{ Mark, Text string }

// newTable begins a table. A label may name the class of its column behind a bar.
func newTable(name string, labels ...string) *table {
	t := &table{Name: name, Quiet: true}
	for _, l := range labels {
		label, class, _ := strings.Cut(l, "|")
		t.Head = append(t.Head, column{label, class})
	}
	return t
}

// add adds a row of as many cells as there are columns.
func (t *table) add(cells ...cell) *row {
	at := 0
	for i := range cells {
		cells[i].Label, cells[i].Class = t.Head[at].Label, strings.TrimSpace(t.Head[at].Class+" "+cells[i].Class)
		at += max(cells[i].Span, 1)
	}
	t.Rows = append(t.Rows, row{Cells: cells})
	return &t.Rows[len(t.Rows)-1]
}

// prune takes out the columns in which nothing stands.
func (t *table) prune() {
	for at := len(t.Head) - 1; at > 0; at-- {
		if slices.ContainsFunc(t.Rows, func(r row) bool { _, c := r.over(at); return c.Span < 2 && !c.empty() }) {
			continue
		}
		t.Head = slices.Delete(t.Head, at, at+1)
		for i, r := range t.Rows {
			if k, c := r.over(at); c.Span > 1 {
				t.Rows[i].Cells[k].Span--
			} else {
				t.Rows[i].Cells = slices.Delete(r.Cells, k, k+1)
			}
		}
	}
}

// over is the cell that stands over a column.
func (r row) over(column int) (int, cell) {
	for k, c := range r.Cells {
		if column -= max(c.Span, 1); column < 0 {
			return k, c
		}
	}
	panic("page: a row is narrower than its table")
}

func (c cell) empty() bool {
	return c.Text == "" && c.Mark == "" && c.Picture == "" && len(c.More) == 0
}

// orNil is nil for a table without rows.
func (t *table) orNil() *table {
	if len(t.Rows) == 0 {
		return nil
	}
	return t
}

func text(s string) cell { return cell{Text: s} }

// kept is text whose line ends are kept.
func kept(s string) cell { return cell{Text: s, Class: "kept-lines"} }

// below is text with lines below it; empty ones are left out.
func below(s string, lines ...string) cell {
	c := cell{Text: s}
	for _, l := range lines {
		if l != "" {
			c.More = append(c.More, line{Text: l})
		}
	}
	return c
}

// openOr is a loud OPEN, or what became of something.
func openOr(open bool, state string) cell {
	if open {
		return cell{Text: "OPEN", Loud: true}
	}
	return text(state)
}
