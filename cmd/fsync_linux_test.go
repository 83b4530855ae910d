package cmd

import (
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"handback/testdata/outside"
)

var synced = regexp.MustCompile(`\bf(data)?sync\(`)

// Every line that is accepted in the walk is on the disk by one sync, and by no more,
// however many entries it makes: strace counts them over lines that only read and over the
// last, which is judged too. What opening and closing the book takes is the same in all.
func TestWalk_oneSyncALine(t *testing.T) {
	strace := outside.Tool(t, "strace", "-o", "/dev/null", "true")
	syncs := map[int]int{}
	for _, lines := range []int{1, 7, 12} {
		book, job := newJob(t, longPlan(1, 12))
		log := filepath.Join(t.TempDir(), "trace")
		c := program(book, "handback", "walk", job)
		c.Args = append([]string{"strace", "-f", "-o", log, "-e", "trace=fsync,fdatasync"}, append([]string{c.Path}, c.Args[1:]...)...)
		c.Path = strace
		var typed strings.Builder
		for i := range lines {
			fmt.Fprintf(&typed, "%d\n", 400+i)
		}
		c.Stdin = strings.NewReader(typed.String() + "quit\n")
		if out, err := c.CombinedOutput(); err != nil {
			t.Fatalf("%v\n%s", err, out)
		}
		trace, err := os.ReadFile(log)
		if err != nil {
			t.Fatal(err)
		}
		syncs[lines] = len(synced.FindAll(trace, -1))
		judged := 0
		if lines == 12 {
			judged = 1
		}
		if n := len(entriesOf(t, book, job)); n != 1+lines+judged {
			t.Fatalf("%d lines made %d entries", lines, n)
		}
	}
	if syncs[7]-syncs[1] != 6 || syncs[12]-syncs[1] != 11 {
		t.Errorf("syncs by lines: %v", syncs)
	}
}
