package session

import (
	"os"

	"golang.org/x/sys/unix"
)

// dropTyped throws away the whole lines that wait at a terminal and tells
// whether there were any.
func dropTyped(f *os.File) bool {
	fd := int(f.Fd())
	waiting := &unix.FdSet{}
	waiting.Set(fd)
	if n, err := unix.Select(fd+1, waiting, nil, nil, &unix.Timeval{}); err != nil || n == 0 {
		return false // poll does not know terminals there
	}
	const inputQueue = 1 // FREAD of <sys/fcntl.h>
	return unix.IoctlSetPointerInt(fd, unix.TIOCFLUSH, inputQueue) == nil
}
