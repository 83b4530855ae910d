package legend

import (
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strings"

	"handback/records/chain"
	"handback/report"
	"handback/templates"
)

// part is a piece of what is recorded or signed: what it is, and its members as a table.
type part struct{ Name, Words, Table string }

// parts are those of a job: what every entry has, the data of each kind of entry that the
// job has, what stands within them, and what was signed.
type parts struct {
	members                string
	entries, inner, signed []part
	seen                   []string // definitions that are told or will be
}

// shape is a piece of a schema, as anybody reads it.
type shape struct {
	Type       any
	Format     string
	Enum       []any
	Ref        string `json:"$ref"`
	Items      *shape
	AnyOf      []shape
	Properties map[string]shape
	Required   []string
	Additional json.RawMessage  `json:"additionalProperties"`
	Defs       map[string]shape `json:"$defs"`
	AllOf      []struct {
		If, Then struct {
			Properties map[string]struct {
				Const string
				Ref   string `json:"$ref"`
			}
		}
	}
}

func partsOf(j *report.Job, schemas map[string][]byte) (out parts, err error) {
	read := map[string]shape{}
	for _, name := range []string{EntrySchema, StatementSchema, AcceptanceSchema} {
		var s shape
		if err := json.Unmarshal(schemas[name], &s); err != nil {
			return out, err
		}
		read[name] = s
	}
	entry := read[EntrySchema]
	if out.members, err = out.table(entry, ""); err != nil {
		return out, err
	}
	for _, each := range entry.AllOf {
		kind := each.If.Properties["kind"].Const
		if !slices.ContainsFunc(j.Entries, func(e chain.Entry) bool { return e.Kind == kind }) {
			continue
		}
		p, err := out.part(entry.Defs[afterSlash(each.Then.Properties["data"].Ref)], kind)
		if err != nil {
			return out, err
		}
		out.entries = append(out.entries, p)
	}
	if out.inner, err = out.pending(entry); err != nil {
		return out, err
	}
	if len(j.Signatures) == 0 && !j.SignsAcceptances() {
		return out, nil
	}
	for _, s := range []struct{ file, name string }{{StatementSchema, "Statement"}, {AcceptanceSchema, "Acceptance"}} {
		p, err := out.part(read[s.file].Defs[afterSlash(read[s.file].Ref)], s.name)
		if err != nil {
			return out, err
		}
		inner, err := out.pending(read[s.file])
		if err != nil {
			return out, err
		}
		out.signed = append(append(out.signed, p), inner...)
	}
	return out, nil
}

// pending tells what was named and is defined in a schema, and what that names in turn.
func (t *parts) pending(in shape) (out []part, err error) {
	for i := 0; i < len(t.seen); i++ {
		s, ok := in.Defs[t.seen[i]]
		if !ok || len(s.Properties) == 0 {
			continue
		}
		p, err := t.part(s, lastName(t.seen[i]))
		if err != nil {
			return nil, err
		}
		out = append(out, p)
	}
	t.seen = t.seen[:0]
	slices.SortFunc(out, func(a, b part) int { return strings.Compare(a.Name, b.Name) })
	return out, nil
}

func (t *parts) part(s shape, name string) (part, error) {
	words, err := templates.Legend(name, "")
	if err != nil {
		return part{}, err
	}
	table, err := t.table(s, name)
	return part{name, words, table}, err
}

// table lists the members of a part: name, with ? where it may be absent, sort, and what
// it is.
func (t *parts) table(s shape, name string) (string, error) {
	var rows [][]string
	for _, member := range slices.Sorted(maps.Keys(s.Properties)) {
		words, err := templates.Legend(name, member)
		if err != nil {
			return "", err
		}
		of := t.sort(s.Properties[member])
		if !slices.Contains(s.Required, member) {
			member += "?"
		}
		rows = append(rows, []string{member, of, words})
	}
	return columns(4, rows), nil
}

// sort is what a member holds, in words; what it names is told later.
func (t *parts) sort(s shape) string {
	var more shape
	switch {
	case s.Ref != "":
		if def := afterSlash(s.Ref); !slices.Contains(t.seen, def) {
			t.seen = append(t.seen, def)
		}
		return lastName(afterSlash(s.Ref))
	case len(s.Enum) > 0:
		return "word"
	case len(s.AnyOf) > 0:
		return t.sort(s.AnyOf[0])
	case s.Items != nil:
		return "list of " + t.sort(*s.Items)
	case json.Unmarshal(s.Additional, &more) == nil && s.Type == "object":
		return t.sort(more) + " by key"
	case s.Format != "":
		return "time"
	}
	words := map[string]string{"string": "text", "integer": "whole number", "number": "number", "boolean": "true or false", "object": "object"}
	return words[fmt.Sprint(s.Type)]
}

func afterSlash(ref string) string { return ref[strings.LastIndexByte(ref, '/')+1:] }

// lastName is what a definition is called behind its package.
func lastName(def string) string { return def[strings.LastIndexByte(def, '.')+1:] }
