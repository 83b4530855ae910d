package records

import (
	"bytes"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
)

// fillDisk runs a child that appends until it is refused, then checks that the book
// holds what was acknowledged and can be written again once there is room.
func fillDisk(t *testing.T, b *Book, job string, c *exec.Cmd, makeRoom func()) {
	t.Helper()
	c.Stderr = os.Stderr
	out, err := c.Output()
	if err != nil {
		t.Fatal(err)
	}
	lines := strings.Fields(string(out))
	if len(lines) == 0 {
		t.Fatal("nothing was written before the disk was full")
	}
	makeRoom()
	again, err := Open(ctx, b.Path())
	if err != nil {
		t.Fatal(err)
	}
	defer again.Close()
	es, err := again.Append(ctx, job, -1, measured(1))
	if err != nil {
		t.Fatal(err)
	}
	// The pair that was refused left neither of its entries.
	var last int
	for _, c := range lines[len(lines)-1] {
		last = last*10 + int(c-'0')
	}
	same(t, last+1, es[0].Seq)
	verified(t, again)
}

func TestFull_file_size_limit(t *testing.T) {
	b := makeBook(t)
	job := makeJob(t, b, 1).Job
	b.Close()
	c := child(t, "fill", b.Path(), job)
	// ulimit -f counts 512-byte blocks in sh; XFSZ is ignored so that writing fails
	// instead of killing the process.
	c.Args = append([]string{"sh", "-c", `trap '' XFSZ; ulimit -f 800; exec "$@"`, "sh"}, c.Args...)
	sh, err := exec.LookPath("sh")
	if err != nil {
		t.Skip("no sh to set a file size limit with")
	}
	c.Path = sh
	fillDisk(t, b, job, c, func() {})
}

func TestFull_disk(t *testing.T) {
	if os.Geteuid() != 0 {
		t.Skip("mounting a small file system needs root; TestFull_file_size_limit runs without")
	}
	dir := t.TempDir()
	if err := syscall.Mount("tmpfs", dir, "tmpfs", 0, "size=1m"); err != nil {
		t.Skipf("a small tmpfs cannot be mounted here: %v", err)
	}
	t.Cleanup(func() {
		if err := syscall.Unmount(dir, 0); err != nil {
			t.Error(err)
		}
	})
	b, err := Create(ctx, filepath.Join(dir, "book.db"))
	if err != nil {
		t.Fatal(err)
	}
	job := makeJob(t, b, 1).Job
	b.Close()
	ballast := filepath.Join(dir, "ballast")
	if err := os.WriteFile(ballast, make([]byte, 400<<10), 0o600); err != nil {
		t.Fatal(err)
	}
	fillDisk(t, b, job, child(t, "fill", b.Path(), job), func() { os.Remove(ballast) })
}

// A person without the right to write reads a closed book; a book with a filled -wal
// beside it is refused in words, because its newest entries could not be seen.
func TestReadOnly_folder(t *testing.T) {
	top, err := os.MkdirTemp("", "records")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { os.Chmod(filepath.Join(top, "archive"), 0o700); os.RemoveAll(top) })
	dir := filepath.Join(top, "archive")
	path := filepath.Join(dir, "book.db")
	b, err := Create(ctx, path)
	if err != nil {
		t.Fatal(err)
	}
	makeJob(t, b, 3)
	crashed := map[string][]byte{}
	for _, side := range []string{"", "-wal"} {
		if crashed[side], err = os.ReadFile(path + side); err != nil {
			t.Fatal(err)
		}
	}
	if err := b.Close(); err != nil {
		t.Fatal(err)
	}
	run := func(want string) ([]byte, error) {
		c := asNobody(t, top, child(t, "read", path, want))
		return c.CombinedOutput()
	}
	lock := func() {
		for _, p := range []struct {
			name string
			mode os.FileMode
		}{{path, 0o444}, {dir, 0o555}, {top, 0o755}} {
			if err := os.Chmod(p.name, p.mode); err != nil {
				t.Fatal(err)
			}
		}
	}
	lock()
	before, _ := os.ReadFile(path)
	if out, err := run("4"); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	if after, _ := os.ReadFile(path); !bytes.Equal(before, after) {
		t.Error("the file was changed")
	}
	if err := os.Chmod(dir, 0o700); err != nil {
		t.Fatal(err)
	}
	if err := os.Remove(path); err != nil {
		t.Fatal(err)
	}
	for side, content := range crashed {
		if err := os.WriteFile(path+side, content, 0o444); err != nil {
			t.Fatal(err)
		}
	}
	lock()
	out, err := run("4")
	var exit *exec.ExitError
	if !errors.As(err, &exit) || !strings.Contains(string(out), "copy both files") {
		t.Errorf("a book with a filled -wal in a read-only folder: %v: %s", err, out)
	}
}

// asNobody makes the child run without root's right to write everywhere.
func asNobody(t *testing.T, dir string, c *exec.Cmd) *exec.Cmd {
	t.Helper()
	if os.Geteuid() != 0 {
		return c
	}
	self, err := os.ReadFile(c.Path)
	if err != nil {
		t.Fatal(err)
	}
	c.Path = filepath.Join(dir, "self") // the built one lies in a folder of root's
	if err := os.WriteFile(c.Path, self, 0o755); err != nil {
		t.Fatal(err)
	}
	c.Dir = "/"
	c.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: 65534, Gid: 65534}}
	return c
}
