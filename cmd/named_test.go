package cmd

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/spf13/cobra"

	"handback/testdata/outside"
)

// Every command that reads a record book fails when the one that is named is not
// there, and makes none.
func TestBook_namedAndMissing(t *testing.T) {
	outside.Long(t)
	book, job := signedJob(t)
	lines := everyCommand(t, book, job)
	makes := []string{"open", "restore", "take"}
	reads := []string{"jobs", "walk", "enter", "done", "left", "undone", "found", "defect", "amend", "found-bad", "instruments", "status", "flags", "correct", "accept", "review", "answer", "sheet", "read", "attach", "handover", "export", "plan baseline",
		"pack", "join", "sign", "statement", "verify", "doctor", "backup"}
	lines["undone"] = []string{"undone", job, "energise", "--why", "fuse to be changed"}
	lines["left"] = []string{"left", job, "tag", "--why", "no notice at hand"}
	lines["found"] = []string{"found", job, "q2", "position=open", "--why", "it tripped"}
	lines["accept"] = []string{"accept", job, "look", "--by", "ben", "--why", "the owner allows it"}
	lines["answer"] = []string{"answer", job, "1", "the left one"}
	lines["sheet"] = []string{"sheet", job, "-o", filepath.Join(t.TempDir(), "s.xlsx")}
	lines["join"] = []string{"join", job, "--by", "ben"}
	lines["plan baseline"] = []string{"plan", "baseline", job}
	eachCommand(t, func(path []string, c *cobra.Command) {
		name := strings.Join(path, " ")
		missing := filepath.Join(t.TempDir(), "typo.db")
		status, text := asks(t, book, append([]string{"--book", missing}, lines[name]...)...)
		_, err := os.Stat(missing)
		switch {
		case slices.Contains(makes, name):
			if status != exitDone || err != nil {
				t.Errorf("%s ends with status %d, and there is %v:\n%s", name, status, err, text)
			}
		case err == nil:
			t.Errorf("%s has made a record book", name)
		case slices.Contains(reads, name) && (status != exitFailed || !strings.Contains(text, "no record book at "+missing)):
			t.Errorf("%s ends with status %d:\n%s", name, status, text)
		case !slices.Contains(reads, name) && status != exitDone:
			t.Errorf("%s needs no record book and ends with status %d:\n%s", name, status, text)
		}
	})
}
