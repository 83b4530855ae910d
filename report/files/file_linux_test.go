package files

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"

	"github.com/google/go-cmp/cmp"

	"handback/testdata/rig"
)

func init() { rig.Children["write"] = childWrite }

// childWrite: path, number of bytes. Writes that many x.
func childWrite(args []string) error {
	n, err := strconv.Atoi(args[1])
	if err != nil {
		return err
	}
	return Write(args[0], bytes.Repeat([]byte("x"), n), Over{Force: true})
}

// listed are the names in a folder.
func listed(t *testing.T, dir string) []string {
	t.Helper()
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	names := []string{}
	for _, e := range entries {
		names = append(names, e.Name())
	}
	return names
}

func holds(t *testing.T, path, want string) {
	t.Helper()
	got, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(want, string(got)); diff != "" {
		t.Errorf("%s (-want +got):\n%s", path, diff)
	}
}

func TestWriteFile_new_and_over(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "handover.xlsx")
	for _, content := range []string{"first", "", "a longer second"} {
		if err := Write(path, []byte(content), Over{Force: true}); err != nil {
			t.Fatal(err)
		}
		holds(t, path, content)
	}
	if diff := cmp.Diff([]string{"handover.xlsx"}, listed(t, dir)); diff != "" {
		t.Errorf("left in the folder (-want +got):\n%s", diff)
	}
}

func TestWriteFile_keeps_permissions_and_follows_links(t *testing.T) {
	dir := t.TempDir()
	path, link := filepath.Join(dir, "private.txt"), filepath.Join(dir, "link.txt")
	if err := os.WriteFile(path, []byte("old"), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink("private.txt", link); err != nil {
		t.Skipf("links cannot be made here: %v", err)
	}
	if err := Write(link, []byte("new"), Over{Force: true}); err != nil {
		t.Fatal(err)
	}
	holds(t, path, "new")
	info, err := os.Lstat(path)
	if err != nil {
		t.Fatal(err)
	}
	if got := info.Mode().Perm(); got != 0o600 {
		t.Errorf("mode %o, want 600", got)
	}
	if info, err = os.Lstat(link); err != nil || info.Mode()&os.ModeSymlink == 0 {
		t.Errorf("the link was replaced: %v %v", info, err)
	}
}

func TestWriteFile_refuses(t *testing.T) {
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, "plain"), nil, 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink("nowhere", filepath.Join(dir, "lost")); err != nil {
		t.Skipf("links cannot be made here: %v", err)
	}
	before := listed(t, dir)
	for _, c := range []struct{ path, says string }{
		{dir, "it is a folder"},
		{filepath.Join(dir, "none", "x"), "there is no folder"},
		{filepath.Join(dir, "plain", "x"), "is not a folder"},
		{filepath.Join(dir, "lost"), "leads nowhere"},
		{os.DevNull, "not a plain file"},
	} {
		err := Write(c.path, []byte("x"), Over{Force: true})
		if err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v, want words %q", c.path, err, c.says)
		}
	}
	if diff := cmp.Diff(before, listed(t, dir)); diff != "" {
		t.Errorf("folder changed (-before +after):\n%s", diff)
	}
}

// TestWriteFile_read_only_folder runs as a person who may not write there: root may
// write anywhere.
func TestWriteFile_read_only_folder(t *testing.T) {
	root := t.TempDir()
	dir := filepath.Join(root, "archive")
	path := filepath.Join(dir, "handover.xlsx")
	if err := os.Mkdir(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, []byte("old"), 0o644); err != nil {
		t.Fatal(err)
	}
	if err := os.Chmod(path, 0o666); err != nil { // the folder alone is in the way
		t.Fatal(err)
	}
	t.Cleanup(func() { os.Chmod(dir, 0o755) }) // or nobody but root could remove it
	if err := os.Chmod(dir, 0o555); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { // what is in a folder that can only be read, only root can remove
		if err := os.Chmod(dir, 0o755); err != nil {
			t.Error(err)
		}
	})
	c := rig.Child(t, "write", path, "5")
	if os.Geteuid() == 0 {
		c.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: 65534, Gid: 65534}}
		c.Path = reachable(t, c.Path)
		openWay(t, dir)
	}
	out, err := c.CombinedOutput()
	if err == nil || !strings.Contains(string(out), "you may not write in folder") {
		t.Errorf("%v: %s", err, out)
	}
	holds(t, path, "old")
	if diff := cmp.Diff([]string{"handover.xlsx"}, listed(t, dir)); diff != "" {
		t.Errorf("left in the folder (-want +got):\n%s", diff)
	}
}

// reachable copies the test binary to where anybody may run it.
func reachable(t *testing.T, self string) string {
	t.Helper()
	data, err := os.ReadFile(self)
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	copied := filepath.Join(dir, "self")
	if err := os.WriteFile(copied, data, 0o755); err != nil {
		t.Fatal(err)
	}
	openWay(t, dir)
	return copied
}

// openWay lets anybody pass through the temporary folders above dir.
func openWay(t *testing.T, dir string) {
	t.Helper()
	for d := filepath.Dir(dir); len(d) > len(os.TempDir()); d = filepath.Dir(d) {
		if err := os.Chmod(d, 0o755); err != nil {
			t.Fatal(err)
		}
	}
	if filepath.Base(dir) != "archive" {
		if err := os.Chmod(dir, 0o755); err != nil {
			t.Fatal(err)
		}
	}
}

func TestWriteFile_file_size_limit(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "handover.xlsx")
	if err := os.WriteFile(path, []byte("old"), 0o644); err != nil {
		t.Fatal(err)
	}
	sh, err := exec.LookPath("sh")
	if err != nil {
		t.Skip("no sh to set a file size limit with")
	}
	c := rig.Child(t, "write", path, "1000000")
	// ulimit -f counts 512-byte blocks in sh; XFSZ is ignored so that writing fails
	// instead of killing the process.
	c.Args = append([]string{"sh", "-c", `trap '' XFSZ; ulimit -f 100; exec "$@"`, "sh"}, c.Args...)
	c.Path = sh
	out, err := c.CombinedOutput()
	if err == nil || !strings.Contains(string(out), "larger than a file may be here") {
		t.Errorf("%v: %s", err, out)
	}
	holds(t, path, "old")
	if diff := cmp.Diff([]string{"handover.xlsx"}, listed(t, dir)); diff != "" {
		t.Errorf("left in the folder (-want +got):\n%s", diff)
	}
}

func TestWriteFile_disk_full(t *testing.T) {
	if os.Geteuid() != 0 {
		t.Skip("mounting a small file system needs root; TestWriteFile_file_size_limit runs without")
	}
	dir := t.TempDir()
	if err := syscall.Mount("tmpfs", dir, "tmpfs", 0, "size=64k"); err != nil {
		t.Skipf("a small tmpfs cannot be mounted here: %v", err)
	}
	t.Cleanup(func() {
		if err := syscall.Unmount(dir, 0); err != nil {
			t.Error(err)
		}
	})
	path := filepath.Join(dir, "handover.xlsx")
	if err := os.WriteFile(path, []byte("old"), 0o644); err != nil {
		t.Fatal(err)
	}
	err := Write(path, make([]byte, 1<<20), Over{Force: true})
	if err == nil || !strings.Contains(err.Error(), "the disk is full") {
		t.Errorf("%v, want words on the full disk", err)
	}
	holds(t, path, "old")
	if diff := cmp.Diff([]string{"handover.xlsx"}, listed(t, dir)); diff != "" {
		t.Errorf("left in the folder (-want +got):\n%s", diff)
	}
}
