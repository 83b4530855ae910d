package cmd

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"handback/templates"
	"handback/testdata/outside"
	"handback/testdata/recalc"
)

// LibreOffice works the handovers of the demo and of every starter plan out to what
// stands in them: each value and uncertainty to 1e-9, each verdict, the cover. What it
// saved verifies.
func TestOutside_handovers_work_out_the_same(t *testing.T) {
	outside.Long(t)
	outside.Tool(t, "soffice")
	dir := t.TempDir()
	books, folders := map[string][]byte{}, map[string]string{}
	for _, name := range append(templates.Plans(), theDemo) {
		folders[name] = played(t, name)
		data, err := os.ReadFile(filepath.Join(folders[name], "handover.xlsx"))
		if err != nil {
			t.Fatal(err)
		}
		books[name] = data
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
		saved := filepath.Join(dir, name+"-saved.xlsx")
		if err := os.WriteFile(saved, anew[name], 0o600); err != nil {
			t.Fatal(err)
		}
		said := demands(t, exitDone, filepath.Join(folders[name], "book.db"), "verify", saved)
		if !strings.Contains(said, "record intact") || !strings.Contains(said, "named cells with readings, values and verdicts on ") || strings.Contains(said, "byte for byte") {
			t.Errorf("%s, saved by LibreOffice:\n%s", name, said)
		}
		if len(differences) > 8 || formulas < 500 {
			t.Errorf("%s: %d of %d formulas differ", name, len(differences), formulas)
		}
	}
}
