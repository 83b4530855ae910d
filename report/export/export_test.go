package export_test

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"handback/records/chain"
	"handback/report"
	"handback/report/export"
	"handback/testdata/outside"
	"handback/testdata/rig"
)

// The metadata as the vocabulary has them; what this program writes it reads from here.
type metadata struct {
	Context string `json:"@context"`
	Tables  []struct {
		URL         string
		TableSchema struct {
			Columns []struct {
				Name, Datatype, Separator string
				Titles                    []string
				Required                  bool
			}
			PrimaryKey  []string
			ForeignKeys []struct {
				ColumnReference []string
				Reference       struct {
					Resource        string
					ColumnReference []string
				}
			}
		}
	}
}

func csvOf(t *testing.T, j *report.Job) map[string][]byte {
	t.Helper()
	out := map[string][]byte{}
	if err := export.CSV(j, func(name string, content []byte) error { out[name] = content; return nil }); err != nil {
		t.Fatal(err)
	}
	return out
}

func jobs(t *testing.T) map[string]*report.Job {
	told, nasty := rig.Told(t), rig.Nasty(t)
	remarked(told, "volts")
	remarked(nasty, "=HYPERLINK(\"http://example.org\",\"volts\"), \"quoted\"; and more")
	return map[string]*report.Job{"told": told.Job(), "nasty": nasty.Job()}
}

// remarked puts a review into a job: an order that is met, a question that is answered, one
// that waits, an order that is withdrawn and a comment.
func remarked(r *rig.Rig, said string) {
	by := func(who, kind, check string, data any) {
		was := r.By
		r.By = who
		r.Put(kind, check, data)
		r.By = was
	}
	by("eva", report.EntryRemark, "volts", report.Remarked{Remark: 1, Sort: report.RemarkOrder, Attempt: len(r.Job().State("volts").Attempts), Text: "once more, please: " + said})
	by("eva", report.EntryRemark, "ir", report.Remarked{Remark: 2, Sort: report.RemarkQuestion, About: 2, Text: "which range was it"})
	by("eva", report.EntryRemark, "ir", report.Remarked{Remark: 3, Sort: report.RemarkQuestion, Text: "and who held the probes"})
	by("eva", report.EntryRemark, "isolated", report.Remarked{Remark: 4, Sort: report.RemarkOrder, Attempt: len(r.Job().State("isolated").Attempts), Text: "the lock is not in the picture"})
	by("eva", report.EntryRemark, "", report.Remarked{Remark: 5, Sort: report.RemarkComment, Text: "reads well"})
	by("ada", report.EntryAnswer, "", report.Answered{Remark: 2, Text: "that of 1 GΩ"})
	by("eva", report.EntryWithdraw, "", report.Withdrawn{Remark: 4, Why: "another picture came"})
	r.Read("volts", rig.GoodVolts, nil, "as ordered")
	r.Judge("volts", "")
}

// What a review said stands in the document with what became of it, and an acceptance with
// what shows who gave it.
func TestJSON_said(t *testing.T) {
	j := jobs(t)["told"]
	var text bytes.Buffer
	if err := export.JSON(&text, j); err != nil {
		t.Fatal(err)
	}
	var d export.Document
	if err := chain.DecodeStrict(text.Bytes(), &d); err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, r := range d.Remarks {
		got = append(got, fmt.Sprintf("%d %s %s by %s, stands %v, %s %q by %q", r.Remark, r.Sort, r.Check, r.By, r.Stands, r.Became, r.Reply, r.ReplyBy))
	}
	want := []string{`1 order volts by eva, stands false, repeated "" by ""`, `2 question ir by eva, stands false, answered "that of 1 GΩ" by "ada"`,
		`3 question ir by eva, stands true,  "" by ""`, `4 order isolated by eva, stands false, withdrawn "another picture came" by "eva"`, `5 comment  by eva, stands false,  "" by ""`}
	if !slices.Equal(got, want) {
		t.Errorf("%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
	if len(d.Acceptances) != 1 {
		t.Fatalf("%+v", d.Acceptances)
	}
	if a := d.Acceptances[0]; a.Accepts != "finding" || a.Of != "ir" || a.By != "eva" || a.Given != "unsigned" || a.Doubt != "it is not signed" || !a.Counts {
		t.Errorf("%+v", a)
	}
}

// lexical are the forms of the datatypes used, after XML Schema Part 2 (W3C, 2012).
var lexical = map[string]*regexp.Regexp{
	"string":        regexp.MustCompile(`(?s)^.*$`),
	"integer":       regexp.MustCompile(`^[-+]?[0-9]+$`),
	"double":        regexp.MustCompile(`^[-+]?([0-9]+(\.[0-9]*)?|\.[0-9]+)([eE][-+]?[0-9]+)?$`),
	"boolean":       regexp.MustCompile(`^(true|false)$`),
	"date":          regexp.MustCompile(`^\d{4}-\d\d-\d\d$`),
	"dateTimeStamp": regexp.MustCompile(`^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d+)?(Z|[+-]\d\d:\d\d)$`),
}

// problems holds tables against their metadata, as the vocabulary says in "Validating
// Tables": titles, datatypes, what is required, keys and references.
func problems(t *testing.T, files map[string][]byte) []string {
	t.Helper()
	var m metadata
	if err := json.Unmarshal(files["csv-metadata.json"], &m); err != nil {
		t.Fatal(err)
	}
	var out []string
	cells := map[string][]map[string]string{}
	for _, table := range m.Tables {
		rows, err := csv.NewReader(bytes.NewReader(files[table.URL])).ReadAll()
		if err != nil || len(rows) == 0 {
			return append(out, fmt.Sprintf("%s: %v", table.URL, err))
		}
		for i, name := range rows[0] {
			if len(rows[0]) != len(table.TableSchema.Columns) || !slices.Contains(table.TableSchema.Columns[i].Titles, name) {
				return append(out, fmt.Sprintf("%s: column %q", table.URL, name))
			}
		}
		keys := map[string]bool{}
		for n, row := range rows[1:] {
			is := map[string]string{}
			for i, c := range table.TableSchema.Columns {
				is[c.Name] = row[i]
				form := lexical[c.Datatype]
				switch {
				case row[i] == "" && c.Required:
					out = append(out, fmt.Sprintf("%s row %d: no %s", table.URL, n+1, c.Name))
				case c.Datatype == "json" && !json.Valid([]byte(row[i])), row[i] != "" && form != nil && !form.MatchString(row[i]), form == nil && c.Datatype != "json":
					out = append(out, fmt.Sprintf("%s row %d: %s is %q, no %s", table.URL, n+1, c.Name, row[i], c.Datatype))
				}
			}
			key := keyOf(is, table.TableSchema.PrimaryKey)
			if keys[key] {
				out = append(out, fmt.Sprintf("%s row %d: key %s twice", table.URL, n+1, key))
			}
			keys[key] = true
			cells[table.URL] = append(cells[table.URL], is)
		}
	}
	for _, table := range m.Tables {
		for _, f := range table.TableSchema.ForeignKeys {
			to := map[string]bool{}
			for _, is := range cells[f.Reference.Resource] {
				to[keyOf(is, f.Reference.ColumnReference)] = true
			}
			for n, is := range cells[table.URL] {
				if key := keyOf(is, f.ColumnReference); !to[key] {
					out = append(out, fmt.Sprintf("%s row %d: no %s in %s", table.URL, n+1, key, f.Reference.Resource))
				}
			}
		}
	}
	return out
}

func keyOf(row map[string]string, columns []string) string {
	var parts []string
	for _, c := range columns {
		parts = append(parts, row[c])
	}
	return strings.Join(parts, "|")
}

// The tables are what their metadata say, whatever people typed; damage is found.
func TestCSV(t *testing.T) {
	for name, j := range jobs(t) {
		files := csvOf(t, j)
		for _, p := range problems(t, files) {
			t.Errorf("%s: %s", name, p)
		}
		for file, change := range map[string][2]string{
			"readings.csv": {",1,", ",one,"}, "findings.csv": {j.ID, "other"}, "entries.csv": {",2,", ",1,"}, "checks.csv": {"false", "no"}, "values.csv": {",1,", ",7,"},
		} {
			damaged := csvOf(t, j)
			damaged[file] = bytes.Replace(damaged[file], []byte(change[0]), []byte(change[1]), 1)
			if bytes.Equal(damaged[file], files[file]) || len(problems(t, damaged)) == 0 {
				t.Errorf("%s: damage in %s is not found", name, file)
			}
		}
	}
}

// The document holds every row of the tables, every entry as it is recorded, and a
// reading as typed and in base units.
func TestJSON(t *testing.T) {
	for name, j := range jobs(t) {
		var text, again bytes.Buffer
		if err := export.JSON(&text, j); err != nil {
			t.Fatal(err)
		}
		var d export.Document
		if err := chain.DecodeStrict(text.Bytes(), &d); err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		if err := export.JSON(&again, j); err != nil || !bytes.Equal(text.Bytes(), again.Bytes()) {
			t.Errorf("%s: not the same bytes again (%v)", name, err)
		}
		files := csvOf(t, j)
		for file, n := range map[string]int{"checks": len(d.Checks), "findings": len(d.Findings), "values": len(d.Values), "readings": len(d.Readings), "steps": len(d.Steps), "acceptances": len(d.Acceptances), "remarks": len(d.Remarks), "entries": len(d.Entries)} {
			rows, err := csv.NewReader(bytes.NewReader(files[file+".csv"])).ReadAll()
			if err != nil || n == 0 || len(rows) != n+1 {
				t.Errorf("%s: %d %s in the document, %d lines in the table (%v)", name, n, file, len(rows), err)
			}
		}
		for i, e := range j.Entries {
			if r := d.Entries[i]; r.Seq != e.Seq || r.Hash != e.Hash || string(r.Data) != string(e.Data) || !r.At.Equal(e.At) {
				t.Errorf("%s: entry %d is %+v", name, e.Seq, r)
			}
		}
		measured := 0
		for _, r := range d.Readings {
			if r.Sort != "measured" || r.NotThere != "" {
				continue
			}
			measured++
			if r.Number == nil || r.Value == nil || r.NumberUCUM == "" || r.UCUM == "" {
				t.Errorf("%s: %s %s is %+v", name, r.Check, r.Field, r)
			}
		}
		if measured == 0 {
			t.Errorf("%s: nothing was measured", name)
		}
		if d.Last != len(d.Entries) || d.HeadHash != j.Head().Hash || d.Verdict != j.Overall(j.Head().At).Code {
			t.Errorf("%s: head %+v", name, d.Head)
		}
	}
}

// A reading typed in another unit: 800 mV are 0.8 V (SI prefix).
func TestJSON_units(t *testing.T) {
	r := rig.Told(t)
	r.Read("earth-ref", rig.Typed{"value": "800 mV"}, nil, "typed in another unit")
	var text bytes.Buffer
	if err := export.JSON(&text, r.Job()); err != nil {
		t.Fatal(err)
	}
	if want := `"typed":"800 mV","number":800,"number_unit":"mV","number_ucum":"mV","value":0.8,"unit":"V","ucum":"V"`; !strings.Contains(text.String(), want) {
		t.Errorf("%s is not in %s", want, text.String())
	}
}

// A reader of CSV on the Web that knows nothing of this program (npm, rdf-parser-csvw)
// takes every table by its metadata: it finds as many rows, and the columns of numbers
// and times typed.
func TestCSV_outside(t *testing.T) {
	outside.Long(t)
	node, dir := outside.Npm(t, "rdf-parser-csvw@1.1.0"), t.TempDir()
	for _, other := range []string{"jsonld@9.0.0", "n3@2.13.12"} { // it takes the metadata as triples
		outside.Npm(t, other)
	}
	j := rig.Told(t).Job()
	files := csvOf(t, j)
	for name, content := range files {
		if err := os.WriteFile(filepath.Join(dir, name), content, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	script, err := os.ReadFile("testdata/read.js")
	if err != nil {
		t.Fatal(err)
	}
	out, err := node(string(script), dir).Output()
	if err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	want := map[string]string{"integer": "integer", "double": "double", "boolean": "boolean", "string": "string", "dateTimeStamp": "dateTimeStamp", "json": "JSON"}
	seen := 0
	for dec := json.NewDecoder(bytes.NewReader(out)); dec.More(); seen++ {
		var got struct {
			Table   string
			Rows    int
			Columns map[string]struct {
				Cells int
				Type  string
			}
		}
		if err := dec.Decode(&got); err != nil {
			t.Fatal(err)
		}
		rows, m := tableNamed(t, files, got.Table)
		if got.Rows != len(rows) {
			t.Errorf("%s: it finds %d rows, there are %d", got.Table, got.Rows, len(rows))
		}
		for i, name := range slices.Sorted(maps.Keys(m)) {
			filled := 0
			for _, row := range rows {
				if row[name] != "" {
					filled++
				}
			}
			if is := got.Columns[name]; is.Cells != filled || filled > 0 && is.Type != want[m[name]] {
				t.Errorf("%s, column %d %s: it finds %d of %s, there are %d of %s", got.Table, i, name, is.Cells, is.Type, filled, m[name])
			}
		}
	}
	if seen != len(files)-1 {
		t.Errorf("it read %d tables of %d", seen, len(files)-1)
	}
}

// tableNamed is a table by name: its rows by column, and the datatypes of its columns.
func tableNamed(t *testing.T, files map[string][]byte, url string) (rows []map[string]string, types map[string]string) {
	t.Helper()
	var m metadata
	if err := json.Unmarshal(files["csv-metadata.json"], &m); err != nil {
		t.Fatal(err)
	}
	lines, err := csv.NewReader(bytes.NewReader(files[url])).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	types = map[string]string{}
	for _, table := range m.Tables {
		if table.URL != url {
			continue
		}
		for _, line := range lines[1:] {
			is := map[string]string{}
			for i, c := range table.TableSchema.Columns {
				is[c.Name], types[c.Name] = line[i], c.Datatype
			}
			rows = append(rows, is)
		}
	}
	return rows, types
}
