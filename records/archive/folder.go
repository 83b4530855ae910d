package archive

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"iter"
	"os"
	"path/filepath"
	"strings"
	"time"

	"handback/records/disk"
)

// folder is where the bags of an archive lie: those taken in bags/, those refused in
// quarantine/, each in a file named by its own SHA-256, and those on their way in
// incoming/.
type folder string

const (
	takenIn   = "bags"
	refusedIn = "quarantine"
	comingIn  = "incoming"
)

func (f folder) make() error {
	for _, name := range []string{takenIn, refusedIn, comingIn} {
		if err := os.MkdirAll(filepath.Join(string(f), name), 0o700); err != nil {
			return err
		}
	}
	return nil
}

// file is where a bag lies. The first two digits part a folder of many files.
func (f folder) file(in, hash string) string {
	return filepath.Join(string(f), in, hash[:2], hash+".zip")
}

// Incoming is a bag that was copied beside the archive and is not taken yet.
type Incoming struct {
	Path   string
	SHA256 string
	Bytes  int64
	Name   string // what it was called where it came from
}

// Drop takes the copy away again, unless it was taken.
func (c *Incoming) Drop() { os.Remove(c.Path) }

// Receive copies a bag, which write gives bit by bit, beside the archive, and brings it to
// the disk. What is looked at, judged and kept is that copy. name is what it was called.
func (a *Archive) Receive(ctx context.Context, name string, write func(io.Writer) error) (*Incoming, error) {
	if a.readOnly {
		return nil, fmt.Errorf("archive %s: %w: it was opened for reading", a.path, ErrReadOnly)
	}
	room, err := a.bags.room()
	if err != nil {
		return nil, translate(a.path, err)
	}
	f, err := os.CreateTemp(room, "*.zip")
	if err != nil {
		return nil, translate(a.path, err)
	}
	hash := sha256.New()
	count := counter{ctx: ctx}
	err = write(io.MultiWriter(f, hash, &count))
	if err == nil {
		err = f.Sync()
	}
	if err = errors.Join(err, f.Close()); err != nil {
		os.Remove(f.Name())
		return nil, translate(a.path, err)
	}
	return &Incoming{f.Name(), hex.EncodeToString(hash.Sum(nil)), count.n, strings.ToValidUTF8(name, "\uFFFD")}, nil
}

// counter counts, and stops what was interrupted.
type counter struct {
	ctx context.Context
	n   int64
}

func (c *counter) Write(b []byte) (int, error) {
	c.n += int64(len(b))
	return len(b), c.ctx.Err()
}

func (f folder) keep(_ context.Context, _ *txn, all ...placed) error {
	dirs := map[string]bool{} // to bring to the disk
	for _, c := range all {
		dir, err := f.move(c)
		if err != nil {
			return fmt.Errorf("%s: %w", c.Name, err)
		}
		dirs[dir] = true
	}
	for dir := range dirs {
		if err := disk.SyncFolder(dir); err != nil {
			return err
		}
	}
	return nil
}

// move moves a copy to its place, and gives the folder that must be brought to the disk. A
// file of that name there holds the same bytes, or nothing tells of it.
func (f folder) move(c placed) (dir string, err error) {
	target := f.file(c.in, c.SHA256)
	dir = filepath.Dir(target)
	if err := os.Mkdir(dir, 0o700); err == nil {
		err = disk.SyncFolder(filepath.Dir(dir))
		if err != nil {
			return "", err
		}
	} else if !errors.Is(err, fs.ErrExist) {
		return "", err
	}
	if hash, err := Rehash(target); err == nil && hash == c.SHA256 { // left by a killed program; some systems replace no file that is not to be written
		return dir, os.Remove(c.Path)
	}
	if err := os.Chmod(c.Path, 0o400); err != nil { // it never changes again
		return "", err
	}
	return dir, disk.Rename(c.Path, target)
}

func (f folder) room() (string, error) { return filepath.Join(string(f), comingIn), nil }

func (f folder) get(_ context.Context, in, hash string) (string, error) { return f.file(in, hash), nil }

func (f folder) release(string) {}

func (f folder) close() error { return nil }

func (f folder) remove(_ context.Context, hash string) (bool, error) {
	err := os.Remove(f.file(takenIn, hash))
	if errors.Is(err, fs.ErrNotExist) {
		return false, nil
	}
	return err == nil, err
}

func (f folder) all(_ context.Context, in string) iter.Seq2[filed, error] {
	return func(yield func(filed, error) bool) {
		err := filepath.WalkDir(filepath.Join(string(f), in), func(path string, d fs.DirEntry, err error) error {
			if err == nil && !d.IsDir() && !yield(filed{strings.TrimSuffix(d.Name(), ".zip"), path}, nil) {
				return fs.SkipAll
			}
			return err
		})
		if errors.Is(err, fs.ErrNotExist) {
			err = fmt.Errorf("%w: its folder %s is not there", ErrDamaged, in)
		}
		if err != nil {
			yield(filed{}, err)
		}
	}
}

// RefusedFile is a file to read a bag in quarantine from, which may have been taken since,
// until it is released.
func (a *Archive) RefusedFile(ctx context.Context, r Refused) (path string, err error) {
	path, err = a.bags.get(ctx, refusedIn, r.SHA256)
	return path, translate(a.path, err)
}

// Release tells that a file of File or RefusedFile is read no more.
func (a *Archive) Release(path string) { a.bags.release(path) }

// Rehash reads a file and gives the SHA-256 of what it holds.
func Rehash(path string) (string, error) {
	f, err := os.Open(path)
	if err != nil {
		return "", err
	}
	defer f.Close()
	hash := sha256.New()
	_, err = io.Copy(hash, f)
	return hex.EncodeToString(hash.Sum(nil)), err
}

// staleAfter is how old a copy on its way must be to be one that a killed program left
// (our choice).
const staleAfter = 24 * time.Hour

// Sweep takes away what killed programs left on its way. Nothing tells of it.
func (a *Archive) Sweep(now time.Time) error { return translate(a.path, a.bags.sweep(now)) }

func (f folder) sweep(now time.Time) error {
	dir := filepath.Join(string(f), comingIn)
	entries, err := os.ReadDir(dir)
	if err != nil {
		return err
	}
	for _, e := range entries {
		if info, err := e.Info(); err == nil && now.Sub(info.ModTime()) > staleAfter {
			os.Remove(filepath.Join(dir, e.Name())) // another may have taken it away
		}
	}
	return nil
}

// CopyAs copies a file that must hash to what it is named by.
//
// Errors: ErrDamaged where it is not there or does not.
func CopyAs(w io.Writer, path, hash string) error {
	f, err := os.Open(path)
	if err != nil {
		return fmt.Errorf("%w: %w", ErrDamaged, err)
	}
	defer f.Close()
	is := sha256.New()
	if _, err := io.Copy(io.MultiWriter(w, is), f); err != nil {
		return err
	}
	if got := hex.EncodeToString(is.Sum(nil)); got != hash {
		return fmt.Errorf("%w: the SHA-256 of %s is %s now", ErrDamaged, path, got)
	}
	return nil
}
