// Package disk gives files their names, however long another program is in the way, and
// brings folders to the disk, so that what got or lost its name in one does so still after
// the power was cut.
package disk

import (
	"errors"
	"os"
	"runtime"
)

// SyncFolder returns when the names in a folder are on the disk.
func SyncFolder(dir string) error {
	if runtime.GOOS == "windows" { // folders cannot be opened for syncing there
		return nil
	}
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	return errors.Join(d.Sync(), d.Close())
}
