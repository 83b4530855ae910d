package records

import (
	"fmt"
	"os"
	"os/exec"
	"strings"
	"testing"

	"handback/testdata/outside"
)

func init() { children["examine"] = childExamine }

// childExamine: path. Opens a book, reads all of it and verifies it, and prints what
// the first of them to fail says.
func childExamine(args []string) error {
	b, err := OpenRead(ctx, args[0])
	if err != nil {
		fmt.Println(err)
		return nil
	}
	defer b.Close()
	if _, err := readAll(b); err != nil {
		fmt.Println(err)
		return nil
	}
	faults, err := b.Verify(ctx)
	if err != nil {
		fmt.Println(err)
	}
	for _, f := range faults {
		fmt.Println("FAULT", f)
	}
	return nil
}

// A page that the disk does not give is told as that, at whichever read it comes: a
// person told that the book is damaged would throw a good one away. strace makes the
// reads fail (https://man7.org/linux/man-pages/man1/strace.1.html, -e inject).
func TestRead_disk_error(t *testing.T) {
	outside.Long(t)
	strace, err := exec.LookPath("strace")
	if err != nil {
		if os.Getenv("HANDBACK_OUTSIDE") == "require" {
			t.Fatal("strace is not installed, and HANDBACK_OUTSIDE=require")
		}
		t.Skip("strace is not installed")
	}
	if out, err := exec.Command(strace, "-o", "/dev/null", "true").CombinedOutput(); err != nil {
		t.Skipf("nothing can be traced here: %s", out)
	}
	b := makeBook(t)
	job := makeJob(t, b, 60).Job
	if _, err := b.Append(ctx, job, -1, attached("a.txt", testFile)); err != nil {
		t.Fatal(err)
	}
	b.Close()
	fell := 0
	for n := 1; n <= 60; n++ {
		for _, more := range []string{"", "+"} { // this read alone, or all from it on
			c := child(t, "examine", b.Path())
			c.Args = append([]string{"strace", "-f", "-o", "/dev/null", "-P", b.Path(), "-e", "trace=pread64",
				"-e", fmt.Sprintf("inject=pread64:error=EIO:when=%d%s", n, more)}, c.Args...)
			c.Path = strace
			out, err := c.CombinedOutput()
			said := string(out)
			switch {
			case err != nil:
				t.Fatalf("read %d%s: %v: %s", n, more, err, said)
			case strings.Contains(said, ErrDamaged.Error()), strings.Contains(said, "FAULT"), strings.Contains(said, ErrForeign.Error()), strings.Contains(said, "malformed"):
				t.Errorf("read %d%s: %s", n, more, said)
			case strings.Contains(said, ErrIO.Error()):
				fell++
			case said != "":
				t.Errorf("read %d%s: %s", n, more, said)
			}
		}
	}
	if fell < 10 {
		t.Errorf("only %d of the errors were told", fell)
	}
}
