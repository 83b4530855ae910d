package records

import (
	"bytes"
	"context"
	"errors"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"

	"handback/records/chain"
)

func TestBook_readBack(t *testing.T) {
	b := makeBook(t)
	first := makeJob(t, b, 2)
	more, err := b.Append(ctx, first.Job, 3, measured(2), measured(3))
	if err != nil {
		t.Fatal(err)
	}
	want := []Job{{ID: "pump-1", Hash: first.Hash, Title: "Return to service", Opened: dawn, Entries: 5, HeadHash: more[1].Hash, Last: measured(3).At, PlanHash: chain.HashPlan(testPlan)}}
	for name, open := range map[string]func(context.Context, string) (*Book, error){"Open": Open, "OpenRead": OpenRead, "OpenOrCreate": OpenOrCreate} {
		t.Run(name, func(t *testing.T) {
			again, err := open(ctx, b.Path())
			if err != nil {
				t.Fatal(err)
			}
			defer again.Close()
			verified(t, again)
			got, err := readAll(again)
			if err != nil {
				t.Fatal(err)
			}
			same(t, want, got.Jobs)
			same(t, testPlan, got.Plans[chain.HashPlan(testPlan)])
			es := got.Entries["pump-1"]
			same(t, append([]chain.Entry{first}, more...), append(es[:1:1], es[3:]...))
			if faults := chain.CheckChain(es); len(faults) != 0 {
				t.Error(faults)
			}
			_, offset := es[4].At.Zone()
			same(t, 5*3600+1800, offset)
		})
	}
}

func TestBook_empty(t *testing.T) {
	b := makeBook(t)
	jobs, err := b.Jobs(ctx)
	if err != nil || jobs == nil || len(jobs) != 0 {
		t.Errorf("got %v %v, want an empty list", jobs, err)
	}
	verified(t, b)
	if _, err := b.Entries(ctx, "pump-1"); !errors.Is(err, ErrNoJob) {
		t.Errorf("Entries: got %v, want ErrNoJob", err)
	}
	if _, err := b.Append(ctx, "pump-1", -1, measured(1)); !errors.Is(err, ErrNoJob) {
		t.Errorf("Append: got %v, want ErrNoJob", err)
	}
	if _, err := b.Plan(ctx, chain.HashPlan(testPlan)); !errors.Is(err, ErrNoPlan) {
		t.Errorf("Plan: got %v, want ErrNoPlan", err)
	}
}

func TestBook_odd_path(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "a#b ?mode=ro&%20ä", "deeper")
	path := filepath.Join(dir, "x?y#z%41.db")
	b, err := Create(ctx, path)
	if err != nil {
		t.Fatal(err)
	}
	makeJob(t, b, 1)
	if err := b.Close(); err != nil {
		t.Fatal(err)
	}
	names, err := os.ReadDir(dir)
	if err != nil || len(names) != 1 || names[0].Name() != filepath.Base(path) {
		t.Fatalf("folder holds %v (%v), want the book alone", names, err)
	}
	if runtime.GOOS == "windows" {
		return
	}
	file, _ := os.Stat(path)
	folder, _ := os.Stat(dir)
	if file.Mode().Perm() != 0o600 || folder.Mode().Perm() != 0o700 {
		t.Errorf("modes %v and %v, want 0600 and 0700", file.Mode(), folder.Mode())
	}
	link := filepath.Join(t.TempDir(), "link.db")
	if err := os.Symlink(path, link); err != nil {
		t.Fatal(err)
	}
	l, err := Open(ctx, link)
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	verified(t, l)
	if _, err := os.Stat(path + "-wal"); err != nil {
		t.Errorf("side files are not beside the book itself: %v", err)
	}
}

// What is not a book of ours must be refused by every way in, in words, and stay as
// it is to the last byte.
func TestBook_foreign(t *testing.T) {
	dir := t.TempDir()
	write := func(name string, content []byte) string {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, content, 0o600); err != nil {
			t.Fatal(err)
		}
		return path
	}
	other := write("other.db", nil)
	db := raw(t, other)
	mustExec(t, db, "PRAGMA journal_mode = WAL; CREATE TABLE customers (name TEXT)")
	db.Close()
	newer := makeBook(t)
	makeJob(t, newer, 1)
	newer.Close()
	db = raw(t, newer.Path())
	mustExec(t, db, "PRAGMA user_version = 99")
	db.Close()
	zero := makeBook(t)
	zero.Close()
	db = raw(t, zero.Path())
	mustExec(t, db, "PRAGMA user_version = 0")
	db.Close()
	cases := []struct {
		name, path string
		want       error
		words      string
	}{
		{"another program's", other, ErrForeign, "another program"},
		{"text", write("notes.txt", []byte(strings.Repeat("readings ", 50))), ErrForeign, "other kind of file"},
		{"short text", write("short.txt", []byte("x")), ErrForeign, "other kind of file"},
		{"magic alone", write("magic.db", []byte("SQLite format 3\x00")), ErrForeign, "other kind of file"},
		{"empty", write("empty.db", nil), ErrForeign, "empty"},
		{"folder", dir, ErrForeign, "folder"},
		{"newer", newer.Path(), chain.ErrNewer, "version is 99"},
		{"version 0", zero.Path(), ErrDamaged, "version is 0"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			before, _ := os.ReadFile(c.path)
			beside, _ := os.ReadDir(filepath.Dir(c.path))
			for name, open := range map[string]func(context.Context, string) (*Book, error){"Create": Create, "Open": Open, "OpenRead": OpenRead, "OpenOrCreate": OpenOrCreate} {
				b, err := open(ctx, c.path)
				if b != nil || !errors.Is(err, c.want) || !strings.Contains(err.Error(), c.words) || !strings.Contains(err.Error(), c.path) {
					t.Errorf("%s: got %v, want %v with path and %q", name, err, c.want, c.words)
				}
			}
			after, _ := os.ReadFile(c.path)
			if !bytes.Equal(before, after) {
				t.Error("the file was changed")
			}
			now, _ := os.ReadDir(filepath.Dir(c.path))
			if len(now) != len(beside) {
				t.Errorf("files were left beside it: %v", now)
			}
		})
	}
}

// A file of marks without content: the header alone must not be enough.
func TestBook_header_only(t *testing.T) {
	b := makeBook(t)
	b.Close()
	content, err := os.ReadFile(b.Path())
	if err != nil {
		t.Fatal(err)
	}
	clear(content[100:])
	path := filepath.Join(t.TempDir(), "book.db")
	if err := os.WriteFile(path, content, 0o600); err != nil {
		t.Fatal(err)
	}
	r, err := OpenRead(ctx, path)
	if err != nil {
		return
	}
	defer r.Close()
	if len(verify(t, r)) == 0 {
		t.Error("no fault in a book without content")
	}
}

func TestBook_missing(t *testing.T) {
	path := filepath.Join(t.TempDir(), "none", "book.db")
	for name, open := range map[string]func(context.Context, string) (*Book, error){"Open": Open, "OpenRead": OpenRead} {
		if _, err := open(ctx, path); !errors.Is(err, ErrNoBook) || !strings.Contains(err.Error(), path) {
			t.Errorf("%s: got %v, want ErrNoBook with the path", name, err)
		}
	}
	if _, err := os.Stat(filepath.Dir(path)); err == nil {
		t.Error("a mistyped path made a folder")
	}
	b, err := OpenOrCreate(ctx, path)
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	if _, err := Create(ctx, path); !errors.Is(err, ErrExists) {
		t.Errorf("Create over a book: got %v, want ErrExists", err)
	}
}

func TestBook_reading_writes_nothing(t *testing.T) {
	w := makeBook(t)
	job := makeJob(t, w, 3).Job
	w.Close()
	before, _ := os.ReadFile(w.Path())
	r, err := OpenRead(ctx, w.Path())
	if err != nil {
		t.Fatal(err)
	}
	if _, err := r.Append(ctx, job, -1, measured(1)); !errors.Is(err, ErrReadOnly) {
		t.Errorf("Append: got %v, want ErrReadOnly", err)
	}
	if _, err := r.NewJob(ctx, "x", opened(""), testPlan, testNonce); !errors.Is(err, ErrReadOnly) {
		t.Errorf("NewJob: got %v, want ErrReadOnly", err)
	}
	if _, err := r.db.Exec("DROP TABLE entries"); err == nil {
		t.Error("the connection itself lets a table go")
	}
	verified(t, r)
	if _, err := readAll(r); err != nil {
		t.Error(err)
	}
	if err := r.Close(); err != nil {
		t.Fatal(err)
	}
	after, _ := os.ReadFile(w.Path())
	if !bytes.Equal(before, after) {
		t.Error("reading changed the file")
	}
	if names, _ := os.ReadDir(filepath.Dir(w.Path())); len(names) != 1 {
		t.Errorf("reading left files behind: %v", names)
	}
}

// Every setting in the name is read back; here it is shown that reading back can fail.
func TestBook_settings_read_back(t *testing.T) {
	b := makeBook(t)
	for _, pragma := range []string{"busy_timeout = 1", "foreign_keys = 0", "synchronous = 1", "recursive_triggers = 0", "trusted_schema = 1", "cell_size_check = 0", "fullfsync = 0", "checkpoint_fullfsync = 0", "query_only = 1"} {
		name, _, _ := strings.Cut(pragma, " ")
		var was string
		if err := b.db.QueryRow("PRAGMA " + name).Scan(&was); err != nil {
			t.Fatal(err)
		}
		mustExec(t, b.db, "PRAGMA "+pragma)
		if err := settings(ctx, b.db, b.path, b.how); !errors.Is(err, ErrDamaged) || !strings.Contains(err.Error(), name) {
			t.Errorf("%s: got %v, want it named", pragma, err)
		}
		if faults := verify(t, b); len(faults) != 1 {
			t.Errorf("%s: Verify found %v, want one fault", pragma, faults)
		}
		mustExec(t, b.db, "PRAGMA "+name+" = "+was)
	}
	verified(t, b)
}

// The folders of a server that Windows names //server/share go to SQLite behind an empty
// authority (https://www.sqlite.org/uri.html, 3.1: the authority is empty or localhost), a
// drive behind a slash.
func TestDataSource_windows(t *testing.T) {
	for path, want := range map[string]string{
		"//server/share/b 1.db": "file:////server/share/b%201.db?", "C:/jobs/b.db": "file:/C:/jobs/b.db?", "/jobs/b.db": "file:/jobs/b.db?",
	} {
		if got := dataSource(path, access{}); !strings.HasPrefix(got, want) {
			t.Errorf("%s: %s, want %s…", path, got, want)
		}
	}
}
