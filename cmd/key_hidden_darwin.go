package cmd

import (
	"os"

	"golang.org/x/sys/unix"
)

// hideTyped keeps a terminal from showing what is typed.
func hideTyped(terminal *os.File) error {
	state, err := unix.IoctlGetTermios(int(terminal.Fd()), unix.TIOCGETA)
	if err != nil {
		return err
	}
	state.Lflag &^= unix.ECHO
	return unix.IoctlSetTermios(int(terminal.Fd()), unix.TIOCSETA, state)
}
