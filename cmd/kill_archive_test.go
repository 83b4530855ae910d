package cmd

import (
	"fmt"
	"maps"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"handback/testdata/outside"
)

// bags is how many there are in the folder that bagsToAdd makes.
const bags = 4

// bagsToAdd makes a folder of bags beside a book: one job as it grew, and another.
func bagsToAdd(t *testing.T) (book, in string) {
	t.Helper()
	book, job := newJob(t, longPlan(bags-1, 2))
	in = filepath.Join(filepath.Dir(book), "in")
	if err := os.Mkdir(in, 0o700); err != nil {
		t.Fatal(err)
	}
	for i := range bags - 1 {
		demands(t, exitDone, book, "enter", job, fmt.Sprintf("c%d", i+1), "meter=dmm", "p1=1", "p2=2")
		demands(t, exitDone, book, "pack", job, "-o", filepath.Join(in, fmt.Sprintf("%d.zip", i)))
	}
	demands(t, exitDone, book, "pack", openJob(t, book), "-o", filepath.Join(in, "other.zip"))
	return book, in
}

// Whatever the moment of a kill -9, the archive is sound, holds every bag that was said to
// be taken, and the same command brings it to where it would have been without.
func TestArchiveAdd_killed(t *testing.T) {
	outside.Long(t)
	t.Parallel()
	book, in := bagsToAdd(t)
	dir := filepath.Dir(book)
	n := 0
	fresh := func() string {
		n++
		owner := filepath.Join(dir, fmt.Sprintf("owner-%d", n))
		demands(t, exitDone, book, "archive", "new", "--archive", owner)
		return owner
	}
	rows := func(owner string) map[string]string {
		to := owner + "-rows"
		demands(t, exitDone, book, "archive", "export", "--lines", "-o", to, "--archive", owner)
		return treeOf(t, to)
	}
	whole := fresh()
	start := time.Now()
	demands(t, exitDone, book, "archive", "add", in, "--archive", whole)
	work := time.Since(start)
	want, wantBags := rows(whole), treeOf(t, filepath.Join(whole, "bags"))
	if len(wantBags) != bags {
		t.Fatalf("%d bags were kept", len(wantBags))
	}
	owner := fresh()
	killRunFrom(t, work, func() *exec.Cmd { return program(book, "handback", "archive", "add", in, "--archive", owner) }, func(text string) bool {
		found := demands(t, exitDone, book, "archive", "doctor", "--hashes", "--archive", owner)
		told := strings.Count(text, "job ") // a line each
		done := strings.Contains(found, fmt.Sprintf(": %d bags, 0 in quarantine", bags))
		if told > 0 && !done {
			t.Fatalf("%d bags were told and not all are there:\n%s\n%s", told, text, found)
		}
		if done {
			if diff := cmp.Diff(want, rows(owner)); diff != "" {
				t.Fatalf("other rows than without a kill (-without +with):\n%s", diff)
			}
			if got := treeOf(t, filepath.Join(owner, "bags")); !maps.Equal(got, wantBags) {
				t.Fatalf("%d bags are there, other ones than without a kill", len(got))
			}
			demands(t, exitDone, book, "archive", "doctor", "--archive", owner)
			owner = fresh()
		}
		return done
	})
}

// On a full disk nothing is taken and it is said; with room again the same command takes all.
func TestArchiveAdd_full(t *testing.T) {
	outside.Long(t)
	t.Parallel()
	if _, err := exec.LookPath("bash"); err != nil {
		t.Skip("needs bash and its ulimit")
	}
	book, in := bagsToAdd(t)
	owner := filepath.Join(filepath.Dir(book), "owner")
	for _, room := range []int{20, 60, 400} { // KiB a file: for less than a bag, a bag, and less than the log of the data base
		os.RemoveAll(owner)
		demands(t, exitDone, book, "archive", "new", "--archive", owner)
		c := program(book, "bash", "-c", fmt.Sprintf(`trap '' XFSZ; ulimit -f %d; exec "$@"`, room), "bash", "handback", "archive", "add", in, "--archive", owner)
		text, err := c.CombinedOutput()
		if err == nil {
			if room < 100 {
				t.Errorf("with %d KiB it ended well:\n%s", room, text)
			}
			continue
		}
		if !strings.Contains(string(text), "no room to write") || !strings.Contains(string(text), "nothing of this was taken") {
			t.Errorf("with %d KiB it says: %s", room, text)
		}
		if found := demands(t, exitDone, book, "archive", "doctor", "--archive", owner); !strings.Contains(found, ": 0 bags") {
			t.Errorf("with %d KiB:\n%s", room, found)
		}
		demands(t, exitDone, book, "archive", "add", in, "--archive", owner)
		if found := demands(t, exitDone, book, "archive", "doctor", "--archive", owner); !strings.Contains(found, fmt.Sprintf(": %d bags", bags)) {
			t.Errorf("after %d KiB:\n%s", room, found)
		}
	}
}
