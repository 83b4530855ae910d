package files

import (
	"errors"
	"os"
	"runtime"
	"syscall"
	"time"
)

// rename gives what was made its name. On Windows nothing that another program has open is
// renamed or replaced, and a virus scanner looks at whatever was just written: there it is
// tried for a while.
func rename(temp, target string) error {
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

// inUse tells whether a system refused something because another program has a file open.
func inUse(system string, err error) bool {
	var no syscall.Errno
	if system != "windows" || !errors.As(err, &no) {
		return false
	}
	return no == accessDenied || no == sharingViolation || no == lockViolation
}

// errInUse is what a person does about a file that is there already and in use.
var errInUse = errors.New("another program has it open; close it there, or name another file")
