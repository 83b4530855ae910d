package files

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"runtime"
	"strconv"
	"sync"
	"syscall"
	"time"
)

// tempName is what a file or folder is called until it is whole.
func tempName(name string, n int) string {
	return fmt.Sprintf(".%s.handback-%d-%d", name, os.Getpid(), n)
}

var tempPattern = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`^\..+\.handback-([0-9]+)-[0-9]+$`) })

// tempAge is how long nobody must have written to a part before it is taken away: a
// program that makes one never rests.
const tempAge = 10 * time.Minute

// sweep takes away what killed programs were writing in a folder. What cannot be
// taken away stays: it is in nobody's way but for its size.
func sweep(dir string) {
	entries, err := os.ReadDir(dir)
	if err != nil {
		return
	}
	for _, e := range entries {
		m := tempPattern().FindStringSubmatch(e.Name())
		if m == nil || time.Since(lastWritten(filepath.Join(dir, e.Name()))) < tempAge {
			continue
		}
		if pid, err := strconv.Atoi(m[1]); err == nil && !running(pid) {
			os.RemoveAll(filepath.Join(dir, e.Name()))
		}
	}
}

// lastWritten is the newest time of a file, or of anything in a folder; now when it
// cannot be told.
func lastWritten(path string) time.Time {
	var newest time.Time
	err := filepath.WalkDir(path, func(_ string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		info, err := d.Info()
		if err == nil && info.ModTime().After(newest) {
			newest = info.ModTime()
		}
		return err
	})
	if err != nil {
		return time.Now()
	}
	return newest
}

// running tells whether a process is there; where that cannot be asked, whether it
// may be.
func running(pid int) bool {
	p, err := os.FindProcess(pid)
	if err != nil {
		return false
	}
	defer p.Release()
	if runtime.GOOS == "windows" {
		return true // it was found
	}
	err = p.Signal(syscall.Signal(0))
	return err == nil || errors.Is(err, fs.ErrPermission)
}
