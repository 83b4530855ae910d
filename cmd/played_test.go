package cmd

import (
	"bytes"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"handback/cmd/session"
	"handback/templates"
	"handback/testdata/outside"
	"handback/testdata/starters"
)

// theDemo is the name of the demo's own job among those that are played; the others have
// that of their starter plan.
const theDemo = "demo"

// playedFolder is a folder that demo made, in memory.
type playedFolder map[string]playedFile // by its path in the folder

type playedFile struct {
	data []byte
	mode fs.FileMode
}

// playedFolders are those made so far, by the names of their jobs: each job is played once
// a run of the tests, for it takes seconds and comes to the same.
var playedFolders = struct {
	sync.Mutex
	of    map[string]playedFolder
	plays int
}{of: map[string]playedFolder{}}

// played is a folder of the test's own with all that demo makes of a job.
func played(t testing.TB, name string) string {
	t.Helper()
	playedFolders.Lock()
	defer playedFolders.Unlock()
	files, ok := playedFolders.of[name]
	if !ok {
		files = playAnew(t, name)
		playedFolders.of[name], playedFolders.plays = files, playedFolders.plays+1
	}
	dir := filepath.Join(t.TempDir(), name)
	for path, f := range files {
		to := filepath.Join(dir, path)
		if err := os.MkdirAll(filepath.Dir(to), 0o700); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(to, f.data, f.mode); err != nil {
			t.Fatal(err)
		}
	}
	return dir
}

// playAnew has demo play a job.
func playAnew(t testing.TB, name string) playedFolder {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "played")
	args := []string{"demo", "-o", dir}
	if name != theDemo {
		plan, err := templates.Plan(name)
		if err != nil {
			t.Fatal(err)
		}
		file := filepath.Join(t.TempDir(), "plan.yaml")
		if err := os.WriteFile(file, starters.FilledIn(plan), 0o644); err != nil {
			t.Fatal(err)
		}
		args = append(args, "--plan", file, "--readings", "../testdata/starters/"+name+".txt")
	}
	var out bytes.Buffer
	env := session.Env{In: strings.NewReader(""), Out: &out, Err: &out, Now: func() time.Time { return time.Time{} }, Program: "handback " + session.Version}
	if status := Main(args, env); status != exitDone {
		t.Fatalf("demo ends with status %d:\n%s", status, out.String())
	}
	files := playedFolder{}
	err := filepath.WalkDir(dir, func(path string, e fs.DirEntry, err error) error {
		if err != nil || e.IsDir() {
			return err
		}
		info, err := e.Info()
		if err != nil {
			return err
		}
		data, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		in, err := filepath.Rel(dir, path)
		files[in] = playedFile{data, info.Mode().Perm()}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return files
}

// Each job is played once, and what a test does to its files reaches no other test.
func TestPlayed_once(t *testing.T) {
	outside.Long(t)
	first := played(t, theDemo)
	before := playedFolders.plays
	for _, file := range []string{"book.db", "handover.xlsx", "handover.html", "session.txt"} {
		if err := os.WriteFile(filepath.Join(first, file), nil, 0o600); err != nil {
			t.Fatal(err)
		}
		data, err := os.ReadFile(filepath.Join(played(t, theDemo), file))
		if err != nil || len(data) == 0 {
			t.Errorf("%s of a second folder has %d bytes: %v", file, len(data), err)
		}
	}
	if playedFolders.plays != before {
		t.Errorf("the demo was played %d times more", playedFolders.plays-before)
	}
}
