package archive

import (
	"reflect"
	"slices"
	"strings"
	"unicode/utf8"
)

// longest is how many bytes of a text go into a column that a key or an index goes by (our
// choice): PostgreSQL puts some 2,700 bytes of one row into an index.
const longest = 500

// Legible makes every text one that all engines keep: a record may hold anything, and was
// perhaps written by another program. Signs that PostgreSQL refuses become U+FFFD, and a
// text to look up ends with U+2026 where it is cut.
func (r *Rows) Legible() {
	for _, t := range Tables {
		rows := t.Of(r)
		for i := range rows.Len() {
			t.legible(rows.Index(i))
		}
	}
}

func (t *Table) legible(row reflect.Value) {
	for _, c := range t.Columns {
		if c.Sort != Words {
			continue
		}
		of, text := legible, c.Of(row)
		if c.short {
			of = key
		}
		text.SetString(of(text.String()))
	}
}

func legible(text string) string {
	if !strings.Contains(text, "\x00") && utf8.ValidString(text) {
		return text
	}
	return strings.ToValidUTF8(strings.ReplaceAll(text, "\x00", "\uFFFD"), "\uFFFD")
}

// key is a text as it stands in a column to look up by.
func key(text string) string {
	if text = legible(text); len(text) <= longest {
		return text
	}
	const more = "\u2026"
	return strings.ToValidUTF8(text[:longest-len(more)], "") + more
}

// shorten marks the columns of which texts are cut.
func (t *Table) shorten() {
	for i, c := range t.Columns {
		t.Columns[i].short = slices.Contains(t.Key, c.Name) || slices.ContainsFunc(indexes, func(x index) bool {
			return x.table == t.Name && slices.Contains(strings.Split(x.columns, ", "), c.Name)
		})
	}
}
