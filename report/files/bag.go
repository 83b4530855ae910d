package files

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"strings"

	"handback/records/bag"
	"handback/records/disk"
)

// WriteBag puts the files of a bag, or of another folder that stands for itself, at
// path, whole or not at all: a zip archive where path ends in .zip, with all files in a
// folder called top, a folder otherwise. What stands there already is never written
// over. Files have mode 0644 less the umask. pack gives the files.
//
// Errors are those of Write and of pack.
func WriteBag(path, top string, over Over, pack func(bag.BagSink) error) error {
	path, err := newPath(path, over)
	if err != nil {
		return err
	}
	if strings.EqualFold(filepath.Ext(path), ".zip") {
		return Stream(path, over, func(w io.Writer) error {
			z := bag.NewZipSink(w, top)
			if err := pack(z); err != nil {
				return err
			}
			return z.Close()
		})
	}
	return intoFolder(path, over, func(s folderSink) error { return pack(s) })
}

// WriteFolder puts files at path as a folder, whole or not at all, as WriteBag does; give
// hands out their content bit by bit.
func WriteFolder(path string, over Over, give func(put func(name string, write func(io.Writer) error) error) error) error {
	path, err := newPath(path, over)
	if err != nil {
		return err
	}
	return intoFolder(path, over, func(s folderSink) error { return give(s.stream) })
}

// intoFolder makes the folder at path of what fill puts into one beside it.
func intoFolder(path string, over Over, fill func(folderSink) error) error {
	sweep(filepath.Dir(path))
	temp, err := folderBeside(path)
	if err == nil {
		err = writeFolder(temp, path, fill)
	}
	if err != nil {
		if temp != "" {
			os.RemoveAll(temp) // the error that led here says more
		}
		return fmt.Errorf("write %s: %w", path, inWords(err, filepath.Dir(path)))
	}
	if err := disk.SyncFolder(filepath.Dir(path)); err != nil {
		return fmt.Errorf("write %s: it is in place, but a power cut now could still lose it: %w", path, err)
	}
	over.made(path)
	return nil
}

// newPath is where something new may be put.
func newPath(path string, over Over) (string, error) {
	path = filepath.Clean(path)
	if err := nameFor(runtime.GOOS, path); err != nil {
		return "", fmt.Errorf("write %s: %w", path, err)
	}
	if _, err := os.Lstat(path); !errors.Is(err, fs.ErrNotExist) {
		if err == nil {
			err = errors.New("it is there already, and is never written over; name another")
		}
		return "", fmt.Errorf("write %s: %w", path, inWords(err, filepath.Dir(path)))
	}
	_, err := over.Target(path)
	return path, err
}

// folderBeside makes a new folder beside path, for its owner alone.
func folderBeside(path string) (string, error) {
	dir, name := filepath.Split(path)
	for n := 0; ; n++ {
		temp := filepath.Join(dir, tempName(name, n))
		err := os.Mkdir(temp, 0o700)
		if err == nil {
			return temp, nil
		}
		if !errors.Is(err, fs.ErrExist) || n == 1000 {
			return "", err
		}
	}
}

// writeFolder fills the folder temp, brings it to the disk and gives it its name.
func writeFolder(temp, path string, put func(folderSink) error) error {
	s := folderSink{temp, map[string]bool{temp: true}}
	if err := put(s); err != nil {
		return err
	}
	for dir := range s.made {
		if err := disk.SyncFolder(dir); err != nil {
			return err
		}
	}
	if err := os.Chmod(temp, 0o755); err != nil { // made for its owner alone until it is whole
		return err
	}
	return disk.Rename(temp, path)
}

// folderSink writes the files of a bag into a folder.
type folderSink struct {
	dir  string
	made map[string]bool // folders to bring to the disk
}

// Put writes a file and brings it to the disk.
func (s folderSink) Put(name string, content []byte) error {
	return s.stream(name, func(w io.Writer) error {
		_, err := w.Write(content)
		return err
	})
}

// stream is Put of what write gives it, bit by bit.
func (s folderSink) stream(name string, write func(io.Writer) error) error {
	path := filepath.Join(s.dir, filepath.FromSlash(name))
	for dir := filepath.Dir(path); !s.made[dir]; dir = filepath.Dir(dir) {
		if err := os.MkdirAll(dir, 0o755); err != nil {
			return err
		}
		s.made[dir] = true
	}
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
	if err != nil {
		return err
	}
	return fill(f, write)
}
