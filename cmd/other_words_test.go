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

	"handback/cmd/session"
	"handback/testdata/outside"
)

// sentence is where the words of a code begin; what a kind's block says of the kind as
// a whole are no words of a finding.
var sentence = regexp.MustCompile(`\{\{-? *define "([^"]+)" *-?\}\}`)

// otherWords builds the program with every sentence of the catalogue changed, and with a
// workbook of other sheets, rows and looks.
func otherWords(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	replace, changed := map[string]string{}, 0
	for _, pattern := range []string{"../templates/said/*.tmpl", "../templates/kinds/*.tmpl", "../templates/plant/*.tmpl"} {
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
	for _, c := range []struct{ file, was, is string }{
		{"workbook", "[]*grid.Sheet{cert}, tests,", "[]*grid.Sheet{cert, b.more()}, tests,"},
		{"annex", "// method says once", `func (b *book) more() *grid.Sheet {
	more := b.Sheet("More")
	more.Widths = []float64{30}
	more.Add(grid.At(1, "a sheet of another version", grid.FaceText))
	return more
}

// method says once`},
		{"group", "	t := &table{b: b, s: s, p: p, a: a, first", `	s.Add(grid.Across(1, colPrinted, "a row in another look", grid.FaceStop))
	t := &table{b: b, s: s, p: p, a: a, first`},
	} {
		path, err := filepath.Abs(filepath.Join("..", "report", "workbook", c.file+".go"))
		if err != nil {
			t.Fatal(err)
		}
		data, err := os.ReadFile(path)
		if err != nil || bytes.Count(data, []byte(c.was)) != 1 {
			t.Fatalf("%s: %v: %q stands there otherwise now", path, err, c.was)
		}
		replace[path] = filepath.Join(dir, c.file+".go")
		if err := os.WriteFile(replace[path], bytes.Replace(data, []byte(c.was), []byte(c.is), 1), 0o600); err != nil {
			t.Fatal(err)
		}
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
	outside.Long(t)
	other, ours := otherWords(t), buildProgram(t, t.TempDir(), "handback", "handback/cmd/handback")
	dir := t.TempDir()
	demo, bag := filepath.Join(dir, "demo"), filepath.Join(dir, "job.zip")
	book := filepath.Join(demo, "book.db")
	for _, words := range [][]string{{"demo", "-o", demo}, {"--book", book, "pack", "t2-return-1", "-o", bag}} {
		if talk, err := exec.Command(ours, words...).CombinedOutput(); err != nil {
			t.Fatalf("%v\n%s", err, talk)
		}
	}
	verifies(t, other, book, "t2-return-1", bag, filepath.Join(demo, "handover.xlsx"))
	old := t.TempDir()
	if err := os.CopyFS(old, os.DirFS(frozen)); err != nil {
		t.Fatal(err)
	}
	for _, program := range []string{ours, other} {
		for _, bag := range []string{"job.zip", "explained.zip"} {
			verifies(t, program, filepath.Join(old, "book.db"), "pump-1", filepath.Join(old, bag), filepath.Join(old, "handover.xlsx"))
		}
	}
	shown, err := exec.Command(other, "--book", book, "flags", "t2-return-1").Output()
	if err != nil || !bytes.Contains(shown, []byte("0.915")) || bytes.Contains(shown, []byte("OTHERWISE")) {
		t.Errorf("flags: %v\n%s", err, shown)
	}
	tried := exec.Command(other, "try", "rotation", "-")
	tried.Stdin = strings.NewReader(play(t, "", "kinds", "rotation", "--example").out)
	if out, err := tried.CombinedOutput(); err != nil || !bytes.Contains(out, []byte("OTHERWISE PUT")) {
		t.Errorf("the words were not changed: %v\n%s", err, out)
	}
}

// frozen holds the book of a signed job with its bag and workbook, as an earlier program
// made them.
const frozen = "../testdata/frozen"

// verifies has a program verify a job, its book, its bag and its workbook. Nothing is
// amiss; wording that it would write otherwise, and what explains the record, is not
// compared, and that is said.
func verifies(t *testing.T, program, book, job, bag, workbook string) {
	t.Helper()
	for _, words := range [][]string{{"--book", book, "verify", job}, {"--book", book, "doctor"}, {"verify", bag}, {"--book", book, "verify", workbook}} {
		run := exec.Command(program, words...)
		said, _ := run.CombinedOutput()
		got, partly := run.ProcessState.ExitCode(), bytes.Contains(said, []byte("not compared: wording of ")) || bytes.Contains(said, []byte("explains the record otherwise"))
		if got != exitDone && !(got == session.ExitPartly && partly && words[0] == "verify") || bytes.Contains(said, []byte("FAULT")) {
			t.Errorf("%s ends with %d\n%s", strings.Join(words, " "), got, said)
		}
	}
}

// The frozen job is made once, where there is none, with -update.
func TestFrozen_made(t *testing.T) {
	if _, err := os.Stat(frozen); err == nil || !*update {
		if err != nil {
			t.Fatal(err)
		}
		return
	}
	book, job := keyedJob(t)
	dir := filepath.Dir(book)
	picture := filepath.Join(dir, "cover.txt")
	if err := os.WriteFile(picture, []byte("a note of the invented station\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, words := range [][]string{
		{"attach", job, "cover.txt", "--caption", "a note"},
		{"sign", job, "--as", "technician", "--key", "keys/ada", "--yes"},
		{"sign", job, "--as", "engineer", "--key", "keys/ben", "--yes", "--name-stops"},
		{"pack", job, "-o", "job.zip"},
	} {
		runs(t, exitDone, program(book, append([]string{"handback"}, words...)...))
	}
	run := program(book, "handback", "handover", job, "-o", "handover.xlsx")
	if out, err := run.CombinedOutput(); run.ProcessState.ExitCode() != exitDone {
		t.Fatalf("%v\n%s", err, out)
	}
	runs(t, exitDone, program(book, "handback", "backup", "frozen.db"))
	if err := os.Mkdir(frozen, 0o755); err != nil {
		t.Fatal(err)
	}
	for from, to := range map[string]string{"frozen.db": "book.db", "job.zip": "job.zip", "handover.xlsx": "handover.xlsx"} {
		data, err := os.ReadFile(filepath.Join(dir, from))
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(frozen, to), data, 0o644); err != nil {
			t.Fatal(err)
		}
	}
}

// So is a frozen bag that explains itself, of a job that nobody signed.
func TestFrozen_explained(t *testing.T) {
	to := filepath.Join(frozen, "explained.zip")
	if _, err := os.Stat(to); err == nil || !*update {
		if err != nil {
			t.Fatal(err)
		}
		return
	}
	book, job := keyedJob(t)
	runs(t, exitDone, program(book, "handback", "attach", job, "dead.txt", "--caption", "what was typed"))
	runs(t, exitDone, program(book, "handback", "pack", job, "-o", "explained.zip"))
	data, err := os.ReadFile(filepath.Join(filepath.Dir(book), "explained.zip"))
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(to, data, 0o644); err != nil {
		t.Fatal(err)
	}
}
