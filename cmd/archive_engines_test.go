package cmd

import (
	"bytes"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	_ "handback/records/archive/postgres"
	"handback/testdata/outside"
)

// Every command of an archive answers the same from PostgreSQL as from a folder, to the
// letter, from the first bag to what is left after one was reduced.
func TestArchive_engines(t *testing.T) {
	outside.Long(t)
	p := outside.NewPostgres(t)
	book, in := bagsToAdd(t)
	dir := filepath.Dir(book)
	played := filepath.Join(dir, "played")
	demands(t, exitDone, book, "demo", "-o", played)
	demands(t, exitDone, filepath.Join(played, "book.db"), "pack", "t2-return-1", "-o", filepath.Join(in, "played.zip"))
	spoilt, err := os.ReadFile(filepath.Join(in, "other.zip"))
	if err == nil {
		err = os.WriteFile(filepath.Join(in, "spoilt.zip"), bytes.Replace(spoilt, []byte("bagit.txt"), []byte("bagit.tex"), 1), 0o600)
	}
	if err != nil {
		t.Fatal(err)
	}
	demands(t, exitDone, book, "key", "new", "-o", filepath.Join(dir, "log-key"), "--unprotected")
	p.SQL("public", "CREATE SCHEMA owner_1")
	places := []string{filepath.Join(dir, "owner"), p.URL("owner", "search_path=owner_1")}
	when := regexp.MustCompile(`(?m)^\d+ of \d+ bags, .*\n`) // progress hangs on the clock
	for _, line := range []string{
		"new --key KEY", "add IN", "add IN", "head --key KEY", "head --key KEY --json", "doctor", "doctor --json", "doctor --hashes",
		"find", "find --json", "find --verdict not-ready", "find --kind insulation --verdict pass", "find --text pump --forked", "find --person mira --defect-open",
		"show t2-return-1", "show t2-return-1 --json", "show --quarantine", "show --quarantine --json", "show nothing",
		"get t2-return-1 -o OUT/got.zip", "due", "due --json", "export -o OUT/csv", "export --lines -o OUT/lines",
		"trend T2/across/displacement", "trend T2/across/displacement --json", "trend T2", "recall TW-1107 --error -4%", "recall TW-1107 --error -4% --json", "recall TW-9",
		"prove t2-return-1 -o OUT/proof --key KEY", "keep", "keep --years 30 --by owner --why contract", "keep --json", "policy",
		"redact t2-return-1 --by owner --why a-name --find Mira", "redact t2-return-1 plan --by owner --why a-name --early --yes", "show t2-return-1", "doctor", "get t2-return-1 -o OUT/reduced.zip",
		"recall TW-1107 --error -4%", "find --json", "head --key KEY", "add IN", "doctor --json",
	} {
		var said [2]string
		var status [2]int
		for i, place := range places {
			out := filepath.Join(dir, []string{"folder", "server"}[i])
			args := strings.Fields(strings.NewReplacer("KEY", filepath.Join(dir, "log-key"), "IN", in, "OUT", out).Replace("archive " + line))
			if err := os.MkdirAll(out, 0o700); err != nil {
				t.Fatal(err)
			}
			var text string
			status[i], text = asks(t, book, append(args, "--archive", place)...)
			said[i] = when.ReplaceAllString(strings.NewReplacer("'"+place+"'", "ARCHIVE", place, "ARCHIVE", out, "OUT").Replace(text), "")
		}
		if diff := cmp.Diff(said[0], said[1]); diff != "" || status[0] != status[1] {
			t.Errorf("%s: status %v (-folder +server):\n%s", line, status, diff)
		}
		if status[0] == exitUsage || status[0] == exitFailed && line != "show nothing" {
			t.Errorf("%s: %s", line, said[0]) // says nothing of engines
		}
	}
	if diff := cmp.Diff(treeOf(t, filepath.Join(dir, "folder")), treeOf(t, filepath.Join(dir, "server"))); diff != "" {
		t.Errorf("what was written (-folder +server):\n%s", diff)
	}
}
