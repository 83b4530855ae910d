package cmd

import (
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"handback/cmd/session"
	"handback/testdata/outside"
	"handback/testdata/recalc"
	"handback/testdata/resaved"
)

// The demo's handover as three other programs save it holds the values, formulas and
// names that it held, and verifies. What each of them keeps of no workbook is named here.
func TestOutside_demo_resaved(t *testing.T) {
	outside.Long(t)
	dir := t.TempDir()
	demo := played(t, theDemo)
	data, err := os.ReadFile(filepath.Join(demo, "handover.xlsx"))
	if err != nil {
		t.Fatal(err)
	}
	for _, fault := range resaved.Unsound(t, data) {
		t.Error(fault)
	}
	wanted := map[string]struct {
		loses  []string
		status int
		says   string
	}{
		"LibreOffice": {nil, exitDone, "handover data are those of the record"},
		"openpyxl":    {[]string{resaved.Data, resaved.Pictures, resaved.Results}, session.ExitPartly, "left out what the formulas come to"},
		"exceljs":     {[]string{resaved.Charts, resaved.Data, resaved.Links, resaved.Pictures}, exitDone, "a program that saved it left them out"},
	}
	for _, p := range resaved.Programs {
		t.Run(p.Name, func(t *testing.T) {
			want, saved := wanted[p.Name], p.Save(t, data)
			differences := resaved.Differences(t, data, saved)
			if diff := cmp.Diff(want.loses, slices.Sorted(maps.Keys(differences))); diff != "" {
				t.Errorf("what it does not keep (-want +got):\n%s", diff)
			}
			for what, lines := range differences {
				if slices.ContainsFunc(lines, func(l string) bool { return !strings.HasPrefix(l, "lost ") && l != "new a picture" }) || !slices.Contains(want.loses, what) {
					t.Errorf("%s: %q", what, lines[:min(8, len(lines))])
				}
			}
			verifies := func(name string, data []byte, status int, says string) {
				path := filepath.Join(dir, name+".xlsx")
				if err := os.WriteFile(path, data, 0o600); err != nil {
					t.Fatal(err)
				}
				said := demands(t, status, filepath.Join(demo, "book.db"), "verify", path)
				if strings.Contains(said, "byte for byte") || !strings.Contains(strings.Join(strings.Fields(said), " "), says) {
					t.Errorf("%s:\n%s", name, said)
				}
			}
			verifies(p.Name, saved, want.status, want.says)
			outside.Tool(t, "soffice")
			anew, err := recalc.Run(t.TempDir(), map[string][]byte{"book": saved})
			if err != nil {
				t.Fatal(err)
			}
			verifies(p.Name+", worked out anew", anew["book"], exitDone, "named cells with readings, values and verdicts on ")
		})
	}
}
