package archive

import (
	"database/sql"
	"fmt"
	"reflect"
	"slices"
	"sort"
	"strings"
	"unicode/utf8"
)

// Table is a table of rows. Its columns are the members of its row.
type Table struct {
	Name    string
	About   string
	Key     []string // with job and head
	Columns []Column
	row     reflect.Type
	member  int // of Rows
}

// Column is a column of a table.
type Column struct {
	Name, Title string
	Sort        Sort
	May         bool // it may be NULL
	short       bool // a key or an index goes by it
	index       []int
}

// Sort is what a column holds.
type Sort int

const (
	Words  Sort = iota // text
	Whole              // whole number
	Number             // IEEE 754 double
	YesNo              // 1 or 0
	Bytes
	Instant // text, see Moment
	Date    // text, see Day
)

// Tables are the tables of Rows, in their order.
var Tables = tablesOf(reflect.TypeFor[Rows]())

func tablesOf(rows reflect.Type) []*Table {
	var out []*Table
	for i := range rows.NumField() {
		f := rows.Field(i)
		t := &Table{Name: f.Tag.Get("json"), About: f.Tag.Get("about"), Key: []string{"job", "head"}, row: f.Type.Elem(), member: i}
		if more := f.Tag.Get("key"); more != "" {
			t.Key = append(t.Key, strings.Split(more, ",")...)
		}
		t.Columns = columnsOf(t.row)
		t.shorten()
		out = append(out, t)
	}
	return out
}

// TableOf finds a table by name, nil when there is none.
func TableOf(name string) *Table {
	i := slices.IndexFunc(Tables, func(t *Table) bool { return t.Name == name })
	if i < 0 {
		return nil
	}
	return Tables[i]
}

func columnsOf(row reflect.Type) []Column {
	var out []Column
	for _, f := range reflect.VisibleFields(row) {
		if f.Anonymous {
			continue
		}
		c := Column{Name: f.Tag.Get("json"), Title: f.Tag.Get("title"), index: f.Index}
		t := f.Type
		if t.Kind() == reflect.Pointer {
			c.May, t = true, t.Elem()
		}
		switch {
		case t.Kind() == reflect.String:
			c.Sort = Words
		case t.Kind() == reflect.Int, t.Kind() == reflect.Int64:
			c.Sort = Whole
		case t.Kind() == reflect.Float64:
			c.Sort = Number
		case t.Kind() == reflect.Bool:
			c.Sort = YesNo
		case t == reflect.TypeFor[[]byte]():
			c.Sort = Bytes
		default:
			panic("archive: a column of " + t.String())
		}
		switch f.Tag.Get("is") {
		case "moment":
			c.Sort = Instant
		case "day":
			c.Sort = Date
		}
		out = append(out, c)
	}
	return out
}

// Of is the member of a row that a column is.
func (c Column) Of(row reflect.Value) reflect.Value { return row.FieldByIndex(c.index) }

// names are the names of columns with commas between them.
func names(columns []Column) string {
	out := make([]string, len(columns))
	for i, c := range columns {
		out[i] = c.Name
	}
	return strings.Join(out, ", ")
}

// values adds what the columns of a row are set to.
func values(to []any, columns []Column, row reflect.Value) []any {
	for _, c := range columns {
		v := c.Of(row)
		switch {
		case c.May && v.IsNil():
			to = append(to, nil)
		case c.May:
			to = append(to, v.Elem().Interface())
		case c.Sort == YesNo:
			to = append(to, whole(v.Bool()))
		default:
			to = append(to, v.Interface())
		}
	}
	return to
}

func whole(yes bool) int {
	if yes {
		return 1
	}
	return 0
}

// places are where the columns of a row are scanned to, row after row; done sets what cannot
// be scanned as it is.
func places(columns []Column, row reflect.Value) (to []any, done func()) {
	to = make([]any, len(columns))
	flags := map[int]*int{}
	for i, c := range columns {
		v := row.FieldByIndex(c.index)
		if c.Sort == YesNo {
			flags[i] = new(int)
			to[i] = flags[i]
			continue
		}
		to[i] = v.Addr().Interface()
	}
	return to, func() {
		for i, n := range flags {
			row.FieldByIndex(columns[i].index).SetBool(*n != 0)
		}
	}
}

// marks are placeholders for n values from the first one on.
func marks(first, n int) string {
	out := make([]string, n)
	for i := range out {
		out[i] = fmt.Sprintf("$%d", first+i)
	}
	return "(" + strings.Join(out, ", ") + ")"
}

// Of gives the rows of a table among Rows.
func (t *Table) Of(r *Rows) reflect.Value { return reflect.ValueOf(r).Elem().Field(t.member) }

// stateColumns are the places of a state.
func stateColumns(s *State) (to []any, done func()) {
	return places(Tables[0].Columns, reflect.ValueOf(s).Elem())
}

// scan adds what rows give to a list of rows of the table.
func (t *Table) scan(rows *sql.Rows, to reflect.Value) error {
	defer rows.Close()
	row := reflect.New(t.row).Elem()
	columns, done := places(t.Columns, row)
	for rows.Next() {
		if err := rows.Scan(columns...); err != nil {
			return err
		}
		done()
		to.Set(reflect.Append(to, row))
	}
	return rows.Err()
}

// Sort sorts the rows of each table by its key. Engines sort texts by rules of their own.
func (r *Rows) Sort() {
	for _, t := range Tables {
		var key []Column
		for _, name := range t.Key {
			key = append(key, t.Columns[slices.IndexFunc(t.Columns, func(c Column) bool { return c.Name == name })])
		}
		rows := t.Of(r)
		sort.Slice(rows.Interface(), func(i, j int) bool {
			for _, c := range key {
				x, y := rows.Index(i).FieldByIndex(c.index), rows.Index(j).FieldByIndex(c.index)
				if c.Sort == Whole && x.Int() != y.Int() {
					return x.Int() < y.Int()
				}
				if c.Sort != Whole && x.String() != y.String() {
					return x.String() < y.String()
				}
			}
			return false
		})
	}
}

// Differ names the tables in which the rows of a state differ, sorted ones.
func (r *Rows) Differ(from *Rows) []string {
	var out []string
	for _, t := range Tables {
		if !reflect.DeepEqual(t.Of(r).Interface(), t.Of(from).Interface()) {
			out = append(out, t.Name)
		}
	}
	return out
}

// cells are the values of a row: string, int64, float64, bool, or nil for none.
func (t *Table) cells(row reflect.Value) []any {
	out := make([]any, len(t.Columns))
	for i, c := range t.Columns {
		v := row.FieldByIndex(c.index)
		switch {
		case c.May && v.IsNil(), c.Sort != Whole && c.Sort != YesNo && v.IsZero():
		case c.May:
			out[i] = v.Elem().Interface()
		case c.Sort == Whole:
			out[i] = v.Int()
		default:
			out[i] = v.Interface()
		}
	}
	return out
}

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
