package cmd

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"handback/testdata/outside"
)

// readingsAre demands that a job holds these readings and no others.
func readingsAre(t *testing.T, book, job string, want []string) {
	t.Helper()
	got := inBook(t, book, job)
	slices.Sort(got)
	if diff := cmp.Diff(slices.Sorted(slices.Values(want)), got); diff != "" {
		t.Fatalf("the book holds other readings than were given (-given +book):\n%s", diff)
	}
}

// Of the readings of one enter all are in the book or none, whatever the moment of a
// kill -9, and the job goes on to its end.
func TestEnter_killed(t *testing.T) {
	t.Parallel()
	const checks, points = 8, 20
	n := &numbers{}
	var book, job string
	var before, kept, given []string
	taken := 0
	command := func() *exec.Cmd {
		if book == "" {
			book, job = newJob(t, longPlan(checks, points))
			before, kept, taken = bodiesOf(t, book, job), nil, 0
		}
		given = nil
		args := []string{"handback", "enter", job, fmt.Sprintf("c%d", taken+1), "meter=dmm"}
		for i := range points {
			given = append(given, n.next())
			args = append(args, fmt.Sprintf("p%d=%s", i+1, given[i]))
		}
		return program(book, args...)
	}
	killRun(t, command, func(text string) bool {
		now := bodiesOf(t, book, job)
		done, err := afterKill(before, now, 2, strings.Contains(text, "kept: ") || strings.Contains(text, ", attempt "))
		if err != nil {
			t.Fatalf("%v:\n%s", err, text)
		}
		sound(t, book)
		if done {
			before, kept, taken = now, append(kept, given...), taken+1
		}
		readingsAre(t, book, job, kept)
		if taken == checks {
			demands(t, exitDone, book, "status", job)
			book = ""
		}
		return done
	})
}

// A field sheet is stored whole or not at all. What one read left behind, the next one
// takes up.
func TestRead_killed(t *testing.T) {
	outside.Long(t)
	t.Parallel()
	const checks, points = 4, 10
	book, job := newJob(t, longPlan(checks, points))
	blank := filepath.Join(filepath.Dir(book), "sheet.xlsx")
	demands(t, exitDone, book, "sheet", job, "-o", blank)
	opened, err := os.ReadFile(book)
	if err != nil {
		t.Fatal(err)
	}
	var pairs []string
	var readings [checks + 1][]string // after so many sheets
	n := &numbers{}
	for i := range checks {
		pairs = append(pairs, fmt.Sprintf("c%d/meter=dmm", i+1))
		readings[i+1] = slices.Clone(readings[i])
		for k := range points {
			number := n.next()
			pairs = append(pairs, fmt.Sprintf("c%d/p%d=%s", i+1, k+1, number))
			readings[i+1] = append(readings[i+1], number)
		}
		if err := fillSheet(blank, filepath.Join(filepath.Dir(book), fmt.Sprintf("filled-%d.xlsx", i+1)), pairs...); err != nil {
			t.Fatal(err)
		}
	}
	before, read := bodiesOf(t, book, job), 0
	command := func() *exec.Cmd {
		return program(book, "handback", "read", job, fmt.Sprintf("filled-%d.xlsx", read+1), "--yes")
	}
	killRun(t, command, func(text string) bool {
		now := bodiesOf(t, book, job)
		done, err := afterKill(before, now, 2, strings.Contains(text, "stored; "))
		if err != nil {
			t.Fatalf("%v:\n%s", err, text)
		}
		sound(t, book)
		if done {
			before, read = now, read+1
		}
		readingsAre(t, book, job, readings[read])
		if read == checks {
			demands(t, exitDone, book, "status", job)
			writeBook(t, book, opened, nil)
			before, read = bodiesOf(t, book, job), 0
		}
		return done
	})
}

// A signature is on record whole and good, with the documents that were signed, or not
// at all.
func TestSign_killed(t *testing.T) {
	outside.Long(t)
	t.Parallel()
	book, job := keyedJob(t)
	read, err := os.ReadFile(book)
	if err != nil {
		t.Fatal(err)
	}
	unsigned := bodiesOf(t, book, job)
	before := unsigned
	command := func() *exec.Cmd {
		return program(book, "handback", "sign", job, "--as", "technician", "--key", "keys/ada", "--yes")
	}
	killRun(t, command, func(text string) bool {
		now := bodiesOf(t, book, job)
		done, err := afterKill(before, now, signatureEntries, strings.Contains(text, ": signed by "))
		if err != nil {
			t.Fatalf("%v:\n%s", err, text)
		}
		sound(t, book)
		if before = now; len(now) > len(unsigned)+6*signatureEntries {
			verified := demands(t, exitDone, book, "verify", job)
			if good := strings.Count(verified, ": good\n"); good != (len(now)-len(unsigned))/signatureEntries {
				t.Fatalf("%d signatures are good of %d entries:\n%s", good, len(now)-len(unsigned), verified)
			}
			writeBook(t, book, read, nil)
			before = unsigned
		}
		return done
	})
}

// signatureEntries are what a signature adds: workbook, page and the signature itself.
const signatureEntries = 3

// writeBook puts a book in place of another, with its write-ahead log when there is one.
func writeBook(t testing.TB, book string, image, log []byte) {
	t.Helper()
	for _, side := range []string{"-wal", "-shm"} {
		if err := os.Remove(book + side); err != nil && !os.IsNotExist(err) {
			t.Fatal(err)
		}
	}
	if err := os.WriteFile(book, image, 0o600); err != nil {
		t.Fatal(err)
	}
	if log == nil {
		return
	}
	if err := os.WriteFile(book+"-wal", log, 0o600); err != nil {
		t.Fatal(err)
	}
}
