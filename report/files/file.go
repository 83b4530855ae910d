package files

import (
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"syscall"

	"handback/records"
	"handback/records/disk"
)

// Over says what an output may be written over. The zero value: nothing.
type Over struct {
	Book    string                  // the record book in use; neither it nor what lies beside it
	Earlier func(data []byte) error // tells why a file is no earlier output of the same sort; nil: none may go
	Force   bool                    // any plain file may go that is neither a record book nor a private key
	Once    bool                    // none may go: the command that writes has no --force
	Private bool                    // a new file is for its owner alone: mode 0600, or what says so there
	Made    func(path string)       // hears of what was made; nil: nobody does
}

// Write puts data at path, whole or not at all: it writes a file beside the
// target, brings it to the disk, gives it its name and brings the folder to the
// disk. What may be written over keeps its permissions and stays untouched until
// then; a link is followed. A new file gets mode 0666 less the umask, and replaces
// nothing that came there meanwhile.
//
// Errors say in plain words what stopped it; then the target is as it was and no
// other file is left. The one exception is named in the error: the file is in
// place, but the folder could not be brought to the disk.
func Write(path string, data []byte, over Over) error {
	return Stream(path, over, func(w io.Writer) error {
		_, err := w.Write(data)
		return err
	})
}

// Stream is Write of what write gives it, bit by bit.
func Stream(path string, over Over, write func(io.Writer) error) error {
	target, mode, err := over.target(path)
	if err != nil {
		return err
	}
	dir := filepath.Dir(target)
	sweep(dir)
	tmp, err := beside(target, cmp.Or(mode, map[bool]fs.FileMode{true: 0o600}[over.Private]), over.Private)
	if err != nil {
		return fmt.Errorf("write %s: %w", path, inWords(err, dir))
	}
	defer os.Remove(tmp.Name()) // when it has got its name there is nothing left to remove
	if err := fill(tmp, write); err != nil {
		return fmt.Errorf("write %s: %w", path, inWords(err, dir))
	}
	give := disk.Rename
	if mode == 0 {
		give = giveNew
	}
	if err := give(tmp.Name(), target); mode != 0 && disk.InUse(err) {
		return fmt.Errorf("write %s: %w: %w", path, errInUse, err)
	} else if err != nil {
		return fmt.Errorf("write %s: %w", path, inWords(err, dir))
	}
	if err := disk.SyncFolder(dir); err != nil {
		return fmt.Errorf("write %s: it is in place, but a power cut now could still lose it: %w", path, err)
	}
	over.made(path)
	return nil
}

func (o Over) made(path string) {
	if o.Made != nil {
		o.Made(path)
	}
}

// errInUse is what a person does about a file that is there already and in use.
var errInUse = errors.New("another program has it open; close it there, or name another file")

// giveNew gives a file a name that nothing has.
func giveNew(temp, target string) error {
	err := os.Link(temp, target)
	if err == nil || errors.Is(err, fs.ErrExist) {
		return err
	}
	if _, err := os.Lstat(target); err == nil {
		return fs.ErrExist
	}
	return disk.Rename(temp, target) // a file system without links, as on many memory sticks
}

// Target is the plain file that path means, links followed, when an output may be
// written there.
func (o Over) Target(path string) (string, error) {
	target, _, err := o.target(path)
	return target, err
}

// target is Target with the mode of the file that is there, 0 for none.
func (o Over) target(path string) (string, fs.FileMode, error) {
	refuse := func(format string, args ...any) (string, fs.FileMode, error) {
		return "", 0, fmt.Errorf("write %s: %w", path, fmt.Errorf(format, args...))
	}
	if err := nameFor(runtime.GOOS, path); err != nil {
		return refuse("%w", err)
	}
	target := realPath(path)
	info, err := os.Lstat(target)
	switch {
	case err != nil && !errors.Is(err, fs.ErrNotExist):
		return refuse("%w", inWords(err, filepath.Dir(target)))
	case err == nil && info.IsDir():
		return refuse("it is a folder; name a file in it")
	case err == nil && info.Mode()&fs.ModeSymlink != 0:
		return refuse("it is a link that leads nowhere; remove it or name another file")
	case err == nil && !info.Mode().IsRegular():
		return refuse("it is not a plain file; name another")
	}
	if what := o.ofBook(target); what != "" {
		return refuse("it is %s, and nothing is written over that; name another file", what)
	}
	if err != nil {
		return target, 0, nil
	}
	if err := o.mayGo(target, info); err != nil {
		return refuse("%w", err)
	}
	return target, info.Mode().Perm(), nil
}

// realPath follows links, of the folder too when the file is not there yet.
func realPath(path string) string {
	if abs, err := filepath.Abs(path); err == nil {
		path = abs
	}
	if real, err := filepath.EvalSymlinks(path); err == nil {
		return real
	}
	if dir, err := filepath.EvalSymlinks(filepath.Dir(path)); err == nil {
		return filepath.Join(dir, filepath.Base(path))
	}
	return path
}

// ofBook tells whether target is a record book or belongs to one, "" when not. Names
// that differ in upper and lower case alone are one on some systems.
func (o Over) ofBook(target string) string {
	if o.Book != "" {
		book := realPath(o.Book)
		if sameFile(target, book) {
			return "the record book in use"
		}
		for _, side := range records.SideFiles(book) {
			if sameFile(target, side) {
				return "a file that belongs to the record book in use"
			}
		}
	}
	if records.IsBook(target) {
		return "a record book"
	}
	for _, side := range records.SideFiles("") {
		if n := len(target) - len(side); n > 0 && strings.EqualFold(target[n:], side) && records.IsBook(target[:n]) {
			return "a file that belongs to the record book " + filepath.Base(target[:n])
		}
	}
	return ""
}

// sameFile tells whether two paths mean one file, there or not.
func sameFile(a, b string) bool {
	if strings.EqualFold(a, b) {
		return true
	}
	one, err := os.Stat(a)
	if err != nil {
		return false
	}
	other, err := os.Stat(b)
	return err == nil && os.SameFile(one, other)
}

// maxEarlier is more than any output of this program has.
const maxEarlier = 256 << 20

// mayGo tells why the plain file at path, which is no record book, must stay.
func (o Over) mayGo(path string, info fs.FileInfo) error {
	f, err := os.OpenFile(path, os.O_RDWR, 0) // changes nothing, and asks whether it may be changed
	if disk.InUse(err) && !errors.Is(err, fs.ErrPermission) {
		return fmt.Errorf("%w (%w)", errInUse, plainError(err))
	}
	if err != nil || info.Mode().Perm()&0o200 == 0 {
		if err == nil {
			f.Close()
			err = fs.ErrPermission
		}
		return fmt.Errorf("it is there and may not be changed (%w); name another file", plainError(err))
	}
	defer f.Close()
	if info.Size() == 0 {
		return nil // nothing is lost
	}
	data, err := io.ReadAll(io.LimitReader(f, maxEarlier))
	if err != nil {
		return plainError(err)
	}
	if bytes.Contains(data[:min(len(data), 4096)], []byte("PRIVATE KEY-----")) {
		return errors.New("it holds a private key, and nothing is written over that; name another file")
	}
	switch {
	case o.Force:
		return nil
	case o.Once:
		return errors.New("it is there already, and is never written over; name another file")
	case o.Earlier == nil:
		return errors.New("it is there already; name another file, or say --force to replace it")
	}
	if err := o.Earlier(data); err != nil {
		return fmt.Errorf("it is there already, and is not just an earlier one of this: %w; name another file, or say --force to replace it", err)
	}
	return nil
}

func plainError(err error) error {
	var p *fs.PathError
	if errors.As(err, &p) {
		return p.Err
	}
	return err
}

// beside makes a new file in the folder of target. A mode of 0 leaves the choice to
// the umask.
func beside(target string, mode fs.FileMode, private bool) (*os.File, error) {
	dir, name := filepath.Split(target)
	perm := fs.FileMode(0o666)
	if mode != 0 {
		perm = 0o600 // until it has its own
	}
	for n := 0; ; n++ {
		f, err := os.OpenFile(filepath.Join(dir, tempName(name, n)), os.O_WRONLY|os.O_CREATE|os.O_EXCL, perm)
		if errors.Is(err, fs.ErrExist) && n < 1000 {
			continue
		}
		if err != nil || mode == 0 {
			return f, err
		}
		if err = f.Chmod(mode); err == nil && private {
			err = ownerAlone(f.Name())
		}
		if err != nil {
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
	case errors.Is(err, fs.ErrExist):
		return fmt.Errorf("another program made it meanwhile, and it stays: %w", err)
	case errors.Is(err, syscall.ENOTDIR):
		return fmt.Errorf("%s is not a folder; name one that is: %w", dir, err)
	}
	return err
}
