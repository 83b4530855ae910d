package disk

import (
	"errors"
	"os"
	"runtime"
	"syscall"
	"time"
)

// Rename gives what was made its name. On Windows nothing that another program has open is
// renamed or replaced, and a virus scanner looks at whatever was just written: there it is
// tried for a while.
func Rename(temp, target string) error {
	return patiently(runtime.GOOS, time.Sleep, func() error { return os.Rename(temp, target) })
}

// patiently tries again while another program is in the way, for two seconds or so (our
// choice; scanners take less, and who has a workbook open waits for no longer to be told).
func patiently(system string, pause func(time.Duration), try func() error) error {
	const tries = 10
	for n := 1; ; n++ {
		err := try()
		if n == tries || !inUse(system, err) {
			return err
		}
		pause(time.Duration(n) * 50 * time.Millisecond)
	}
}

// Errors of Windows (from memory of <winerror.h>) where another program has a file open.
const (
	accessDenied     syscall.Errno = 5 // to rename over it
	sharingViolation syscall.Errno = 32
	lockViolation    syscall.Errno = 33
)

// InUse tells whether the system refused something because another program has a file open.
func InUse(err error) bool { return inUse(runtime.GOOS, err) }

func inUse(system string, err error) bool {
	var no syscall.Errno
	if system != "windows" || !errors.As(err, &no) {
		return false
	}
	return no == accessDenied || no == sharingViolation || no == lockViolation
}
