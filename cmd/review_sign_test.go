package cmd

import (
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"handback/records/chain"
	"handback/report"
	"handback/testdata/outside"
)

// failingJob is a job of so many checks that failed, whose engineer has a key, in keys/ben.
func failingJob(t *testing.T, checks int) (book, job string) {
	t.Helper()
	dir := t.TempDir()
	if err := keyedPlan(dir); err != nil {
		t.Fatal(err)
	}
	ben, err := os.ReadFile(filepath.Join(dir, "keys", "ben.pub"))
	if err != nil {
		t.Fatal(err)
	}
	plan := strings.Replace(longPlan(checks, 1), "role: technician}", "role: technician}\n  - {id: ben, name: Ben Example, role: engineer, keys: ["+strings.TrimSpace(string(ben))+"]}", 1)
	plan = strings.ReplaceAll(plan, "high: 1000000 V", "high: 1000 V")
	if err := os.WriteFile(filepath.Join(dir, "plan.yaml"), []byte(plan), 0o600); err != nil {
		t.Fatal(err)
	}
	book = filepath.Join(dir, "book.db")
	job = openJob(t, book)
	for i := range checks {
		runs(t, exitDone, program(book, "handback", "enter", job, fmt.Sprintf("c%d", i+1), "meter=dmm", "p1=1500 V"))
	}
	return book, job
}

// signedIn counts the acceptances of a job, each of which must be signed.
func signedIn(t *testing.T, book, job string) int {
	t.Helper()
	n := 0
	for _, e := range entriesOf(t, book, job) {
		if e.Kind != report.EntryConcede {
			continue
		}
		var c report.Conceded
		if err := chain.DecodeStrict(e.Data, &c); err != nil || c.Signed == nil {
			t.Fatalf("entry %d: %v, %+v", e.Seq, err, c)
		}
		n++
	}
	return n
}

// The words that open a key are asked once a review, and an interrupt where they or the
// signature are asked for leaves what was signed before.
func TestReview_passphrase(t *testing.T) {
	outside.Long(t)
	book, job := failingJob(t, 3)
	protect(t, filepath.Join(filepath.Dir(book), "keys", "ben"), "four words for ben")
	args := []string{"handback", "review", job, "--by", "ben", "--key", "keys/ben"}

	c := onTerminal(t, 100, program(book, args...))
	c.answers("list, quit: ", "accept the range was set so")
	c.answers("sign this? [yes/no]: ", "yes")
	c.sees("passphrase of keys/ben: ")
	c.sends("four\x03")
	c.ends(exitStopped)
	if n := signedIn(t, book, job); n != 0 {
		t.Errorf("%d acceptances", n)
	}

	c = onTerminal(t, 100, program(book, args...))
	c.answers("list, quit: ", "accept the range was set so")
	c.answers("sign this? [yes/no]: ", "yes")
	c.answers("passphrase of keys/ben: ", "wrong words")
	c.sees("that is not its passphrase")
	c.answers("passphrase of keys/ben: ", "four words for ben")
	c.sees("accepted by Ben Example")
	c.answers("list, quit: ", "accept here too")
	c.answers("sign this? [yes/no]: ", "yes")
	c.sees("accepted by Ben Example") // the key is open
	c.answers("list, quit: ", "accept and here")
	c.sees("sign this? [yes/no]: ")
	c.sends("y\x03")
	if text := c.ends(exitStopped); strings.Count(text, "passphrase of keys/ben: ") != 2 || strings.Contains(text, "four words") {
		t.Errorf("%s", text)
	}
	if n := signedIn(t, book, job); n != 2 {
		t.Errorf("%d acceptances, want 2", n)
	}
	sound(t, book)
}

var saidAccepted = regexp.MustCompile(`accepted by Ben Example: .*; signed\s+with key`)

// Whatever the moment of a kill -9, every acceptance that a review said was signed is in
// the book with its signature, and at most the one under way besides.
func TestReview_signingKilled(t *testing.T) {
	t.Parallel()
	checks := min(*killRounds, 25)
	if testing.Short() {
		checks = 3
	}
	seed := uint64(time.Now().UnixNano())
	t.Logf("seed %d", seed)
	chance := rand.New(rand.NewPCG(seed, 0))
	book, job := failingJob(t, checks)
	said, killed := 0, 0
	for round := 0; said < checks; round++ {
		if round > 20*checks {
			t.Fatalf("%d of %d accepted in %d rounds", said, checks, round)
		}
		c := onPipes(t, program(book, "handback", "review", job, "--by", "ben", "--key", "keys/ben"))
		if _, ok := c.asks(); ok {
			c.types("accept the range was set so")
			c.sees("sign this? [yes/no]: ")
			c.types("yes")
			time.Sleep(time.Duration(chance.IntN(9000)) * time.Microsecond) // in the middle of a write, where it may be
		}
		c.cmd.Process.Kill()
		status, text := c.all()
		if status == -1 {
			killed++
		} else if status != exitDone {
			t.Fatalf("round %d: the review ended with status %d:\n%s", round, status, text)
		}
		is, told := signedIn(t, book, job), said+len(saidAccepted.FindAllString(text, -1))
		if is < told || is > told+1 {
			t.Fatalf("round %d: %d acceptances in the book, %d were told:\n%s", round, is, told, text)
		}
		said = is // the one under way may have come in without being told
		sound(t, book)
	}
	if killed == 0 {
		t.Fatal("no review was ever killed")
	}
	if text := runs(t, exitDone, program(book, "handback", "verify", job)); !strings.Contains(text, "record intact") {
		t.Errorf("%s", text)
	}
}
