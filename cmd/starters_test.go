package cmd

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"handback/cmd/session"
	"handback/templates"
	"handback/testdata/outside"
	"handback/testdata/starters"
)

// Every starter plan, its marks taken away and its names filled in, can be walked to
// its end: invented readings that suit it leave nothing open. A plan whose order or limits let nothing pass fails.
func TestStarterPlansWalk(t *testing.T) {
	outside.Long(t)
	works := templates.Plans()
	if len(works) == 0 {
		t.Fatal("no starter plans")
	}
	for _, work := range works {
		t.Run(work, func(t *testing.T) {
			dir := t.TempDir()
			plan, err := templates.Plan(work)
			if err != nil {
				t.Fatal(err)
			}
			file := filepath.Join(dir, "plan.yaml")
			if err := os.WriteFile(file, starters.FilledIn(plan), 0o644); err != nil {
				t.Fatal(err)
			}
			var out bytes.Buffer
			env := session.Env{In: strings.NewReader(""), Out: &out, Err: &out, Now: func() time.Time { return time.Time{} }}
			played := filepath.Join(dir, "played")
			status := Main([]string{"demo", "--plan", file, "--readings", "../testdata/starters/" + work + ".txt", "-o", played}, env)
			if status != exitDone {
				t.Fatalf("demo ends with status %d:\n%s", status, out.String())
			}
			text, err := os.ReadFile(filepath.Join(played, "handover.txt"))
			if err != nil {
				t.Fatal(err)
			}
			if !strings.Contains(string(text), ">>> READY: every check passes <<<") {
				t.Errorf("not ready at its end:\n%s", text)
			}
		})
	}
}
