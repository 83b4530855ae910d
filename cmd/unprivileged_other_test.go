//go:build !linux

package cmd

import (
	"fmt"
	"os"
)

// unprivileged is only written for Linux; scripts ask for [linux] first.
func unprivileged() {
	fmt.Fprintln(os.Stderr, "unprivileged: only on linux")
	os.Exit(125)
}
