package session

import (
	"os"

	"golang.org/x/sys/unix"
)

// dropTyped throws away the whole lines that wait at a terminal and tells
// whether there were any.
func dropTyped(f *os.File) bool {
	fd := int(f.Fd())
	wait := []unix.PollFd{{Fd: int32(fd), Events: unix.POLLIN}}
	n, err := unix.Poll(wait, 0)
	if err != nil || n == 0 || wait[0].Revents&unix.POLLIN == 0 {
		return false
	}
	return unix.IoctlSetInt(fd, unix.TCFLSH, unix.TCIFLUSH) == nil
}
