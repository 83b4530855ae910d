package cmd

import (
	"archive/zip"
	"bytes"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"handback/cmd/session"
	"handback/templates"
	"handback/testdata/outside"
	"handback/testdata/schemas"
	"handback/testdata/starters"
)

// archivist is a script in another language, written from the documents in a bag alone.
const archivist = "../testdata/archivist.py"

// The bags of the demo and of every starter plan, played, are re-hashed and re-read by the
// archivist, and their entries fit the schema that lies in them. So are bags of earlier
// versions that explain themselves.
func TestArchivist_bags_outside(t *testing.T) {
	outside.Long(t)
	python := outside.Tool(t, "/usr/bin/python3", "-c", "import json")
	script, err := os.ReadFile(archivist)
	if err != nil || bytes.Count(script, []byte("\n")) > 60 {
		t.Errorf("%d lines, at most 60 are wanted: %v", bytes.Count(script, []byte("\n")), err)
	}
	dir := t.TempDir()
	bags := map[string]string{"demo": playedBag(t, dir, "demo")}
	for _, work := range templates.Plans() {
		plan, err := templates.Plan(work)
		if err != nil {
			t.Fatal(err)
		}
		file := filepath.Join(dir, work+".yaml")
		if err := os.WriteFile(file, starters.FilledIn(plan), 0o644); err != nil {
			t.Fatal(err)
		}
		bags[work] = playedBag(t, dir, work, "--plan", file, "--readings", "../testdata/starters/"+work+".txt")
	}
	old := unpacked(t)
	if len(old) == 0 {
		t.Error("no bag of an earlier version explains itself")
	}
	for name, bag := range old {
		bags[name] = bag
	}
	for name, bag := range bags {
		counted := regexp.MustCompile(`^[1-9]\d* entries, [1-9]\d* readings, [1-9]\d* verdicts\n$`)
		if old[name] != "" { // its job reads a lamp alone
			counted = regexp.MustCompile(`^4 entries, 0 readings, 1 verdicts\n$`)
		}
		if out, err := exec.Command(python, archivist, bag).CombinedOutput(); err != nil || !counted.Match(out) {
			t.Errorf("%s: %v\n%s", name, err, out)
		}
		schema, err := os.ReadFile(filepath.Join(bag, "entry.schema.json"))
		if err != nil {
			t.Fatal(err)
		}
		entries, err := os.ReadFile(filepath.Join(bag, "data", "entries.jsonl"))
		if err != nil {
			t.Fatal(err)
		}
		for line := range bytes.Lines(entries) {
			if err := schemas.Fits(schema, line); err != nil {
				t.Errorf("%s: %v\n%s", name, err, line)
			}
		}
	}
}

// playedBag is the bag of a job that was played, as a folder.
func playedBag(t *testing.T, dir, name string, args ...string) string {
	t.Helper()
	at, bag := filepath.Join(dir, name), filepath.Join(dir, name+"-bag")
	var out bytes.Buffer
	env := session.Env{In: strings.NewReader(""), Out: &out, Err: &out, Now: func() time.Time { return time.Time{} }, Program: "handback test"}
	if status := Main(append([]string{"demo", "-o", at}, args...), env); status != exitDone {
		t.Fatalf("demo ends with status %d:\n%s", status, out.String())
	}
	played := regexp.MustCompile(`(?m)^played: (\S+)$`).FindStringSubmatch(out.String())
	if len(played) != 2 {
		t.Fatalf("no job was played:\n%s", out.String())
	}
	if status := Main([]string{"--book", filepath.Join(at, "book.db"), "pack", played[1], "-o", bag}, env); status != exitDone {
		t.Fatalf("pack ends with status %d:\n%s", status, out.String())
	}
	return bag
}

// unpacked are the frozen bags that explain themselves, as folders.
func unpacked(t *testing.T) map[string]string {
	t.Helper()
	archives, err := filepath.Glob(filepath.Join(frozen, "*.zip"))
	if err != nil {
		t.Fatal(err)
	}
	out := map[string]string{}
	for _, archive := range archives {
		z, err := zip.OpenReader(archive)
		if err != nil {
			t.Fatal(err)
		}
		defer z.Close()
		top, _, _ := strings.Cut(z.File[0].Name, "/")
		files, err := fs.Sub(z, top)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := fs.Stat(files, "HOW-TO-READ.txt"); err != nil {
			continue // packed before there was any
		}
		dir := filepath.Join(t.TempDir(), "bag")
		if err := os.CopyFS(dir, files); err != nil {
			t.Fatal(err)
		}
		out[archive] = dir
	}
	return out
}
