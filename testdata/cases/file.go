package cases

import (
	"embed"
	"encoding/json"
	"strings"
	"testing"

	"handback/checks"
)

//go:embed *.json
var files embed.FS

// File is testdata/cases/<kind>.json: a base trial and cases that each set
// some of its values. A path in set is dotted; answers, given and kept belong to
// the last check; null takes a value away.
type File struct {
	Kind  string         `json:"kind"`
	Base  map[string]any `json:"base"`
	Cases []Case         `json:"cases"`

	// Never says why no case comes to a verdict, or stands at a limit (at_limit).
	Never map[string]string `json:"never"`
}

// Case is one case of a file: what it sets otherwise, and what it comes to.
type Case struct {
	Name    string         `json:"name"`
	Source  string         `json:"source"` // where the expected outcome comes from
	AtLimit bool           `json:"at_limit"`
	Set     map[string]any `json:"set"`
	Want    struct {
		Verdict checks.Verdict  `json:"verdict"`
		Says    []string        `json:"says"`    // each stands in some reason
		Stop    string          `json:"stop"`    // stands in the stop's words
		Doubt   string          `json:"doubt"`   // stands in some doubt
		Caution []string        `json:"caution"` // each stands in some caution
		Silent  []string        `json:"silent"`  // none stands in a reason, caution or stop
		Error   string          `json:"error"`   // the trial is refused with these words
		Derived map[string]Want `json:"derived"`
	} `json:"want"`
}

// Want is what a derived value should be.
type Want struct {
	Value   *float64        `json:"value"`
	Within  float64         `json:"within"` // absolute; 1e-6 relative when zero
	U       *float64        `json:"u"`
	Verdict *checks.Verdict `json:"verdict"`
}

// Read reads the cases of a kind.
func Read(t testing.TB, kind string) File {
	t.Helper()
	path := kind + ".json"
	data, err := files.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	dec := json.NewDecoder(strings.NewReader(string(data)))
	dec.DisallowUnknownFields()
	var f File
	if err := dec.Decode(&f); err != nil {
		t.Fatalf("%s: %v", path, err)
	}
	if f.Kind != kind || len(f.Cases) == 0 {
		t.Fatalf("%s: kind %q with %d cases", path, f.Kind, len(f.Cases))
	}
	return f
}

// Trial is the base with some of its values set, as a trial file.
func (f File) Trial(t testing.TB, set map[string]any) []byte {
	t.Helper()
	tree, err := Trial(f.Base, set)
	if err != nil {
		t.Fatal(err)
	}
	out, err := json.Marshal(tree)
	if err != nil {
		t.Fatal(err)
	}
	return out
}
