package templates_test

import (
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"handback/checks"
	"handback/templates"
)

// Every kind has a block whose trial is accepted and passes, so that what
// people copy from works; no block is left over from a kind that went.
func TestKindBlocks(t *testing.T) {
	names := checks.KindNames()
	if len(names) == 0 {
		t.Fatal("no kinds")
	}
	for _, name := range names {
		t.Run(name, func(t *testing.T) {
			b, err := templates.Kind(name)
			if err != nil {
				t.Fatal(err)
			}
			trial, err := checks.LoadTrial(name+".yaml", []byte(b.Trial))
			if err != nil {
				t.Fatal(err)
			}
			in, found, err := trial.Judge()
			if err != nil {
				t.Fatal(err)
			}
			if in.Check.Kind.Name != name {
				t.Errorf("the trial judges a %s", in.Check.Kind.Name)
			}
			if found.Verdict != checks.Pass {
				t.Errorf("the trial comes to %s: %v", found.Verdict, found.Reasons)
			}
		})
	}
	blocks, err := filepath.Glob("kinds/*")
	if err != nil || len(blocks) == 0 {
		t.Fatalf("%d blocks, %v", len(blocks), err)
	}
	for _, file := range blocks {
		if !slices.Contains(names, strings.TrimSuffix(filepath.Base(file), ".tmpl")) {
			t.Errorf("block %s belongs to no kind", file)
		}
	}
}
