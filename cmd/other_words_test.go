package cmd

import (
	"bytes"
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// sentence is where the words of a code begin; what a kind's block says of the kind as
// a whole are no words of a finding.
var sentence = regexp.MustCompile(`\{\{-? *define "([^"]+)" *-?\}\}`)

// otherWords builds the program with every sentence of the catalogue changed.
func otherWords(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	replace, changed := map[string]string{}, 0
	for _, pattern := range []string{"../templates/said/*.tmpl", "../templates/kinds/*.tmpl"} {
		files, err := filepath.Glob(pattern)
		if err != nil || len(files) == 0 {
			t.Fatalf("%s: %v %v", pattern, files, err)
		}
		for _, file := range files {
			data, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			other := sentence.ReplaceAllStringFunc(string(data), func(opening string) string {
				switch sentence.FindStringSubmatch(opening)[1] {
				case "shows", "how", "trial":
					return opening
				}
				changed++
				return opening + "OTHERWISE PUT: "
			})
			path, err := filepath.Abs(file)
			if err != nil {
				t.Fatal(err)
			}
			replace[path] = filepath.Join(dir, filepath.Base(filepath.Dir(file))+"-"+filepath.Base(file))
			if err := os.WriteFile(replace[path], []byte(other), 0o600); err != nil {
				t.Fatal(err)
			}
		}
	}
	if changed < 40 {
		t.Fatalf("%d sentences were changed: they begin otherwise now", changed)
	}
	overlay, err := json.Marshal(map[string]any{"Replace": replace})
	if err != nil {
		t.Fatal(err)
	}
	list, out := filepath.Join(dir, "overlay.json"), filepath.Join(dir, "handback")
	if err := os.WriteFile(list, overlay, 0o600); err != nil {
		t.Fatal(err)
	}
	build := exec.Command("go", "build", "-overlay", list, "-o", out, "handback/cmd/handback")
	build.Env = append(os.Environ(), "CGO_ENABLED=0")
	if talk, err := build.CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, talk)
	}
	return out
}

// A program that words everything otherwise finds nothing amiss in what was recorded,
// packed and handed over before, and shows the words that were recorded.
func TestOtherWords(t *testing.T) {
	if testing.Short() {
		t.Skip("builds the program anew")
	}
	other, ours := otherWords(t), buildProgram(t, t.TempDir(), "handback", "handback/cmd/handback")
	dir := t.TempDir()
	demo, bag := filepath.Join(dir, "demo"), filepath.Join(dir, "job.zip")
	book := filepath.Join(demo, "book.db")
	for _, words := range [][]string{{"demo", "-o", demo}, {"--book", book, "archive", "pack", "t2-return-1", "-o", bag}} {
		if talk, err := exec.Command(ours, words...).CombinedOutput(); err != nil {
			t.Fatalf("%v\n%s", err, talk)
		}
	}
	for _, c := range []struct {
		words []string
		ends  int // with exitPartly where wording is not compared, and said so
	}{
		{[]string{"--book", book, "verify", "t2-return-1"}, exitDone},
		{[]string{"--book", book, "doctor"}, exitDone},
		{[]string{"verify", bag}, exitPartly},
		{[]string{"--book", book, "verify", filepath.Join(demo, "handover.xlsx")}, exitDone},
	} {
		run := exec.Command(other, c.words...)
		said, _ := run.CombinedOutput()
		if got := run.ProcessState.ExitCode(); got != c.ends || bytes.Contains(said, []byte("FAULT")) {
			t.Errorf("%s ends with %d, want %d\n%s", strings.Join(c.words, " "), got, c.ends, said)
		}
	}
	shown, err := exec.Command(other, "--book", book, "flags", "t2-return-1").Output()
	if err != nil || !bytes.Contains(shown, []byte("0.654")) || bytes.Contains(shown, []byte("OTHERWISE")) {
		t.Errorf("flags: %v\n%s", err, shown)
	}
	tried := exec.Command(other, "try", "rotation", "-")
	tried.Stdin = strings.NewReader(play(t, "", "kinds", "rotation", "--example").out)
	if out, err := tried.CombinedOutput(); err != nil || !bytes.Contains(out, []byte("OTHERWISE PUT")) {
		t.Errorf("the words were not changed: %v\n%s", err, out)
	}
}
