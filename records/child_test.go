package records

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// children are the jobs of a re-executed test binary, see TestMain.
var children = map[string]func([]string) error{
	"append":  childAppend,
	"forever": childForever,
	"read":    childRead,
	"fill":    childFill,
}

// child prepares a run of this test binary as another process.
func child(t testing.TB, job string, args ...string) *exec.Cmd {
	t.Helper()
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	c := exec.Command(self, args...)
	c.Env = append(os.Environ(), childJob+"="+job)
	return c
}

// childAppend: path, job, name of the writer, number of entries.
func childAppend(args []string) error {
	b, err := OpenOrCreate(ctx, args[0])
	if err != nil {
		return err
	}
	n, err := strconv.Atoi(args[3])
	if err != nil {
		return err
	}
	for i := range n {
		d := measured(i)
		d.By = args[2]
		if _, err := b.Append(ctx, args[1], -1, d); err != nil {
			return err
		}
	}
	return b.Close()
}

// childForever: path, job. Appends until it is killed and prints each seq once
// Append has returned.
func childForever(args []string) error {
	b, err := Open(ctx, args[0])
	if err != nil {
		return err
	}
	for i := 0; ; i++ {
		es, err := b.Append(ctx, args[1], -1, measured(i))
		if err != nil {
			return err
		}
		fmt.Println(es[0].Seq, es[0].Hash)
	}
}

// childRead: path, number of entries that must be there. Prints what OpenRead says
// when it cannot.
func childRead(args []string) error {
	b, err := OpenRead(ctx, args[0])
	if err != nil {
		return err
	}
	defer b.Close()
	c, err := readAll(b)
	if err != nil {
		return err
	}
	faults, err := b.Verify(ctx)
	if err != nil {
		return err
	}
	n := 0
	for _, es := range c.Entries {
		n += len(es)
	}
	if len(faults) > 0 || fmt.Sprint(n) != args[1] {
		return fmt.Errorf("%d entries, %s wanted; faults %v", n, args[1], faults)
	}
	w, err := Open(ctx, args[0])
	if err == nil {
		_, err = w.Append(ctx, c.Jobs[0].ID, -1, measured(1))
	}
	if !errors.Is(err, ErrReadOnly) {
		return fmt.Errorf("writing gave %v, want ErrReadOnly", err)
	}
	return nil
}

// childFill: path, job. Appends until the disk refuses, and checks how.
func childFill(args []string) error {
	b, err := Open(ctx, args[0])
	if err != nil {
		return err
	}
	large := measured(0)
	large.Data = map[string]any{"note": strings.Repeat("n", 20_000)}
	for range 1000 {
		es, err := b.Append(ctx, args[1], -1, large, large)
		if err == nil {
			fmt.Println(es[1].Seq)
			continue
		}
		if !errors.Is(err, ErrFull) || !strings.Contains(err.Error(), "make room") {
			return fmt.Errorf("refused with %w, want ErrFull in words", err)
		}
		return nil
	}
	return errors.New("the disk never filled")
}

func TestProcesses_append(t *testing.T) {
	b := makeBook(t)
	job := makeJob(t, b, 0).Job
	const writers, each = 3, 30
	var running []*exec.Cmd
	for w := range writers {
		c := child(t, "append", b.Path(), job, fmt.Sprint("writer ", w), fmt.Sprint(each))
		c.Stderr = os.Stderr
		if err := c.Start(); err != nil {
			t.Fatal(err)
		}
		running = append(running, c)
	}
	for _, c := range running {
		if err := c.Wait(); err != nil {
			t.Error(err)
		}
	}
	checkWriters(t, b, job, writers, each, 1)
}

// Many processes begin the same book: one makes it, all use it.
func TestProcesses_create(t *testing.T) {
	path := filepath.Join(t.TempDir(), "new", "book.db")
	var running []*exec.Cmd
	for range 4 {
		c := child(t, "append", path, "pump-1", "x", "0")
		c.Stderr = os.Stderr
		if err := c.Start(); err != nil {
			t.Fatal(err)
		}
		running = append(running, c)
	}
	for _, c := range running {
		if err := c.Wait(); err != nil {
			t.Error(err)
		}
	}
	b, err := Open(ctx, path)
	if err != nil {
		t.Fatal(err)
	}
	verified(t, b)
	b.Close()
	if names, _ := os.ReadDir(filepath.Dir(path)); len(names) != 1 {
		t.Errorf("files were left behind: %v", names)
	}
}

// A writer is killed while it writes, again and again. Every entry it said was
// written must be there.
func TestProcesses_kill(t *testing.T) {
	rounds := 40
	if testing.Short() {
		rounds = 5
	}
	b := makeBook(t)
	job := makeJob(t, b, 0).Job
	b.Close()
	acked := map[int]string{}
	for round := range rounds {
		c := child(t, "forever", b.Path(), job)
		c.Stderr = os.Stderr
		out, err := c.StdoutPipe()
		if err != nil {
			t.Fatal(err)
		}
		if err := c.Start(); err != nil {
			t.Fatal(err)
		}
		lines := bufio.NewScanner(out)
		for n := 0; lines.Scan(); n++ {
			var seq int
			var hash string
			if _, err := fmt.Sscan(lines.Text(), &seq, &hash); err != nil {
				break // a line cut by the kill
			}
			acked[seq] = hash
			if n == round%11 { // at another moment in each round
				c.Process.Kill()
			}
		}
		io.Copy(io.Discard, out)
		c.Wait() // says that it was killed
		open := Open
		if round%2 == 0 {
			open = OpenRead
		}
		again, err := open(ctx, b.Path())
		if err != nil {
			t.Fatal(err)
		}
		es, err := again.Entries(ctx, job)
		if err != nil {
			t.Fatal(err)
		}
		verified(t, again)
		for seq, hash := range acked {
			if seq > len(es) || es[seq-1].Hash != hash {
				t.Fatalf("round %d: entry %d was acknowledged and is not there", round, seq)
			}
		}
		if err := again.Close(); err != nil {
			t.Fatal(err)
		}
	}
	if len(acked) < rounds {
		t.Fatalf("only %d entries were acknowledged in %d rounds: nothing was tested", len(acked), rounds)
	}
}
