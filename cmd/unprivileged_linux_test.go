package cmd

import (
	"fmt"
	"os"
	"os/exec"
	"runtime"
	"syscall"

	"golang.org/x/sys/unix"
)

// unprivileged runs the command that its arguments name without root's leave to
// pass over the rights of files, so that a read-only folder is one for root too.
func unprivileged() {
	if err := runUnprivileged(os.Args[1:]); err != nil {
		fmt.Fprintln(os.Stderr, "unprivileged:", err)
		os.Exit(125)
	}
}

func runUnprivileged(args []string) error {
	path, err := exec.LookPath(args[0])
	if err != nil {
		return err
	}
	if os.Geteuid() == 0 {
		runtime.LockOSThread() // the bounding set belongs to the thread that execs
		for _, c := range []uintptr{unix.CAP_DAC_OVERRIDE, unix.CAP_DAC_READ_SEARCH} {
			if err := unix.Prctl(unix.PR_CAPBSET_DROP, c, 0, 0, 0); err != nil {
				return err
			}
		}
		header := unix.CapUserHeader{Version: unix.LINUX_CAPABILITY_VERSION_3}
		var sets [2]unix.CapUserData
		if err := unix.Capget(&header, &sets[0]); err != nil {
			return err
		}
		sets[0].Inheritable, sets[1].Inheritable = 0, 0
		if err := unix.Capset(&header, &sets[0]); err != nil {
			return err
		}
	}
	return syscall.Exec(path, args, os.Environ())
}
