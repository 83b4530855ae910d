package disk

import (
	"errors"
	"fmt"
	"os"
	"syscall"
	"testing"
	"time"
)

// What another program has open is tried again on Windows, where the numbers of errors are
// those of <winerror.h> (from memory): 2 no such file, 5 access denied, 32 sharing, 33 lock.
func TestPatiently(t *testing.T) {
	for _, c := range []struct {
		system    string
		err       error
		free      int // the try that goes well
		tries     int
		good, use bool
	}{
		{"windows", syscall.Errno(32), 3, 3, true, true},
		{"windows", &os.LinkError{Op: "rename", Err: syscall.Errno(5)}, 2, 2, true, true},
		{"windows", fmt.Errorf("write: %w", syscall.Errno(33)), 100, 10, false, true},
		{"windows", syscall.Errno(2), 2, 1, false, false},
		{"windows", errors.New("something else"), 2, 1, false, false},
		{"linux", syscall.Errno(32), 3, 1, false, false},
		{"darwin", syscall.Errno(5), 3, 1, false, false},
	} {
		tries, waited := 0, time.Duration(0)
		err := patiently(c.system, func(d time.Duration) { waited += d }, func() error {
			if tries++; tries == c.free {
				return nil
			}
			return c.err
		})
		if tries != c.tries || (err == nil) != c.good {
			t.Errorf("%s, %v: %d tries, %v", c.system, c.err, tries, err)
		}
		if (waited > 0) != (tries > 1) || waited > 3*time.Second {
			t.Errorf("%s, %v: waited for %s in %d tries", c.system, c.err, waited, tries)
		}
		if got := inUse(c.system, c.err); got != c.use {
			t.Errorf("%s, %v: in use: %t", c.system, c.err, got)
		}
	}
}
