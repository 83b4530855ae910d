package report

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"syscall"
)

// WriteFile puts data at path, whole or not at all: it writes a file beside the
// target, brings it to the disk, renames it over the target and brings the folder
// to the disk. A file that stood there keeps its permissions and stays untouched
// until the rename; a link is followed. A new file gets mode 0666 less the umask.
//
// Errors say in plain words what stopped it; then the target is as it was and no
// other file is left. The one exception is named in the error: the file is in
// place, but the folder could not be brought to the disk.
func WriteFile(path string, data []byte) error {
	return writeFile(path, func(w io.Writer) error {
		_, err := w.Write(data)
		return err
	})
}

// writeFile is WriteFile of what write gives it.
func writeFile(path string, write func(io.Writer) error) error {
	target, mode, err := targetOf(path)
	if err != nil {
		return err
	}
	tmp, err := beside(target, mode)
	if err != nil {
		return fmt.Errorf("write %s: %w", path, inWords(err, filepath.Dir(target)))
	}
	if err := fill(tmp, write); err != nil {
		os.Remove(tmp.Name()) // the error that led here says more
		return fmt.Errorf("write %s: %w", path, inWords(err, filepath.Dir(target)))
	}
	if err := os.Rename(tmp.Name(), target); err != nil {
		os.Remove(tmp.Name())
		return fmt.Errorf("write %s: %w", path, inWords(err, filepath.Dir(target)))
	}
	if err := syncFolder(filepath.Dir(target)); err != nil {
		return fmt.Errorf("write %s: it is in place, but a power cut now could still lose it: %w", path, err)
	}
	return nil
}

// targetOf is the plain file that path means, and the mode it is to have.
func targetOf(path string) (string, fs.FileMode, error) {
	if err := nameFor(runtime.GOOS, path); err != nil {
		return "", 0, fmt.Errorf("write %s: %w", path, err)
	}
	target := path
	if real, err := filepath.EvalSymlinks(path); err == nil {
		target = real
	}
	info, err := os.Lstat(target)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return target, 0, nil
	case err != nil:
		return "", 0, fmt.Errorf("write %s: %w", path, inWords(err, filepath.Dir(target)))
	case info.IsDir():
		return "", 0, fmt.Errorf("write %s: it is a folder; name a file in it", path)
	case info.Mode()&fs.ModeSymlink != 0:
		return "", 0, fmt.Errorf("write %s: it is a link that leads nowhere; remove it or name another file", path)
	case !info.Mode().IsRegular():
		return "", 0, fmt.Errorf("write %s: it is not a plain file; name another", path)
	}
	return target, info.Mode().Perm(), nil
}

// beside makes a new file in the folder of target. A mode of 0 leaves the choice to
// the umask.
func beside(target string, mode fs.FileMode) (*os.File, error) {
	dir, name := filepath.Split(target)
	for n := 0; ; n++ {
		f, err := os.OpenFile(fmt.Sprintf("%s.%s.part-%d-%d", dir, name, os.Getpid(), n), os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o666)
		if errors.Is(err, fs.ErrExist) && n < 1000 {
			continue
		}
		if err != nil || mode == 0 {
			return f, err
		}
		if err := f.Chmod(mode); err != nil {
			f.Close()
			os.Remove(f.Name())
			return nil, err
		}
		return f, nil
	}
}

// fill writes, syncs and closes; a fault at any of them means the file is not good.
func fill(f *os.File, write func(io.Writer) error) error {
	err := write(f)
	if err == nil {
		err = f.Sync()
	}
	return errors.Join(err, f.Close())
}

func syncFolder(dir string) error {
	if runtime.GOOS == "windows" { // folders cannot be opened for syncing there
		return nil
	}
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	return errors.Join(d.Sync(), d.Close())
}

// inWords says what a system error means to the person who asked for the file.
func inWords(err error, dir string) error {
	switch {
	case errors.Is(err, syscall.ENOSPC), errors.Is(err, syscall.EDQUOT):
		return fmt.Errorf("the disk is full, or your share of it; make room or name another folder than %s: %w", dir, err)
	case errors.Is(err, syscall.EFBIG):
		return fmt.Errorf("it would be larger than a file may be here: %w", err)
	case errors.Is(err, syscall.EROFS):
		return fmt.Errorf("folder %s can only be read; name another: %w", dir, err)
	case errors.Is(err, fs.ErrPermission):
		return fmt.Errorf("you may not write in folder %s; name another: %w", dir, err)
	case errors.Is(err, fs.ErrNotExist):
		return fmt.Errorf("there is no folder %s; make it first: %w", dir, err)
	case errors.Is(err, syscall.ENOTDIR):
		return fmt.Errorf("%s is not a folder; name one that is: %w", dir, err)
	}
	return err
}
