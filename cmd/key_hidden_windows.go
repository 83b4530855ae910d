package cmd

import (
	"os"

	"golang.org/x/sys/windows"
)

// hideTyped keeps a console from showing what is typed.
func hideTyped(console *os.File) error {
	h := windows.Handle(console.Fd())
	var mode uint32
	if err := windows.GetConsoleMode(h, &mode); err != nil {
		return err
	}
	return windows.SetConsoleMode(h, mode&^windows.ENABLE_ECHO_INPUT)
}
