package cmd

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"testing"

	"handback/testdata/outside"
)

// carried is a job that was carried bit by bit: files that bring it as it grew, a bag and
// carriers, some of them overlapping, and what it holds at the end.
func carried(t *testing.T) (files []string, job string, want []string) {
	t.Helper()
	book, job := newJob(t, longPlan(6, 2))
	dir := filepath.Dir(book)
	note := filepath.Join(dir, "note.txt")
	if err := os.WriteFile(note, []byte("Bolts marked.\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	add := func(args ...string) {
		name := filepath.Join(dir, args[0])
		demands(t, exitDone, book, append([]string{"pack", job, "-o", name}, args[1:]...)...)
		files = append(files, name)
	}
	add("begin.zip")
	for i := range 6 {
		since := len(bodiesOf(t, book, job))
		demands(t, exitDone, book, "enter", job, fmt.Sprintf("c%d", i+1), "meter=dmm", fmt.Sprintf("p1=%d", 231+i), "p2=232")
		demands(t, exitDone, book, "attach", job, note, "--caption", fmt.Sprintf("after check %d", i+1))
		add(fmt.Sprintf("%d.carrier", i), "--since", fmt.Sprint(since))
		if i%2 == 1 {
			add(fmt.Sprintf("%d.txt", i), "--since", fmt.Sprint(since-2), "--text")
		}
	}
	return files, job, bodiesOf(t, book, job)
}

// In whatever order files come, and however often: what cannot be taken yet is refused and
// changes nothing, and once all came to their turn every book holds the same entries.
func TestTake_anyOrder(t *testing.T) {
	files, job, want := carried(t)
	rounds := 12
	if testing.Short() {
		rounds = 2
	}
	r := rand.New(rand.NewPCG(3, 4))
	refused := 0
	for range rounds {
		book := filepath.Join(t.TempDir(), "book.db")
		left := append(slices.Clone(files), files[r.IntN(len(files))])
		had := []string{}
		for tries := 0; len(left) > 0; tries++ {
			if tries > 1000 {
				t.Fatalf("%v are never taken", left)
			}
			i := r.IntN(len(left))
			status, text := asks(t, book, "take", left[i])
			var now []string
			if _, err := os.Stat(book); err == nil {
				now = bodiesOf(t, book, job)
			}
			switch {
			case status == exitDone:
				if len(now) < len(had) || !slices.Equal(now[:len(had)], had) || !slices.Equal(now, want[:len(now)]) {
					t.Fatalf("%s: %d entries became %d others:\n%s", left[i], len(had), len(now), text)
				}
				left = slices.Delete(left, i, i+1)
			case status != exitFailed || !strings.Contains(text, "not here; nothing was taken"):
				t.Fatalf("%s ends with status %d:\n%s", left[i], status, text)
			default:
				refused++
				if !slices.Equal(now, had) {
					t.Fatalf("%s was refused and changed the book", left[i])
				}
			}
			had = now
		}
		if !slices.Equal(had, want) {
			t.Fatalf("%d entries in the end, want %d", len(had), len(want))
		}
		sound(t, book)
		demands(t, exitDone, book, "verify", job)
	}
	if refused == 0 {
		t.Error("nothing ever came out of turn")
	}
}

// A kill -9 while a job is taken leaves all of what was brought or nothing of it, and the
// same again ends well.
func TestTake_killed(t *testing.T) {
	outside.Long(t)
	t.Parallel()
	from, job := signedJob(t)
	want := bodiesOf(t, from, job)
	dir := filepath.Dir(from)
	demands(t, exitDone, from, "pack", job, "-o", filepath.Join(dir, "job.zip"))
	demands(t, exitDone, from, "pack", job, "-o", filepath.Join(dir, "job.txt"), "--text")
	book, other := newJob(t, longPlan(1, 1))
	empty, err := os.ReadFile(book)
	if err != nil {
		t.Fatal(err)
	}
	round := 0
	killRun(t, func() *exec.Cmd {
		return program(book, "handback", "take", filepath.Join(dir, []string{"job.zip", "job.txt"}[round%2]))
	}, func(text string) bool {
		status, listed := asks(t, book, "jobs")
		there := strings.Contains(listed, job+" ")
		if status != exitDone || !strings.Contains(listed, other) {
			t.Fatalf("status %d, the job of this book is gone:\n%s", status, listed)
		}
		if !there && strings.Contains(text, " taken, up to entry") {
			t.Fatalf("it was said to be taken, and is not:\n%s", text)
		}
		if there && !slices.Equal(bodiesOf(t, book, job), want) {
			t.Fatal("a part of it was taken")
		}
		sound(t, book)
		if there {
			round++
			demands(t, exitDone, book, "verify", job)
			writeBook(t, book, empty, nil)
		}
		return there
	})
	demands(t, exitDone, book, "take", filepath.Join(dir, "job.zip"))
	demands(t, exitDone, book, "verify", job)
}

// On a disk that is full nothing is taken, and the book is as it was.
func TestTake_fullDisk(t *testing.T) {
	outside.Long(t)
	if runtime.GOOS != "linux" || os.Geteuid() != 0 {
		t.Skip("only root may mount a small disk, and only on Linux")
	}
	from, job := signedJob(t)
	packed := filepath.Join(filepath.Dir(from), "job.zip")
	demands(t, exitDone, from, "pack", job, "-o", packed)
	disk := t.TempDir()
	if out, err := exec.Command("mount", "-t", "tmpfs", "-o", "size=160k", "tmpfs", disk).CombinedOutput(); err != nil {
		t.Skipf("no small disk can be mounted: %s", out)
	}
	t.Cleanup(func() { exec.Command("umount", "-l", disk).Run() })
	book := filepath.Join(disk, "book.db")
	if err := os.WriteFile(filepath.Join(disk, "plan.yaml"), []byte(longPlan(1, 1)), 0o600); err != nil {
		t.Fatal(err)
	}
	other := openJob(t, book)
	before := bodiesOf(t, book, other)
	if text := demands(t, exitFailed, book, "take", packed); !strings.Contains(text, "no room to write") {
		t.Errorf("it does not say that there is no room:\n%s", text)
	}
	if out, err := exec.Command("mount", "-o", "remount,size=16m", disk).CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	sound(t, book)
	if !slices.Equal(before, bodiesOf(t, book, other)) {
		t.Error("the job that was there is another")
	}
	demands(t, exitDone, book, "take", packed)
	demands(t, exitDone, book, "verify", job)
}

// A bag or a carrier with anything wrong is refused as a whole, whatever it is.
func TestTake_refuses(t *testing.T) {
	from, job := newJob(t, longPlan(1, 1))
	dir := filepath.Dir(from)
	demands(t, exitDone, from, "enter", job, "c1", "meter=dmm", "p1=231")
	plain, zip := filepath.Join(dir, "job.carrier"), filepath.Join(dir, "job.zip")
	demands(t, exitDone, from, "pack", job, "--since", "0", "-o", plain)
	demands(t, exitDone, from, "pack", job, "-o", zip)
	book := filepath.Join(t.TempDir(), "book.db")
	for _, file := range []string{plain, zip} {
		data, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		at := bytes.LastIndex(data, []byte(`"typed":"231"`))
		if at < 0 {
			at = len(data) / 2
		}
		spoilt := bytes.Clone(data)
		spoilt[at+10]++
		if err := os.WriteFile(file, spoilt, 0o600); err != nil {
			t.Fatal(err)
		}
		if status, text := asks(t, book, "take", file); status == exitDone {
			t.Errorf("%s was changed, and was taken:\n%s", filepath.Base(file), text)
		}
		if _, err := os.Stat(book); err == nil {
			t.Fatalf("%s was refused, and a book was made", filepath.Base(file))
		}
	}
}
