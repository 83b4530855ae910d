package cmd

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"handback/templates"
	"handback/testdata/outside"
	"handback/testdata/recalc"
	"handback/testdata/starters"
)

// LibreOffice works the handovers of the demo and of every starter plan out to what
// stands in them: each value and uncertainty to 1e-9, each verdict, the cover.
func TestOutside_handovers_work_out_the_same(t *testing.T) {
	if testing.Short() {
		t.Skip("takes seconds: not in a short run")
	}
	outside.Tool(t, "soffice")
	dir := t.TempDir()
	books := map[string][]byte{}
	play := func(name string, args ...string) {
		t.Helper()
		var out bytes.Buffer
		env := Env{In: strings.NewReader(""), Out: &out, Err: &out, Now: func() time.Time { return time.Time{} }}
		played := filepath.Join(dir, name)
		if status := Main(append([]string{"demo", "-o", played}, args...), env); status != exitDone {
			t.Fatalf("demo ends with status %d:\n%s", status, out.String())
		}
		data, err := os.ReadFile(filepath.Join(played, "handover.xlsx"))
		if err != nil {
			t.Fatal(err)
		}
		books[name] = data
	}
	play("demo")
	for _, work := range templates.Plans() {
		plan, err := templates.Plan(work)
		if err != nil {
			t.Fatal(err)
		}
		file := filepath.Join(dir, work+".yaml")
		if err := os.WriteFile(file, starters.FilledIn(plan), 0o644); err != nil {
			t.Fatal(err)
		}
		play(work, "--plan", file, "--readings", "../testdata/starters/"+work+".txt")
	}
	anew, err := recalc.Run(dir, books)
	if err != nil {
		t.Fatal(err)
	}
	for name, data := range books {
		differences, formulas, err := recalc.Differences(data, anew[name])
		if err != nil {
			t.Fatal(err)
		}
		for _, d := range differences[:min(8, len(differences))] {
			t.Errorf("%s: %s", name, d)
		}
		if len(differences) > 8 || formulas < 500 {
			t.Errorf("%s: %d of %d formulas differ", name, len(differences), formulas)
		}
	}
}
