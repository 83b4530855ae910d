//go:build !linux && !darwin

package cmd

import "os"

// hideTyped is left to the reading of the words themselves here.
func hideTyped(*os.File) error { return nil }
