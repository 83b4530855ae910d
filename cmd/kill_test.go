package cmd

import (
	"flag"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"slices"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"handback/records/chain"
	"handback/report"
	"handback/testdata/outside"
)

var killRounds = flag.Int("kill.rounds", 50, "how often each command is killed; some 30 rounds take a second, so many need -timeout too")

// numbers gives readings that are all different, so that each can be looked for.
type numbers struct {
	mu sync.Mutex
	n  int
}

func (n *numbers) next() string {
	n.mu.Lock()
	defer n.mu.Unlock()
	n.n++
	return fmt.Sprintf("%d", 1000+n.n)
}

// answer types the next number to one prompt of a job of longPlan.
func (n *numbers) answer(c *console) (more bool) {
	_, ok := c.asks()
	if ok {
		c.types(n.next())
	}
	return ok
}

var keptNumber = regexp.MustCompile(`stored: volts, p\d+ (\d+) V\n`)

// keptIn are the readings that a text says are kept.
func keptIn(text string) []string {
	var out []string
	for _, m := range keptNumber.FindAllStringSubmatch(text, -1) {
		out = append(out, m[1])
	}
	return out
}

// inBook are the readings that a job holds, in order.
func inBook(t testing.TB, book, job string) []string {
	t.Helper()
	var out []string
	for _, e := range entriesOf(t, book, job) {
		if e.Kind != report.EntryRead {
			continue
		}
		var r report.Read
		if err := chain.DecodeStrict(e.Data, &r); err != nil {
			t.Fatal(err)
		}
		for key, a := range r.Answers {
			if key != "meter" {
				out = append(out, a.Typed)
			}
		}
	}
	return out
}

// Whatever the moment of a kill -9, every line that was said to be kept is in the
// book, nothing else but the line under way is, the book is sound, and the walk
// goes on from there to the end of the job.
func TestWalk_killed(t *testing.T) {
	outside.Long(t)
	rounds := *killRounds
	if testing.Short() {
		rounds = min(rounds, 4)
	}
	seed := uint64(time.Now().UnixNano())
	t.Logf("seed %d", seed)
	chance := rand.New(rand.NewPCG(seed, 0))
	const checks, points = 6, 20
	book, job := newJob(t, longPlan(checks, points))
	n := &numbers{}
	var kept []string
	killed, finished := 0, 0
	for round := 0; killed < rounds; round++ {
		before := len(kept)
		c := onPipes(t, program(book, "handback", "walk", job))
		lines := chance.IntN(12)
		for range lines {
			if !n.answer(c) {
				break
			}
		}
		if chance.IntN(2) == 0 { // in the middle of a write, where it may be
			n.answer(c)
			time.Sleep(time.Duration(chance.IntN(5000)) * time.Microsecond)
		}
		c.cmd.Process.Kill()
		status, text := c.all()
		if status == -1 {
			killed++
		} else if status != exitDone {
			t.Fatalf("round %d: the walk ended with status %d:\n%s", round, status, text)
		}
		kept = append(kept, keptIn(text)...)
		got := inBook(t, book, job)
		if !slices.Equal(got[:min(len(got), len(kept))], kept) || len(got) > len(kept)+1 {
			t.Fatalf("round %d, %d lines kept before: the book holds other readings than were said to be kept (-said +book):\n%s", round, before, cmp.Diff(kept, got))
		}
		kept = got // the line under way may have come in without being said
		sound(t, book)
		if len(kept) == checks*points && !walkToEnd(t, n, book, job) {
			t.Fatal("the job has all its readings and does not end")
		}
		if len(kept) == checks*points {
			book, job = newJob(t, longPlan(checks, points)) // a book that grows would slow many rounds down
			kept, finished = nil, finished+1
		}
	}
	if !walkToEnd(t, n, book, job) {
		t.Fatal("the job could not be finished")
	}
	sound(t, book)
	t.Logf("%d kills, %d jobs finished on the way", killed, finished)
}

// walkToEnd walks a job to its end and tells whether it is ready for service.
func walkToEnd(t *testing.T, n *numbers, book, job string) bool {
	t.Helper()
	c := onPipes(t, program(book, "handback", "walk", job))
	for n.answer(c) {
	}
	c.ends(exitDone)
	return program(book, "handback", "status", job).Run() == nil
}

// Two walks of one job at once: a line is kept by one of them or said not to be
// stored, never lost, never doubled.
func TestWalk_twoAtOnce(t *testing.T) {
	outside.Long(t)
	const checks, points = 2, 20
	book, job := newJob(t, longPlan(checks, points))
	n := &numbers{}
	var texts [2]string
	var all sync.WaitGroup
	for i := range texts {
		c := onPipes(t, program(book, "handback", "walk", job))
		all.Go(func() {
			for n.answer(c) {
			}
			_, texts[i] = c.all()
		})
	}
	all.Wait()
	var said []string
	for i, text := range texts {
		if !strings.Contains(text, "end of the plan") {
			t.Errorf("walk %d did not come to the end:\n%s", i+1, text)
		}
		said = append(said, keptIn(text)...)
	}
	got := inBook(t, book, job)
	slices.Sort(said)
	slices.Sort(got)
	if diff := cmp.Diff(said, got); diff != "" {
		t.Errorf("the book holds other readings than were said to be kept (-said +book):\n%s", diff)
	}
	if len(got) < checks*points {
		t.Errorf("%d readings are kept, want at least %d", len(got), checks*points)
	}
	sound(t, book)
}

// Entering into one job from many programs at once: each is recorded or says that
// it is not.
func TestEnter_manyAtOnce(t *testing.T) {
	const programs = 8
	book, job := newJob(t, longPlan(programs, 1))
	var cmds []*exec.Cmd
	var talk [programs]strings.Builder
	for i := range programs {
		c := program(book, "handback", "enter", job, fmt.Sprintf("c%d", i+1), "meter=dmm", fmt.Sprintf("p1=%d", i+1))
		c.Stdout, c.Stderr = &talk[i], &talk[i]
		if err := c.Start(); err != nil {
			t.Fatal(err)
		}
		cmds = append(cmds, c)
	}
	var want []string
	for i, c := range cmds {
		c.Wait()
		switch c.ProcessState.ExitCode() {
		case exitDone:
			want = append(want, fmt.Sprint(i+1))
		case exitFailed:
			if !strings.Contains(talk[i].String(), "handback: ") {
				t.Errorf("enter %d failed without a word: %q", i+1, talk[i].String())
			}
		default:
			t.Errorf("enter %d: %v\n%s", i+1, c.ProcessState, talk[i].String())
		}
	}
	got := inBook(t, book, job)
	slices.Sort(got)
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("readings of the programs that ended well (-want +book):\n%s", diff)
	}
	if len(want) == 0 {
		t.Error("no program could record anything")
	}
	sound(t, book)
}

// A write that the system refuses is one clear error; what was kept stays, and
// when there is room again the walk goes on.
func TestWalk_noRoom(t *testing.T) {
	outside.Long(t)
	bash, err := exec.LookPath("bash")
	if err != nil || runtime.GOOS == "windows" {
		t.Skip("needs bash and its ulimit")
	}
	book, job := newJob(t, longPlan(40, 3))
	info, err := os.Stat(book)
	if err != nil {
		t.Fatal(err)
	}
	limit := fmt.Sprintf("ulimit -f %d; exec \"$@\"", info.Size()/1024+16) // in KiB
	c := onPipes(t, program(book, bash, "-c", limit, "bash", "handback", "walk", job))
	n := &numbers{}
	for n.answer(c) {
	}
	text := c.ends(exitFailed)
	if got := strings.Count(text, "handback: "); got != 1 || !strings.Contains(text, "no room to write") {
		t.Errorf("%d errors, want one that says there is no room:\n%s", got, text)
	}
	keptAndGoesOn(t, n, book, job, text)
}

// keptAndGoesOn demands that all that was said to be kept is in the book, that the
// book is sound, and that the job can be finished.
func keptAndGoesOn(t *testing.T, n *numbers, book, job, text string) {
	t.Helper()
	said := keptIn(text)
	if diff := cmp.Diff(said, inBook(t, book, job)); diff != "" {
		t.Errorf("readings (-said to be kept +book):\n%s", diff)
	}
	if len(said) == 0 {
		t.Errorf("nothing was kept before the error:\n%s", text)
	}
	sound(t, book)
	if !walkToEnd(t, n, book, job) {
		t.Error("the job could not be finished afterwards")
	}
	sound(t, book)
}

// A disk that is truly full, where the tests may mount one.
func TestWalk_fullDisk(t *testing.T) {
	outside.Long(t)
	if runtime.GOOS != "linux" || os.Geteuid() != 0 {
		t.Skip("only root may mount a small disk, and only on Linux")
	}
	disk := t.TempDir()
	if out, err := exec.Command("mount", "-t", "tmpfs", "-o", "size=160k", "tmpfs", disk).CombinedOutput(); err != nil {
		t.Skipf("no small disk can be mounted: %s", out)
	}
	t.Cleanup(func() { exec.Command("umount", "-l", disk).Run() })
	book := filepath.Join(disk, "book.db")
	if err := os.WriteFile(filepath.Join(disk, "plan.yaml"), []byte(longPlan(40, 3)), 0o600); err != nil {
		t.Fatal(err)
	}
	job := openJob(t, book)
	n := &numbers{}
	c := onPipes(t, program(book, "handback", "walk", job))
	for n.answer(c) {
	}
	text := c.ends(exitFailed)
	if got := strings.Count(text, "handback: "); got != 1 || !strings.Contains(text, "no room to write") {
		t.Errorf("%d errors, want one that says there is no room:\n%s", got, text)
	}
	if out, err := exec.Command("mount", "-o", "remount,size=4m", disk).CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	keptAndGoesOn(t, n, book, job, text)
}

// Where nothing may be written the walk says so at once; reading still works.
func TestWalk_readOnlyFolder(t *testing.T) {
	if runtime.GOOS != "linux" {
		t.Skip("the rights of files are dropped for the child on Linux only")
	}
	book, job := newJob(t, longPlan(1, 1))
	for path, mode := range map[string]os.FileMode{book: 0o400, filepath.Dir(book): 0o500} {
		if err := os.Chmod(path, mode); err != nil {
			t.Fatal(err)
		}
	}
	t.Cleanup(func() { os.Chmod(filepath.Dir(book), 0o700) })
	c := onPipes(t, program(book, "unprivileged", "handback", "walk", job))
	if text := c.ends(exitFailed); !strings.HasPrefix(text, "handback: ") || strings.Count(text, "\n") != 1 || !strings.Contains(text, "cannot be written") {
		t.Errorf("want one line that says it cannot be written:\n%s", text)
	}
	status := program(book, "unprivileged", "handback", "status", job)
	out, _ := status.CombinedOutput()
	if got := status.ProcessState.ExitCode(); got != exitNotReady || !strings.Contains(string(out), "Many readings") {
		t.Errorf("status ends with %d:\n%s", got, out)
	}
}

// A reader of the output that goes away takes no reading with it.
func TestWalk_outputGone(t *testing.T) {
	book, job := newJob(t, longPlan(1, 3))
	r, w, err := os.Pipe()
	if err != nil {
		t.Fatal(err)
	}
	cmd := program(book, "handback", "walk", job)
	cmd.Stdin = strings.NewReader("\n231\n232\n233\n")
	cmd.Stdout = w
	r.Close()
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	w.Close()
	cmd.Wait() // by the signal of a broken pipe, or to the end
	got := inBook(t, book, job)
	if !slices.Equal([]string{"231", "232", "233"}[:len(got)], got) {
		t.Errorf("the book holds %v", got)
	}
	sound(t, book)
	if !walkToEnd(t, &numbers{}, book, job) {
		t.Error("the job could not be finished afterwards")
	}
}

// An interrupt is heard while the walk waits for a pipe, and so is being told to end.
func TestWalk_interruptedOnAPipe(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("no interrupt can be sent to one process there")
	}
	for _, signal := range []os.Signal{os.Interrupt, syscall.SIGTERM} {
		book, job := newJob(t, longPlan(1, 3))
		c := onPipes(t, program(book, "handback", "walk", job))
		c.answers("p1, p2, p3 [V] 500000, passes 10000 to 990000 V: ", "1231")
		c.sees("p2, p3 [V] 500000")
		if err := c.cmd.Process.Signal(signal); err != nil {
			t.Fatal(err)
		}
		if text := c.ends(exitStopped); !strings.HasSuffix(text, "go on with: handback walk long-1\nhandback: interrupted; every accepted line is stored\n") {
			t.Errorf("%v: it does not say what happened and what to type:\n%s", signal, text)
		}
		again := onPipes(t, program(book, "handback", "walk", job))
		again.sees("stored before: 1 line, the last: instrument: dmm, volts, p1 1231 V")
		again.answers("p2, p3 [V] 500000, passes 10000 to 990000 V: ", "1232 1233")
		again.sees("end of the plan")
		again.ends(exitDone)
		sound(t, book)
	}
}
