package session

import (
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"handback/records/chain"
	"handback/testdata/rig"
)

// What replay would name no command stores: every forgery goes through a session as a
// command would send it, and nothing of it reaches the book.
func TestCommit_rules(t *testing.T) {
	for _, f := range rig.Forgeries() {
		forged := f.Open(t)
		before := len(forged.Job().Entries)
		f.Put(forged)
		r := f.Open(t)
		s := &Session{Env: &Env{Now: func() time.Time { return r.Now }, Err: &strings.Builder{}}, Book: r.Book}
		if err := s.Load(rig.Ctx, r.ID); err != nil {
			t.Fatal(err)
		}
		var drafts []chain.Draft
		for _, e := range forged.Job().Entries[before:] {
			s.By = e.By
			d := chain.Draft{At: e.At, Kind: e.Kind, Check: e.Check, Data: e.Data}
			if a, err := chain.ReadAttached(e); err == nil && e.Kind == chain.KindAttach {
				if d.File, err = forged.Book.File(rig.Ctx, a.SHA256); err != nil {
					t.Fatal(err)
				}
			}
			drafts = append(drafts, d)
		}
		err := s.Add(rig.Ctx, drafts...)
		if err == nil || !strings.Contains(err.Error(), f.Words) {
			t.Errorf("%s: a session says %v, want %q", f.Rule, err, f.Words)
		}
		if n := len(r.Job().Entries); n != before {
			t.Errorf("%s: %d entries reached the book", f.Rule, n-before)
		}
	}
}

// Commit is the only way of a command into a job's record, and holds it against the rules
// first: a rule that a command has for itself alone would let its entry be forged, and one
// that replay has for itself alone would let a command write what verify refuses.
func TestCommit_onlyWay(t *testing.T) {
	var writers []string
	err := filepath.WalkDir("..", func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || filepath.Ext(path) != ".go" || strings.HasSuffix(path, "_test.go") {
			return err
		}
		text, err := os.ReadFile(path)
		for range strings.Count(string(text), ".Append(") {
			writers = append(writers, filepath.Base(path))
		}
		return err
	})
	if err != nil || len(writers) != 1 || writers[0] != "stage.go" {
		t.Fatalf("entries are written in %q, want in stage.go alone (%v)", writers, err)
	}
	text, err := os.ReadFile("stage.go")
	if err != nil {
		t.Fatal(err)
	}
	_, commit, _ := strings.Cut(string(text), "func (s *Session) Commit(")
	held, write := strings.Index(commit, "s.Job.BreachesSince(s.seen)"), strings.Index(commit, "s.Book.Append(")
	if held < 0 || write < held {
		t.Error("Commit writes before it holds what is staged against the rules")
	}
}
