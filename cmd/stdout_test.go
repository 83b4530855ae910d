package cmd

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/spf13/cobra"

	"handback/cmd/session"
	"handback/testdata/outside"
)

// refusing is a stdout that cannot be written.
type refusing struct{ err error }

func (r refusing) Write([]byte) (int, error) {
	return 0, &fs.PathError{Op: "write", Path: "/dev/stdout", Err: r.err}
}

// everyCommand is a command line for each command that prints something, by its path.
// They work on the job of signedJob.
func everyCommand(t *testing.T, book, job string) map[string][]string {
	t.Helper()
	dir := t.TempDir()
	file := func(name, text string) string {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		return path
	}
	near := func(name string) string { return filepath.Join(filepath.Dir(book), name) }
	trial := play(t, "", "kinds", "rotation", "--example")
	plan := file("long.yaml", longPlan(1, 1))
	sheet := filepath.Join(dir, "sheet.xlsx")
	demands(t, exitDone, book, "sheet", job, "-o", sheet)
	copied := filepath.Join(dir, "copy.db")
	demands(t, exitDone, book, "backup", copied)
	packed := filepath.Join(dir, "packed.zip")
	demands(t, exitDone, book, "pack", job, "-o", packed)
	owner := filepath.Join(dir, "archive")
	of := func(words ...string) []string {
		return append(append([]string{"archive"}, words...), "--archive", owner)
	}
	demands(t, exitDone, book, of("new")...)
	demands(t, exitDone, book, of("add", packed)...)
	return map[string][]string{
		"archive":        {"archive"},
		"archive new":    {"archive", "new", "--archive", filepath.Join(t.TempDir(), "other")},
		"archive policy": of("policy"),
		"archive add":    of("add", packed),
		"archive find":   of("find"),
		"archive show":   of("show", job),
		"archive get":    of("get", job, "-o", filepath.Join(t.TempDir(), "got.zip")),
		"archive trend":  of("trend", "--help"),
		"archive recall": of("recall", "EX-1"),
		"archive due":    of("due", "--json"),
		"archive export": of("export", "-o", filepath.Join(t.TempDir(), "rows")),
		"archive doctor": of("doctor", "--hashes"),
		"archive head":   of("head"),
		"archive keep":   of("keep", job),
		"archive prove":  of("prove", job),
		"archive redact": of("redact", job, "--find", "job"),
		"archive serve":  of("serve", "--help"),
		"take":           {"take", packed},
		"join":           {"join", "--help"},
		"":               {"--help"},
		"help":           {"help", "words"},
		"completion":     {"completion", "bash"},
		"man":            {"man", "-o", filepath.Join(t.TempDir(), "man")},
		"demo":           {"demo", "-o", filepath.Join(dir, "demo")},
		"plan":           {"plan"},
		"plan new":       {"plan", "new", "tap-change"},
		"plan check":     {"plan", "check", plan},
		"plan steps":     {"plan", "steps", plan},
		"plan baseline":  {"plan", "baseline", "--help"},
		"schema":         {"schema", "status"},
		"export":         {"export", job, "--json"},
		"open":           {"open", plan},
		"jobs":           {"jobs"},
		"walk":           {"walk", job},
		"enter":          {"enter", job, "look", "who=ada", "s1=yes", "s2=yes", "--past-hold", "looked before"},
		"done":           {"done", job, "energise"},
		"left":           {"left", "--help"},
		"undone":         {"undone", "--help"},
		"amend":          {"amend", job, "--instrument", "unit", "certificate=C-5", "--why", "certificate found in its case"},
		"defect":         {"defect", job, "door switch sticks"},
		"found":          {"found", "--help"},
		"found-bad":      {"found-bad", job, "tester", "--why", "battery was flat"},
		"try":            {"try", "rotation", file("trial.yaml", trial.out)},
		"kinds":          {"kinds"},
		"instruments":    {"instruments"},
		"status":         {"status", job},
		"flags":          {"flags", job},
		"correct":        {"correct", job, "dead", "l1e=not live", "--why", "typed twice by mistake"},
		"accept":         {"accept", "--help"},
		"review":         {"review", job, "--json"},
		"answer":         {"answer", "--help"},
		"sheet":          {"sheet", "--help"},
		"read":           {"read", job, sheet},
		"attach":         {"attach", job, file("note.txt", "a note\n"), "--caption", "a note"},
		"handover":       {"handover", job, "-o", filepath.Join(dir, "h.xlsx"), "--text", "-"},
		"plan diff":      {"plan", "diff", plan, plan},
		"stamp":          {"stamp", "--help"},
		"form":           {"form"},
		"form fields":    {"form", "fields"},
		"form labels":    {"form", "labels"},
		"pack":           {"pack", job, "-o", filepath.Join(dir, "bag.zip")},
		"sign":           {"sign", job, "--as", "technician", "--key", near("keys/ada"), "--yes"},
		"statement":      {"statement", job, "-o", filepath.Join(dir, "signed")},
		"key":            {"key"},
		"key new":        {"key", "new", "-o", filepath.Join(dir, "key"), "--unprotected"},
		"key show":       {"key", "show", near("keys/ada")},
		"verify":         {"verify", job},
		"doctor":         {"doctor"},
		"backup":         {"backup", filepath.Join(dir, "again.db")},
		"restore":        {"restore", copied, "--force"},
	}
}

// A command whose answer cannot be written has failed and says so, whichever it is;
// one whose reader has had enough says nothing.
func TestStdout_refused(t *testing.T) {
	outside.Long(t)
	for name, refusal := range map[string]error{"full": syscall.ENOSPC, "closed": syscall.EPIPE} {
		t.Run(name, func(t *testing.T) {
			if name != "full" {
				outside.Long(t)
			}
			book, job := signedJob(t)
			lines := everyCommand(t, book, job)
			eachCommand(t, func(path []string, c *cobra.Command) {
				name := strings.Join(path, " ")
				line, ok := lines[name]
				if !ok {
					t.Errorf("%q is in no test: give it a command line", name)
					return
				}
				for _, args := range [][]string{line, append(slices.Clone(path), "--help")} {
					var talk strings.Builder
					env := session.System()
					env.In, env.Out, env.Err, env.Agent, env.Book = strings.NewReader("quit\n"), refusing{refusal}, &talk, "", book
					env.Now = func() time.Time { return time.Date(2026, 5, 12, 10, 0, 0, 0, time.UTC) }
					status := Main(args, env)
					told := strings.Contains(talk.String(), refusal.Error())
					if status != exitFailed || told != errors.Is(refusal, syscall.ENOSPC) {
						t.Errorf("%v ends with status %d: %s", args, status, talk.String())
					}
				}
			})
		})
	}
}
