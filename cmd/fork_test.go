package cmd

import (
	"context"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"handback/records"
	"handback/records/carrier"
	"handback/records/chain"
	"handback/report"
	"handback/testdata/outside"
)

// parted is a job that two laptops went on with, each in its own book, and the files that
// carry it: as it was when they parted, and what each made since.
func parted(t *testing.T) (tech, eng, job string, begin, techs, engs string) {
	t.Helper()
	plan := strings.Replace(longPlan(6, 2), "role: technician}\n", "role: technician}\n  - {id: ben, name: Ben Example, role: engineer}\n", 1)
	tech, job = newJob(t, plan)
	eng = filepath.Join(t.TempDir(), "eng.db")
	dir := filepath.Dir(tech)
	note := filepath.Join(dir, "note.txt")
	if err := os.WriteFile(note, []byte("Bolts marked.\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	file := func(name string) string { return filepath.Join(dir, name) }
	demands(t, exitDone, tech, "enter", job, "c1", "meter=dmm", "p1=231", "p2=232")
	begin, techs, engs = file("begin.zip"), file("tech.carrier"), file("eng.zip")
	demands(t, exitDone, tech, "pack", job, "-o", begin)
	demands(t, exitDone, eng, "take", begin)
	demands(t, exitDone, tech, "enter", job, "c2", "meter=dmm", "p1=231", "p2=232")
	demands(t, exitDone, tech, "attach", job, note, "--check", "c2", "--caption", "after the check")
	demands(t, exitDone, tech, "pack", job, "--since", "3", "-o", techs)
	demands(t, exitDone, eng, "enter", job, "c3", "meter=dmm", "p1=231", "p2=232", "--by", "ben")
	demands(t, exitDone, eng, "pack", job, "-o", engs)
	return tech, eng, job, begin, techs, engs
}

// headsOf are the newest entries of all continuations of a job in a book, sorted.
func headsOf(t *testing.T, book, job string) []string {
	t.Helper()
	b, err := records.OpenRead(context.Background(), book)
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	lines, err := b.Lines(context.Background(), job)
	if err != nil {
		t.Fatal(err)
	}
	var out []string
	for _, l := range lines {
		out = append(out, fmt.Sprintf("%d %s", len(l.Entries), l.Head().Hash))
	}
	slices.Sort(out)
	return out
}

// branchOf is the id of the only other continuation.
func branchOf(t *testing.T, book string) string {
	t.Helper()
	_, after, ok := strings.Cut(demands(t, exitDone, book, "jobs"), "\nlong-1.")
	if !ok {
		t.Fatal("no second continuation is listed")
	}
	id, _, _ := strings.Cut(after, " ")
	return "long-1." + id
}

// joinedFiles goes on with a parted job: the engineer joins it, the technician adds to the
// old side, the engineer joins that too. Each state is carried by a file.
func joinedFiles(t *testing.T) (files []string, job string, want []string) {
	t.Helper()
	tech, eng, job, begin, techs, engs := parted(t)
	dir := filepath.Dir(tech)
	file := func(name string) string { return filepath.Join(dir, name) }
	decide := func(name, text string) string {
		if err := os.WriteFile(file(name), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		return file(name)
	}
	demands(t, exitDone, eng, "take", techs)
	demands(t, exitDone, eng, "join", job, "--by", "ben", "--file", decide("first", "4 adopt\n6 leave no photograph is wanted\n"))
	demands(t, exitDone, eng, "pack", job, "-o", file("joined.zip"))
	demands(t, exitDone, eng, "pack", job, "--since", "3", "--text", "-o", file("joined.txt"))
	demands(t, exitDone, tech, "take", file("joined.zip"))
	demands(t, exitDone, tech, "enter", job, "c4", "meter=dmm", "p1=229", "p2=229")
	demands(t, exitDone, tech, "pack", job, "--since", "6", "-o", file("late.carrier"))
	demands(t, exitDone, eng, "take", file("late.carrier"))
	demands(t, exitNotReady, eng, "status", job)
	demands(t, exitDone, eng, "join", job, "--by", "ben", "--file", decide("second", "7 adopt\n"))
	since := len(bodiesOf(t, eng, job)) - 3
	demands(t, exitDone, eng, "pack", job, "--since", fmt.Sprint(since), "-o", file("again.carrier"))
	for _, book := range []string{eng, tech} {
		if book == tech {
			demands(t, exitDone, tech, "take", file("again.carrier"))
		}
		sound(t, book)
		demands(t, exitDone, book, "verify", job)
		demands(t, exitDone, book, "verify", branchOf(t, book))
	}
	if d := headsOf(t, tech, job); !slices.Equal(d, headsOf(t, eng, job)) {
		t.Fatalf("the two books hold %v and %v", d, headsOf(t, eng, job))
	}
	return []string{begin, techs, engs, file("joined.zip"), file("joined.txt"), file("late.carrier"), file("again.carrier")}, job, headsOf(t, eng, job)
}

// In whatever order the files of a job come that parted and was joined twice: what cannot be
// taken yet changes nothing, and in the end every book holds the same continuations.
func TestFork_anyOrder(t *testing.T) {
	outside.Long(t)
	files, job, want := joinedFiles(t)
	r := rand.New(rand.NewPCG(12, 1))
	for range 8 {
		book := filepath.Join(t.TempDir(), "book.db")
		left := append(slices.Clone(files), files[r.IntN(len(files))])
		for tries := 0; len(left) > 0; tries++ {
			if tries > 1000 {
				t.Fatalf("%v are never taken", left)
			}
			i := r.IntN(len(left))
			had := []string{}
			if _, err := os.Stat(book); err == nil {
				had = headsOf(t, book, job)
			}
			status, text := asks(t, book, "take", left[i])
			switch {
			case status == exitDone:
				left = slices.Delete(left, i, i+1)
			case status != exitFailed || !strings.Contains(text, "nothing was taken"):
				t.Fatalf("%s ends with status %d:\n%s", left[i], status, text)
			case len(had) > 0 && !slices.Equal(had, headsOf(t, book, job)):
				t.Fatalf("%s was refused and changed the book", left[i])
			}
		}
		if is := headsOf(t, book, job); !slices.Equal(is, want) {
			t.Fatalf("it holds %v, want %v", is, want)
		}
		sound(t, book)
		demands(t, exitDone, book, "verify", job)
	}
}

// A kill -9 while a second continuation is taken, or while two are joined, leaves all of it
// or nothing; the continuation that was there is what it was, and the same again ends well.
func TestFork_killed(t *testing.T) {
	outside.Long(t)
	t.Parallel()
	tech, _, job, _, techs, engs := parted(t)
	log := func(book string) []byte {
		wal, _ := os.ReadFile(book + "-wal")
		return wal
	}
	image, err := os.ReadFile(tech)
	if err != nil || len(log(tech)) > 0 {
		t.Fatalf("%v, %d bytes of log", err, len(log(tech)))
	}
	was, alone := bodiesOf(t, tech, job), headsOf(t, tech, job)
	demands(t, exitDone, tech, "take", engs)
	both := headsOf(t, tech, job)
	writeBook(t, tech, image, nil)
	killRun(t, func() *exec.Cmd { return program(tech, "handback", "take", engs) }, func(text string) bool {
		is := headsOf(t, tech, job)
		done := slices.Equal(is, both)
		if !done && (!slices.Equal(is, alone) || strings.Contains(text, " taken, up to entry")) {
			t.Fatalf("it holds %v:\n%s", is, text)
		}
		if !slices.Equal(bodiesOf(t, tech, job), was) {
			t.Fatal("what was there is another")
		}
		sound(t, tech)
		if done {
			writeBook(t, tech, image, nil)
		}
		return done
	})
	eng := filepath.Join(t.TempDir(), "eng.db")
	for _, f := range []string{engs, techs} {
		demands(t, exitDone, eng, "take", f)
	}
	decisions := filepath.Join(t.TempDir(), "decisions")
	if err := os.WriteFile(decisions, []byte("4 adopt\n6 adopt\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	if image, err = os.ReadFile(eng); err != nil {
		t.Fatal(err)
	}
	was = bodiesOf(t, eng, job)
	killRun(t, func() *exec.Cmd {
		return program(eng, "handback", "join", job, "--by", "ben", "--file", decisions)
	}, func(text string) bool {
		is := bodiesOf(t, eng, job)
		done := len(is) == len(was)+4 // two adopted, a finding, the join
		if !done && (!slices.Equal(is, was) || strings.Contains(text, "joined long-1.")) {
			t.Fatalf("%d entries became %d:\n%s", len(was), len(is), text)
		}
		sound(t, eng)
		if done {
			demands(t, exitDone, eng, "verify", job)
			writeBook(t, eng, image, nil)
		}
		return done
	})
}

// A carrier that would have the program follow more continuations than people work on one
// plant is refused before it does.
func TestFork_tooMany(t *testing.T) {
	book, job := newJob(t, longPlan(1, 1))
	first := entriesOf(t, book, job)[0]
	c := carrier.Carrier{Job: job, Identifier: first.Hash, Files: map[string][]byte{}}
	for i := range chain.MaxLines + 1 {
		e, err := chain.Seal(first, chain.Draft{At: first.At, By: "ada", Kind: report.EntryNote, Data: report.Noted{Text: fmt.Sprint("hand ", i)}})
		if err != nil {
			t.Fatal(err)
		}
		if c.Head == "" {
			c.Head = e.Hash
		}
		c.Entries = append(c.Entries, e)
	}
	file := filepath.Join(t.TempDir(), "many.carrier")
	for n, want := range map[int]string{chain.MaxLines: "20 new entries taken", chain.MaxLines + 1: "it brings 21 continuations of one job, at most 20 are read"} {
		all := c
		all.Entries = c.Entries[:n]
		data, err := all.Encode()
		if err == nil {
			err = os.WriteFile(file, data, 0o644)
		}
		if err != nil {
			t.Fatal(err)
		}
		if _, text := asks(t, book, "take", file); !strings.Contains(text, want) {
			t.Errorf("of %d: %s", n, text)
		}
	}
	sound(t, book)
}
