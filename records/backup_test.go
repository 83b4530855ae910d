package records

import (
	"bufio"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"

	"handback/testdata/outside"
)

// copyFile does what a person does with a file manager.
func copyFile(t testing.TB, from, to string) {
	t.Helper()
	data, err := os.ReadFile(from)
	if err == nil {
		err = os.WriteFile(to, data, 0o600)
	}
	if err != nil {
		t.Fatal(err)
	}
}

// killedWriter is a closed book with one job and what a killed writer left beside it:
// its newest entries are in the log alone. last is the seq it was told is kept.
func killedWriter(t *testing.T, dir string) (path, job string, last int) {
	t.Helper()
	path = filepath.Join(dir, "book.db")
	b, err := Create(ctx, path)
	if err != nil {
		t.Fatal(err)
	}
	job = makeJob(t, b, 2).Job
	if err := b.Close(); err != nil {
		t.Fatal(err)
	}
	c := child(t, "forever", path, job)
	out, err := c.StdoutPipe()
	if err == nil {
		err = c.Start()
	}
	if err != nil {
		t.Fatal(err)
	}
	lines := bufio.NewScanner(out)
	for n := 0; n < 5 && lines.Scan(); n++ {
		last = 0
		for _, r := range strings.Fields(lines.Text())[0] {
			last = last*10 + int(r-'0')
		}
	}
	c.Process.Kill()
	c.Wait()
	if info, err := os.Stat(path + "-wal"); err != nil || info.Size() <= logHeader || last < 8 {
		t.Fatalf("the writer left no log behind it, or kept only %d entries: %v", last, err)
	}
	return path, job, last
}

func allOf(t testing.TB, path string) content {
	t.Helper()
	b, err := OpenRead(ctx, path)
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	verified(t, b)
	c, err := readAll(b)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// A copy of the file alone lacks what a killed writer had kept; a backup holds it.
func TestBackup_afterKill(t *testing.T) {
	path, job, last := killedWriter(t, t.TempDir())
	to := filepath.Join(t.TempDir(), "copy.db")
	b, err := OpenRead(ctx, path)
	if err != nil {
		t.Fatal(err)
	}
	c, err := b.Backup(ctx, to)
	if err != nil {
		t.Fatal(err)
	}
	if c.Jobs != 1 || c.Entries < last {
		t.Errorf("%+v, want at least %d entries of 1 job", c, last)
	}
	want, err := readAll(b)
	if err != nil {
		t.Fatal(err)
	}
	b.Close()
	same(t, want, allOf(t, to))
	if got := len(want.Entries[job]); got < last {
		t.Errorf("%d entries are there, %d were kept", got, last)
	}
	info, err := os.Stat(to)
	if err != nil || runtime.GOOS != "windows" && info.Mode().Perm() != 0o600 {
		t.Errorf("mode %v, %v", info.Mode(), err)
	}
	if left, _ := filepath.Glob(filepath.Join(filepath.Dir(to), "*")); len(left) != 1 {
		t.Errorf("beside the copy lie %v", left)
	}
}

// A backup replaces nothing, not even a link that leads nowhere.
func TestBackup_occupied(t *testing.T) {
	b := makeBook(t)
	makeJob(t, b, 1)
	dir := t.TempDir()
	to := filepath.Join(dir, "copy.db")
	if err := os.WriteFile(to, []byte("something"), 0o600); err != nil {
		t.Fatal(err)
	}
	link := filepath.Join(dir, "link.db")
	if err := os.Symlink(filepath.Join(dir, "nowhere"), link); err != nil {
		t.Skip(err)
	}
	for _, path := range []string{to, link, b.Path(), dir} {
		if _, err := b.Backup(ctx, path); !errors.Is(err, fs.ErrExist) {
			t.Errorf("%s: %v", path, err)
		}
	}
	if data, err := os.ReadFile(to); err != nil || string(data) != "something" {
		t.Errorf("%q, %v", data, err)
	}
	verified(t, b)
}

// Other programs go on writing while a backup is made: it is whole at some moment.
func TestBackup_whileWriting(t *testing.T) {
	b := makeBook(t)
	job := makeJob(t, b, 0).Job
	c := child(t, "append", b.Path(), job, "other", "150")
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	seen := 0
	for n := range 8 {
		to := filepath.Join(dir, string(rune('a'+n))+".db")
		copied, err := b.Backup(ctx, to)
		if err != nil {
			t.Fatal(err)
		}
		if got := len(allOf(t, to).Entries[job]); got != copied.Entries || got < seen {
			t.Errorf("copy %d holds %d entries, %d were told, %d were in the one before", n, got, copied.Entries, seen)
		}
		seen = copied.Entries
	}
	if err := c.Wait(); err != nil {
		t.Fatal(err)
	}
	verified(t, b)
}

// A log that another book, or an older state of the same, left there does not win
// over the book that was copied in.
func TestOpen_strayLog(t *testing.T) {
	other := func(t *testing.T, _ string) string {
		b := makeBook(t)
		makeJob(t, b, 7)
		b.Close()
		return b.Path()
	}
	newer := func(t *testing.T, path string) string { // the same book, gone on elsewhere from a good copy
		b, err := OpenRead(ctx, path)
		if err != nil {
			t.Fatal(err)
		}
		to := filepath.Join(t.TempDir(), "newer.db")
		if _, err := b.Backup(ctx, to); err != nil {
			t.Fatal(err)
		}
		b.Close()
		if b, err = Open(ctx, to); err != nil {
			t.Fatal(err)
		}
		if _, err := b.Append(ctx, "pump-1", -1, measured(99)); err != nil {
			t.Fatal(err)
		}
		b.Close()
		return to
	}
	for name, make := range map[string]func(*testing.T, string) string{"another book": other, "newer state": newer} {
		t.Run(name, func(t *testing.T) {
			dir := t.TempDir()
			path, _, _ := killedWriter(t, dir)
			from := make(t, path)
			if name == "newer state" { // looking at it has moved nothing of the log
				dir = t.TempDir()
				path, _, _ = killedWriter(t, dir)
			}
			want := allOf(t, from)
			copyFile(t, from, path)
			image, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			log, err := os.ReadFile(path + "-wal")
			if err != nil {
				t.Fatal(err)
			}
			for _, open := range []func() (*Book, error){
				func() (*Book, error) { return OpenRead(ctx, path) }, func() (*Book, error) { return Open(ctx, path) },
			} {
				b, err := open()
				if err == nil {
					b.Close()
				}
				if !errors.Is(err, ErrStray) || !strings.Contains(err.Error(), path+"-wal and "+path+"-shm") {
					t.Fatalf("it opens, or does not say what to do: %v", err)
				}
			}
			if now, err := os.ReadFile(path); err != nil || string(now) != string(image) {
				t.Fatalf("looking changed the file: %v", err)
			}
			if now, err := os.ReadFile(path + "-wal"); err != nil || string(now) != string(log) {
				t.Fatalf("looking changed the log: %v", err)
			}
			for _, side := range []string{"-wal", "-shm"} { // what the error says to do
				if err := os.Rename(path+side, path+".away"+side); err != nil {
					t.Fatal(err)
				}
			}
			same(t, want, allOf(t, path))
		})
	}
}

// A log that is the book's own counts, at whatever moment moving it into the file was
// cut off.
func TestOpen_ownLog(t *testing.T) {
	path, job, last := killedWriter(t, t.TempDir())
	before, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	log, err := os.ReadFile(path + "-wal")
	if err != nil {
		t.Fatal(err)
	}
	b, err := Open(ctx, path) // as the last one out it moves the log into the file
	if err != nil {
		t.Fatal(err)
	}
	b.Close()
	after, err := os.ReadFile(path)
	if err != nil || len(after) < len(before) || string(after) == string(before) {
		t.Fatalf("nothing was moved into the file, %d bytes: %v", len(after), err)
	}
	const page = 4096
	for from := 0; from < len(after); from += page { // pages come to the disk in any order
		for _, to := range []int{from + page, len(after)} {
			half := append(append([]byte{}, before...), make([]byte, len(after)-len(before))...)
			copy(half[from:to], after[from:to])
			for name, data := range map[string][]byte{path: half, path + "-wal": log} {
				if err := os.WriteFile(name, data, 0o600); err != nil {
					t.Fatal(err)
				}
			}
			os.Remove(path + "-shm")
			if got := len(allOf(t, path).Entries[job]); got < last {
				t.Fatalf("pages %d to %d moved: %d entries, %d were kept", from/page, to/page, got, last)
			}
		}
	}
}

// What restoring does to each state of the book it is to replace.
func TestRestore(t *testing.T) {
	now := time.Date(2026, 5, 12, 9, 0, 0, 0, time.UTC)
	made := func(t *testing.T, readings int) (book, copied string) {
		b := makeBook(t)
		makeJob(t, b, readings)
		copied = filepath.Join(t.TempDir(), "copy.db")
		if _, err := b.Backup(ctx, copied); err != nil {
			t.Fatal(err)
		}
		b.Close()
		return b.Path(), copied
	}
	grow := func(t *testing.T, path string) {
		b, err := Open(ctx, path)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := b.Append(ctx, "pump-1", -1, measured(50)); err != nil {
			t.Fatal(err)
		}
		b.Close()
	}
	restored := func(t *testing.T, from, path, kept string, force bool) Restored {
		t.Helper()
		want := allOf(t, from)
		r, err := Restore(ctx, from, path, force, now)
		if err != nil {
			t.Fatal(err)
		}
		if r.Kept != kept || r.Book != path || r.Jobs != len(want.Jobs) {
			t.Errorf("%+v, want it kept as %q", r, kept)
		}
		same(t, want, allOf(t, path))
		return r
	}
	keptName := func(path string) string { return strings.TrimSuffix(path, ".db") + ".replaced-20260512-090000.db" }
	refused := func(t *testing.T, from, path string, force bool, want error) {
		t.Helper()
		before, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := Restore(ctx, from, path, force, now); !errors.Is(err, want) {
			t.Errorf("%v, want %v", err, want)
		}
		if after, err := os.ReadFile(path); err != nil || string(after) != string(before) {
			t.Errorf("it was changed all the same: %v", err)
		}
	}

	t.Run("none there", func(t *testing.T) {
		_, from := made(t, 3)
		restored(t, from, filepath.Join(t.TempDir(), "new", "book.db"), "", false)
	})
	t.Run("the copy holds all", func(t *testing.T) {
		path, from := made(t, 3)
		grow(t, from)
		restored(t, from, path, "", false)
	})
	t.Run("the copy lacks an entry", func(t *testing.T) {
		path, from := made(t, 3)
		grow(t, path)
		refused(t, from, path, false, ErrLacks)
		was := allOf(t, path)
		restored(t, from, path, keptName(path), true)
		same(t, was, allOf(t, keptName(path)))
		grow(t, path)
		was = allOf(t, path)
		restored(t, from, path, strings.TrimSuffix(keptName(path), ".db")+"-2.db", true)
		same(t, was, allOf(t, strings.TrimSuffix(keptName(path), ".db")+"-2.db"))
	})
	t.Run("the copy goes on otherwise", func(t *testing.T) {
		path, from := made(t, 3)
		grow(t, path)
		grow(t, from)
		b, err := Open(ctx, from)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := b.Append(ctx, "pump-1", -1, measured(51)); err != nil {
			t.Fatal(err)
		}
		b.Close()
		parted, _ := made(t, 5) // one job by nonce and time, other readings from the fifth on
		refused(t, from, parted, false, ErrLacks)
		restored(t, from, path, "", false)
	})
	t.Run("damaged", func(t *testing.T) {
		path, from := made(t, 3)
		data, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, data[:4096], 0o600); err != nil {
			t.Fatal(err)
		}
		refused(t, from, path, false, ErrDamaged)
		restored(t, from, path, keptName(path), true)
		if kept, err := os.ReadFile(keptName(path)); err != nil || string(kept) != string(data[:4096]) {
			t.Errorf("the damaged book was not kept: %v", err)
		}
	})
	t.Run("with the log of another", func(t *testing.T) {
		path, _, _ := killedWriter(t, t.TempDir())
		book, from := made(t, 3)
		copyFile(t, book, path)
		refused(t, from, path, false, ErrStray)
		restored(t, from, path, keptName(path), true)
		if _, err := os.Stat(keptName(path) + "-wal"); err != nil {
			t.Errorf("its log was not kept: %v", err)
		}
	})
	t.Run("with a dead log of its own", func(t *testing.T) {
		path, job, last := killedWriter(t, t.TempDir())
		_, from := made(t, 3)
		was := len(allOf(t, path).Entries[job])
		restored(t, from, path, keptName(path), true)
		if kept := len(allOf(t, keptName(path)).Entries[job]); kept < last || kept != was {
			t.Errorf("%d entries are kept, there were %d", kept, was)
		}
	})
	t.Run("no book", func(t *testing.T) {
		path, from := made(t, 3)
		if err := os.WriteFile(path, []byte(strings.Repeat("a plan, not a book\n", 20)), 0o600); err != nil {
			t.Fatal(err)
		}
		refused(t, from, path, true, ErrForeign)
	})
	t.Run("itself", func(t *testing.T) {
		path, _ := made(t, 3)
		if _, err := Restore(ctx, path, path, true, now); err == nil || !strings.Contains(err.Error(), "it is the record book itself") {
			t.Errorf("%v", err)
		}
	})
	t.Run("open elsewhere", func(t *testing.T) {
		outside.Long(t) // Restore waits for the other to close it
		path, from := made(t, 3)
		b, err := OpenRead(ctx, path)
		if err != nil {
			t.Fatal(err)
		}
		defer b.Close()
		if _, err := b.Jobs(ctx); err != nil {
			t.Fatal(err)
		}
		refused(t, from, path, true, ErrBusy)
	})
}
