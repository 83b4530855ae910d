package cmd

import (
	"bytes"
	"errors"
	"fmt"
	"math/rand/v2"
	"os/exec"
	"runtime"
	"slices"
	"strings"
	"testing"
	"time"

	"handback/cmd/session"
)

// aim chooses the moments at which runs of a command are killed. Most lie close to
// where the command does its work, which is learnt from what the kills before left
// behind: no machine is taken for quick or slow.
type aim struct {
	chance *rand.Rand
	work   time.Duration // from the start to about where the work is done
}

func (a *aim) moment() time.Duration {
	if a.chance.IntN(3) == 0 { // anywhere in a run
		return time.Duration(1.5 * a.chance.Float64() * float64(a.work))
	}
	return time.Duration((0.9 + 0.2*a.chance.Float64()) * float64(a.work))
}

func (a *aim) learn(done bool) {
	if done {
		a.work = max(a.work*19/20, time.Millisecond)
	} else {
		a.work = min(a.work*20/19, patience)
	}
}

// kill runs a command and kills it, with all its output in text; ended says that it
// was quicker, and ended well.
func (a *aim) kill(t *testing.T, c *exec.Cmd) (text string, ended bool) {
	t.Helper()
	var out bytes.Buffer
	c.Stdout, c.Stderr = &out, &out
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	time.Sleep(a.moment())
	c.Process.Kill()
	err := c.Wait()
	var exit *exec.ExitError
	if err != nil && (!errors.As(err, &exit) || exit.ExitCode() != -1) {
		t.Fatalf("%v: %v\n%s", c.Args, err, out.String())
	}
	return out.String(), err == nil
}

// killRun kills one command after another. command gives the next; after looks at what
// one left behind, from what it wrote, and says whether its work was done.
func killRun(t *testing.T, command func() *exec.Cmd, after func(text string) (done bool)) {
	t.Helper()
	killRunFrom(t, 20*time.Millisecond, command, after)
}

// killRunFrom is killRun of a command that does its work after about so long.
func killRunFrom(t *testing.T, work time.Duration, command func() *exec.Cmd, after func(text string) (done bool)) {
	t.Helper()
	if runtime.GOOS == "windows" {
		t.Skip("a killed program cannot be told there from one that failed")
	}
	rounds := *killRounds
	if testing.Short() {
		rounds = min(rounds, 4)
	}
	seed := uint64(time.Now().UnixNano())
	t.Logf("seed %d", seed)
	a := &aim{rand.New(rand.NewPCG(seed, 0)), work}
	killed, dones, quicker := 0, 0, 0
	for killed < rounds {
		c := command()
		text, ended := a.kill(t, c)
		done := after(text)
		switch {
		case ended && !done:
			t.Fatalf("%v ended well, and its work is not there:\n%s", c.Args, text)
		case ended:
			quicker++
		default:
			killed++
			if done {
				dones++
			}
		}
		a.learn(done)
	}
	t.Logf("%d kills, %d of them when the work was done; %d runs were quicker; the work is done after about %v", killed, dones, quicker, a.work)
}

// afterKill holds the entries of a job after a kill against those before: all of them
// are there as they were, and of what the command adds all or none; all when it told
// that it had.
func afterKill(before, now []string, adds int, told bool) (done bool, err error) {
	n := len(now) - len(before)
	switch {
	case n < 0 || !slices.Equal(now[:len(before)], before):
		return false, fmt.Errorf("of %d entries not all are there as they were", len(before))
	case n != 0 && n != adds:
		return false, fmt.Errorf("%d of %d entries were added: all or none are wanted", n, adds)
	case told && n == 0:
		return false, errors.New("it was told that the entries are kept, and they are not")
	}
	return n == adds, nil
}

// The tests that kill can fail.
func TestAfterKill(t *testing.T) {
	two := []string{"a", "b"}
	for name, c := range map[string]struct {
		now    []string
		told   bool
		done   bool
		failed bool
	}{
		"none":          {now: two},
		"all":           {now: []string{"a", "b", "c", "d"}, done: true},
		"all and told":  {now: []string{"a", "b", "c", "d"}, told: true, done: true},
		"told too soon": {now: two, told: true, failed: true},
		"half":          {now: []string{"a", "b", "c"}, failed: true},
		"too many":      {now: []string{"a", "b", "c", "d", "e"}, failed: true},
		"lost":          {now: two[:1], failed: true},
		"changed":       {now: []string{"a", "x", "c", "d"}, failed: true},
	} {
		done, err := afterKill(two, c.now, 2, c.told)
		if done != c.done || (err != nil) != c.failed {
			t.Errorf("%s: done %v, %v", name, done, err)
		}
	}
}

// asks runs a command line in this process, where it costs least, at the time of
// siteClock.
func asks(t testing.TB, book string, args ...string) (status int, text string) {
	t.Helper()
	at, err := time.Parse(time.RFC3339, siteClock)
	if err != nil {
		t.Fatal(err)
	}
	var out bytes.Buffer
	env := session.System()
	env.In, env.Out, env.Err, env.Agent, env.Book = strings.NewReader(""), &out, &out, "", book
	env.Now = func() time.Time { return at }
	return Main(args, env), out.String()
}

// demands is asks of what must end with a status.
func demands(t testing.TB, status int, book string, args ...string) string {
	t.Helper()
	got, text := asks(t, book, args...)
	if got != status {
		t.Fatalf("%v ends with status %d, want %d:\n%s", args, got, status, text)
	}
	return text
}
