package cmd

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"handback/templates"
	"handback/testdata/outside"
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
			text, err := os.ReadFile(filepath.Join(played(t, work), "handover.txt"))
			if err != nil {
				t.Fatal(err)
			}
			if !strings.Contains(string(text), ">>> READY: every check passes <<<") {
				t.Errorf("not ready at its end:\n%s", text)
			}
		})
	}
}
