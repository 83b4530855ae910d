package cmd

import (
	"fmt"
	"math/rand/v2"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"handback/records/chain"
	"handback/report"
)

var saidComment = regexp.MustCompile(`comment \d+, c1: Ben Example: (words \d+)\n`)

// Whatever the moment of a kill -9, every remark that a review said it made is in the book,
// with what was looked at by then, nothing else but the one under way is, and the book is
// sound.
func TestReview_killed(t *testing.T) {
	t.Parallel()
	rounds := *killRounds
	if testing.Short() {
		rounds = min(rounds, 4)
	}
	seed := uint64(time.Now().UnixNano())
	t.Logf("seed %d", seed)
	chance := rand.New(rand.NewPCG(seed, 0))
	plan := strings.Replace(longPlan(1, 1), "role: technician}", "role: technician}\n  - {id: ben, name: Ben Example, role: engineer}", 1)
	book, job := newJob(t, plan)
	var kept []string
	next, killed := 0, 0
	say := func(c *console) bool {
		_, ok := c.asks()
		if ok {
			next++
			c.types(fmt.Sprintf("say words %d", next))
		}
		return ok
	}
	for round := 0; killed < rounds; round++ {
		c := onPipes(t, program(book, "handback", "review", job, "c1", "--by", "ben"))
		for range chance.IntN(4) {
			say(c)
		}
		if say(c) { // in the middle of a write, where it may be
			time.Sleep(time.Duration(chance.IntN(5000)) * time.Microsecond)
		}
		c.cmd.Process.Kill()
		status, text := c.all()
		if status == -1 {
			killed++
		} else if status != exitDone {
			t.Fatalf("round %d: the review ended with status %d:\n%s", round, status, text)
		}
		for _, m := range saidComment.FindAllStringSubmatch(text, -1) {
			kept = append(kept, m[1])
		}
		var got []string
		for _, e := range entriesOf(t, book, job) {
			var r report.Remarked
			if e.Kind == report.EntryRemark && chain.DecodeStrict(e.Data, &r) == nil {
				got = append(got, r.Text)
			}
		}
		if !slices.Equal(got[:min(len(got), len(kept))], kept) || len(got) > len(kept)+1 {
			t.Fatalf("round %d: the book holds other remarks than were said to be made (-said +book):\n%s", round, cmp.Diff(kept, got))
		}
		kept = got // the one under way may have come in without being said
		sound(t, book)
	}
	if len(kept) == 0 {
		t.Fatal("no remark was ever made")
	}
}
