//go:build !windows

package files

// ownerAlone has nothing to do where the mode of a file says whose it is.
func ownerAlone(string) error { return nil }
