package export

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"time"

	"handback/checks"
	"handback/report"
)

// separator stands between the items of a list in one cell.
const separator = ";"

// column is a column of a table.
type column struct {
	name, title string
	must        bool // every row has a value
	t           reflect.Type
}

func (t table) columns() []column {
	var out []column
	of := reflect.TypeOf(t.row)
	for i := range of.NumField() {
		f := of.Field(i)
		name, options, _ := strings.Cut(f.Tag.Get("json"), ",")
		out = append(out, column{name, f.Tag.Get("title"), options == "" && f.Type.Kind() != reflect.Slice || name == "data", f.Type})
	}
	return out
}

// datatype is the built-in datatype of the vocabulary that a column has.
func (c column) datatype() string {
	t := c.t
	if t.Kind() == reflect.Pointer {
		t = t.Elem()
	}
	switch {
	case t == reflect.TypeFor[time.Time]():
		return "dateTimeStamp"
	case t == reflect.TypeFor[json.RawMessage]():
		return "json"
	case t == reflect.TypeFor[checks.Verdict](), t.Kind() == reflect.String, t.Kind() == reflect.Slice:
		return "string"
	case t.Kind() == reflect.Int:
		return "integer"
	case t.Kind() == reflect.Float64:
		return "double"
	case t.Kind() == reflect.Bool:
		return "boolean"
	}
	panic("export: a column of " + t.String() + " has no datatype")
}

// cell is a value as a cell holds it, "" for none.
func cell(v reflect.Value) string {
	if v.Kind() == reflect.Pointer {
		if v.IsNil() {
			return ""
		}
		v = v.Elem()
	}
	switch x := v.Interface().(type) {
	case time.Time:
		return x.Format(time.RFC3339Nano)
	case json.RawMessage:
		return string(x)
	case []string:
		return strings.Join(x, separator)
	case float64:
		return strconv.FormatFloat(x, 'G', -1, 64)
	default:
		return fmt.Sprint(x)
	}
}

// writeCSV writes a table as RFC 4180 has it, in UTF-8, with a line of names.
func (t table) writeCSV(w io.Writer, j *report.Job) error {
	out := csv.NewWriter(w)
	out.UseCRLF = true
	var cells []string
	for _, c := range t.columns() {
		cells = append(cells, c.name)
	}
	if err := out.Write(cells); err != nil {
		return err
	}
	for row := range t.rows(j, j.Head().At) {
		v := reflect.ValueOf(row)
		for i := range cells {
			cells[i] = cell(v.Field(i))
		}
		if err := out.Write(cells); err != nil {
			return err
		}
	}
	out.Flush()
	return out.Error()
}

// metadataName is what the vocabulary calls the file that describes a folder of tables.
const metadataName = "csv-metadata.json"

// CSV gives every table of the job as it stands at its newest entry, and what describes
// them, to put, one file at a time. The same job gives the same bytes.
func CSV(j *report.Job, put func(name string, content []byte) error) error {
	for _, t := range tables {
		var content bytes.Buffer
		if err := t.writeCSV(&content, j); err != nil {
			return err
		}
		if err := put(t.name+".csv", content.Bytes()); err != nil {
			return err
		}
	}
	meta, err := metadata()
	if err != nil {
		return err
	}
	return put(metadataName, meta)
}

type object = map[string]any

// metadata describes the tables. It is the same for every job.
func metadata() ([]byte, error) {
	var list []described
	for _, t := range tables {
		d := described{name: t.name, key: t.key, refs: t.refs}
		for _, c := range t.columns() {
			d.columns = append(d.columns, describedColumn{c.name, c.title, c.datatype(), c.must, c.t == reflect.TypeFor[[]string]()})
		}
		list = append(list, d)
	}
	return describe(list)
}

// described is a table as the vocabulary has it.
type described struct {
	name    string
	key     []string
	columns []describedColumn
	refs    []ref
}

type describedColumn struct {
	name, title, datatype string
	must, list            bool
}

// describe gives the metadata of tables.
func describe(tables []described) ([]byte, error) {
	var list []any
	for _, t := range tables {
		var columns []any
		for _, c := range t.columns {
			is := object{"name": c.name, "titles": slices.Compact([]string{c.name, c.title}), "datatype": c.datatype}
			if c.must {
				is["required"] = true
			}
			if c.list {
				is["separator"] = separator
			}
			columns = append(columns, is)
		}
		schema := object{"columns": columns, "primaryKey": t.key}
		var keys []any
		for _, r := range t.refs {
			keys = append(keys, object{"columnReference": r.columns, "reference": object{"resource": r.table + ".csv", "columnReference": r.to}})
		}
		if keys != nil {
			schema["foreignKeys"] = keys
		}
		list = append(list, object{"url": t.name + ".csv", "tableSchema": schema})
	}
	var out bytes.Buffer
	enc := json.NewEncoder(&out)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", "  ")
	err := enc.Encode(object{"@context": "http://www.w3.org/ns/csvw", "dialect": object{"header": true, "encoding": "utf-8", "lineTerminators": []string{"\r\n"}}, "tables": list})
	return out.Bytes(), err
}
