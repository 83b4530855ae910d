package workbook

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"handback/checks"
	"handback/checks/plan"
	"handback/report"
	"handback/testdata/cases"
	"handback/testdata/rig"
)

// caseDocuments makes a document of every kind: its base and every case that loads,
// each check under an id of its own.
func caseDocuments(t testing.TB) map[string]*report.Document {
	t.Helper()
	out := map[string]*report.Document{}
	for _, kind := range plan.KindNames() {
		f := readCases(t, kind)
		sets := []map[string]any{nil}
		for _, c := range f.Cases {
			sets = append(sets, c.Set)
		}
		for i, set := range sets {
			tree, err := cases.Trial(f.Base, set)
			if err != nil {
				t.Fatal(err)
			}
			rename(tree, fmt.Sprintf("k%d-", i))
			add(t, out, kind, tree)
		}
		if d := out[kind]; d == nil || len(d.Pages()) < 5 {
			t.Errorf("kind %s: hardly a case loads", kind)
		}
	}
	return out
}

// caseFile is what is read of a file of cases here.
type caseFile struct {
	Base  map[string]any
	Cases []struct {
		Name string
		Set  map[string]any
	}
}

func readCases(t testing.TB, kind string) caseFile {
	t.Helper()
	data, err := os.ReadFile(filepath.Join("..", "..", "testdata", "cases", kind+".json"))
	if err != nil {
		t.Fatal(err)
	}
	var f caseFile
	if err := json.Unmarshal(data, &f); err != nil {
		t.Fatal(err)
	}
	return f
}

// hundred is a document of the base of every kind, five times over.
func hundred(t testing.TB) *report.Document {
	t.Helper()
	out := map[string]*report.Document{}
	for i := range 5 {
		for _, kind := range plan.KindNames() {
			tree, err := cases.Trial(readCases(t, kind).Base, nil)
			if err != nil {
				t.Fatal(err)
			}
			rename(tree, fmt.Sprintf("%s-%d-", kind, i))
			add(t, out, "all", tree)
		}
	}
	if n := len(out["all"].Pages()); n < 100 {
		t.Fatalf("%d checks", n)
	}
	return out["all"]
}

// rename puts a prefix before every check's id and where checks refer to it.
func rename(node any, prefix string) {
	switch n := node.(type) {
	case map[string]any:
		for key, v := range n {
			if list, ok := v.([]any); ok && key == "put_on" {
				for i := range list {
					list[i] = prefix + list[i].(string)
				}
				continue
			}
			if s, ok := v.(string); ok && plan.IDShape(s) && (slices.Contains([]string{"check", "proof", "joints", "links_of"}, key) || key == "same_as" || strings.HasSuffix(key, "_from") && key != "rated_from" || strings.Contains(key, "_from_")) {
				n[key] = prefix + s
			} else {
				rename(v, prefix)
			}
		}
	case []any:
		for _, v := range n {
			rename(v, prefix)
		}
	}
}

// add puts the checks of a trial into the document of its kind. A trial that does
// not load is left out.
func add(t testing.TB, into map[string]*report.Document, kind string, tree map[string]any) {
	t.Helper()
	data, err := json.Marshal(tree)
	if err != nil {
		t.Fatal(err)
	}
	trial, err := plan.LoadTrial(kind, data)
	if err != nil {
		return
	}
	j := rig.TrialJob(t, trial)
	if j == nil {
		return
	}
	d, err := report.NewDocument(j, trial.At.Add(time.Minute))
	if err != nil {
		t.Fatal(err)
	}
	if into[kind] == nil {
		into[kind] = d
		return
	}
	for _, g := range d.Groups { // one of a kind is enough to judge again and again
		for i := range g.Checks {
			for n := range g.Checks[i].Attempts {
				g.Checks[i].Attempts[n].Again = nil
			}
		}
	}
	for _, g := range d.Groups {
		all := &into[kind].Groups
		if i := slices.IndexFunc(*all, func(had report.Group) bool { return had.Name == g.Name }); i >= 0 {
			(*all)[i].Checks = append((*all)[i].Checks, g.Checks...)
		} else {
			*all = append(*all, g)
		}
	}
	stops, open, conceded := 0, 0, 0
	for _, p := range into[kind].Pages() {
		switch {
		case p.Hangs == report.HangsOnStop:
			stops++
			open++
		case p.Hangs == report.Accepted:
			conceded++
		case p.Verdict != checks.Pass || p.Hangs == report.HangsOnRecord:
			open++
		}
	}
	into[kind].Overall = report.OverallOf(stops, open, 0, conceded, 0)
}
