package records

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"syscall"
	"testing"
)

// On a disk of any size a new book is there whole or not at all: pages that the log
// held when the disk was full must not be missed later.
func TestCreate_full_disk(t *testing.T) {
	if os.Geteuid() != 0 {
		t.Skip("mounting a small file system needs root")
	}
	made, refused := 0, 0
	for size := 32; size <= 160; size += 4 {
		dir := t.TempDir()
		if err := syscall.Mount("tmpfs", dir, "tmpfs", 0, fmt.Sprintf("size=%dk", size)); err != nil {
			t.Skipf("a small tmpfs cannot be mounted here: %v", err)
		}
		t.Cleanup(func() {
			if err := syscall.Unmount(dir, 0); err != nil {
				t.Error(err)
			}
		})
		path := filepath.Join(dir, "book.db")
		b, err := Create(ctx, path)
		if err == nil {
			made++
			b.Close()
		} else if refused++; !errors.Is(err, ErrFull) {
			t.Errorf("%d KiB: %v", size, err)
		}
		if err := syscall.Mount("tmpfs", dir, "tmpfs", syscall.MS_REMOUNT, "size=1m"); err != nil {
			t.Fatal(err)
		}
		if b, err = OpenOrCreate(ctx, path); err != nil {
			t.Errorf("%d KiB, and room made: %v", size, err)
			continue
		}
		makeJob(t, b, 1)
		verified(t, b)
		b.Close()
	}
	if made == 0 || refused == 0 {
		t.Errorf("%d books made, %d refused: the sizes do not reach both", made, refused)
	}
}
