//go:build !linux && !darwin

package session

import "os"

// dropTyped drops nothing: there is no portable way to look at what waits.
func dropTyped(*os.File) bool { return false }
