package cmd

import (
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"handback/testdata/outside"
)

// killedWalk is a job whose walk was killed: its newest readings are in the log beside
// the book. said are those that the walk said are kept.
func killedWalk(t *testing.T, n *numbers) (book, job string, said []string) {
	t.Helper()
	book, job = newJob(t, longPlan(3, 4))
	c := onPipes(t, program(book, "handback", "walk", job))
	for range 7 {
		if !n.answer(c) {
			t.Fatal("the walk ended early")
		}
	}
	if _, ok := c.asks(); !ok {
		t.Fatal("the walk ended early")
	}
	c.cmd.Process.Kill()
	_, text := c.all()
	if said = keptIn(text); len(said) < 4 {
		t.Fatalf("only %v are said to be kept:\n%s", said, text)
	}
	return book, job, said
}

// After a kill -9 a backup holds every line that was said to be kept, though the file
// of the book does not; what is restored from it holds them too.
func TestBackup_walkKilled(t *testing.T) {
	t.Parallel()
	book, job, said := killedWalk(t, &numbers{})
	dir := filepath.Dir(book)
	copied, file := filepath.Join(dir, "copy.db"), filepath.Join(t.TempDir(), "book.db")
	image, err := os.ReadFile(book)
	if err != nil {
		t.Fatal(err)
	}
	writeBook(t, file, image, nil) // what copying the file alone gives
	if left := inBook(t, file, job); len(left) >= len(said) {
		t.Fatalf("the file alone holds %v: the log is not where the newest lines are", left)
	}
	demands(t, exitDone, book, "backup", copied)
	sound(t, copied)
	readingsAre(t, copied, job, inBook(t, book, job))
	if got := inBook(t, copied, job); !slices.Equal(got[:min(len(got), len(said))], said) {
		t.Errorf("said to be kept were %v, the backup holds %v", said, got)
	}
	demands(t, exitDone, file, "restore", copied)
	readingsAre(t, file, job, inBook(t, book, job))
	sound(t, file)
	sound(t, book)
}

// A book that is copied over one whose log is left by a killed walk is not opened with
// that log; the way out that is told works.
func TestBook_copiedOverDeadLog(t *testing.T) {
	t.Parallel()
	book, _, _ := killedWalk(t, &numbers{})
	other, job := newJob(t, longPlan(1, 2))
	demands(t, exitDone, other, "enter", job, "c1", "meter=dmm", "p1=231", "p2=232")
	image, err := os.ReadFile(other)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(book, image, 0o600); err != nil {
		t.Fatal(err)
	}
	for _, args := range [][]string{{"jobs"}, {"doctor"}, {"verify", job}, {"enter", job, "c1", "p1=1", "--repeat", "once more"}, {"backup", book + ".copy"}} {
		if text := demands(t, exitIntegrity, book, args...); !strings.Contains(text, "the log beside it is not its own") || !strings.Contains(text, book+"-wal and "+book+"-shm") {
			t.Errorf("%v does not say what is wrong and what to do:\n%s", args, text)
		}
	}
	for _, side := range []string{"-wal", "-shm"} {
		if err := os.Rename(book+side, filepath.Join(t.TempDir(), "away"+side)); err != nil {
			t.Fatal(err)
		}
	}
	readingsAre(t, book, job, []string{"231", "232"})
	sound(t, book)
}

// inTheMaking demands that beside these files lies nothing but a book in the making,
// which it takes away; it tells how many there were.
func inTheMaking(t *testing.T, dir string, known func(name string) bool) (parts int) {
	t.Helper()
	for _, name := range namesIn(t, dir) {
		switch {
		case strings.HasPrefix(name, ".new-book-"):
			if err := os.Remove(filepath.Join(dir, name)); err != nil {
				t.Fatal(err)
			}
			parts++
		case !known(name) && !strings.HasPrefix(name, "book.db-"):
			t.Fatalf("%s was left behind", name)
		}
	}
	return parts
}

// A kill -9 while a backup is made leaves the whole of it or none, while a walk has the
// book open; the book is as it was.
func TestBackup_killed(t *testing.T) {
	outside.Long(t)
	t.Parallel()
	book, job := newJob(t, longPlan(3, 4))
	dir := filepath.Dir(book)
	n := &numbers{}
	c := onPipes(t, program(book, "handback", "walk", job))
	for range 6 {
		if !n.answer(c) {
			t.Fatal("the walk ended early")
		}
	}
	if _, ok := c.asks(); !ok {
		t.Fatal("the walk ended early")
	}
	want := bodiesOf(t, book, job)
	copied := filepath.Join(dir, "copy.db")
	held := append(namesIn(t, dir), "copy.db")
	parts := 0
	command := func() *exec.Cmd { return program(book, "handback", "backup", "copy.db") }
	killRun(t, command, func(text string) bool {
		_, err := os.Lstat(copied)
		switch {
		case err != nil && strings.Contains(text, "copy.db\n"):
			t.Fatalf("it was said to be there, and is not:\n%s", text)
		case err == nil:
			sound(t, copied)
			if !slices.Equal(want, bodiesOf(t, copied, job)) {
				t.Fatal("the backup holds other entries than the book")
			}
			if err := os.Remove(copied); err != nil {
				t.Fatal(err)
			}
			for _, side := range []string{"-wal", "-shm"} {
				os.Remove(copied + side)
			}
		}
		parts += inTheMaking(t, dir, func(name string) bool { return slices.Contains(held, name) })
		if !slices.Equal(want, bodiesOf(t, book, job)) {
			t.Fatal("the backup changed the book")
		}
		return err == nil
	})
	t.Logf("%d books in the making were left behind", parts)
	demands(t, exitDone, book, "backup", copied)
	if text := demands(t, exitFailed, book, "restore", copied, "--force"); !strings.Contains(text, "another handback has it open") {
		t.Errorf("it does not say what is in the way:\n%s", text)
	}
	c.types("")
	for n.answer(c) {
	}
	c.ends(exitDone)
	sound(t, book)
}

// A kill -9 while a book is restored leaves the one that was there or the one from the
// backup, and in the second case keeps the first.
func TestRestore_killed(t *testing.T) {
	outside.Long(t)
	t.Parallel()
	const points = 2
	book, job := newJob(t, longPlan(2, points))
	dir := filepath.Dir(book)
	copied := filepath.Join(t.TempDir(), "copy.db")
	demands(t, exitDone, book, "enter", job, "c1", "meter=dmm", "p1=231", "p2=232")
	demands(t, exitDone, book, "backup", copied)
	fewer := bodiesOf(t, book, job)
	demands(t, exitDone, book, "enter", job, "c2", "meter=dmm", "p1=233", "p2=234")
	more := bodiesOf(t, book, job)
	image, err := os.ReadFile(book)
	if err != nil {
		t.Fatal(err)
	}
	held := namesIn(t, dir)
	kept := func(name string) bool { return strings.HasPrefix(name, "book.replaced-") }
	command := func() *exec.Cmd {
		writeBook(t, book, image, nil)
		return program(book, "handback", "restore", copied, "--force")
	}
	parts := 0
	killRun(t, command, func(text string) bool {
		now := bodiesOf(t, book, job)
		done := slices.Equal(now, fewer)
		if !done && !slices.Equal(now, more) {
			t.Fatal("the book is neither the one that was there nor the one from the backup")
		}
		if !done && strings.Contains(text, "restored and verified") {
			t.Fatalf("it was said to be restored, and is not:\n%s", text)
		}
		sound(t, book)
		parts += inTheMaking(t, dir, func(name string) bool { return slices.Contains(held, name) || kept(name) })
		found := false
		for _, name := range namesIn(t, dir) {
			if !kept(name) {
				continue
			}
			if strings.HasSuffix(name, ".db") {
				sound(t, filepath.Join(dir, name))
				if found = slices.Equal(more, bodiesOf(t, filepath.Join(dir, name), job)); !found {
					t.Fatalf("%s holds other entries than the book that was replaced", name)
				}
			}
			os.Remove(filepath.Join(dir, name))
		}
		if done && !found {
			t.Fatal("the book that was replaced is gone")
		}
		return done
	})
	t.Logf("%d books in the making were left behind", parts)
}
