package cmd

import (
	"fmt"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// A walk, a field sheet and enter at work on one job at once: what each said is kept
// is in the book once, what each refused is not, and the book is sound.
func TestWriters_threeAtOnce(t *testing.T) {
	t.Parallel()
	const checks, points, sheets = 12, 3, 3
	book, job := newJob(t, longPlan(checks, points))
	dir := filepath.Dir(book)
	demands(t, exitDone, book, "sheet", job, "-o", filepath.Join(dir, "sheet.xlsx"))
	n := &numbers{}
	take := func(check int, prefix string) (pairs, readings []string) {
		pairs = []string{prefix + "meter=dmm"}
		for k := range points {
			readings = append(readings, n.next())
			pairs = append(pairs, fmt.Sprintf("%sp%d=%s", prefix, k+1, readings[k]))
		}
		return pairs, readings
	}
	type piece struct {
		command  *exec.Cmd
		readings []string
		done     bool
		text     string
	}
	var pieces []*piece // from the end of the plan, where the walk comes last
	for i := range sheets {
		check := checks - i
		pairs, readings := take(check, fmt.Sprintf("c%d/", check))
		file := fmt.Sprintf("filled-%d.xlsx", check)
		if err := fillSheet(filepath.Join(dir, "sheet.xlsx"), filepath.Join(dir, file), pairs...); err != nil {
			t.Fatal(err)
		}
		pieces = append(pieces, &piece{command: program(book, "handback", "read", job, file, "--yes"), readings: readings})
		check = checks - sheets - i
		pairs, readings = take(check, "")
		pieces = append(pieces, &piece{command: program(book, append([]string{"handback", "enter", job, fmt.Sprintf("c%d", check)}, pairs...)...), readings: readings})
	}
	var all sync.WaitGroup
	for i := range 2 { // sheets by one program after another, enter by another
		all.Go(func() {
			for k := i; k < len(pieces); k += 2 {
				out, err := pieces[k].command.CombinedOutput()
				pieces[k].done, pieces[k].text = err == nil, string(out)
			}
		})
	}
	c := onPipes(t, program(book, "handback", "walk", job))
	for n.answer(c) {
	}
	_, walked := c.all()
	all.Wait()
	said := keptIn(walked)
	for _, p := range pieces {
		switch {
		case p.done:
			said = append(said, p.readings...)
		case p.command.ProcessState.ExitCode() != exitFailed || !strings.Contains(p.text, "handback: "):
			t.Errorf("%v: %v\n%s", p.command.Args, p.command.ProcessState, p.text)
		}
	}
	got := inBook(t, book, job)
	slices.Sort(said)
	slices.Sort(got)
	if diff := cmp.Diff(said, got); diff != "" {
		t.Errorf("the book holds other readings than were said to be kept (-said +book):\n%s\nthe walk:\n%s", diff, walked)
	}
	sound(t, book)
	if !walkToEnd(t, n, book, job) {
		t.Error("the job could not be finished afterwards")
	}
}
