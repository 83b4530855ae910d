package records

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"slices"
	"sync"

	"handback/records/chain"
)

// held lists the files that this process has open as books. Closing any descriptor
// of a file drops the POSIX locks that SQLite holds on it in the same process, so a
// file listed here must not be opened to look at its header.
var held struct {
	sync.Mutex
	files []fs.FileInfo
}

// hold looks at the header of the file at path, unless this process has it open as a
// book already, and lists it as open. release takes it off the list.
//
// Errors: ErrNoBook, ErrForeign, ErrNewer. The file is not changed.
func hold(path string) (release func(), err error) {
	held.Lock()
	defer held.Unlock()
	info, err := os.Stat(path)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("%w at %s", ErrNoBook, path)
	}
	if err != nil {
		return nil, fmt.Errorf("record book %s: %w", path, err)
	}
	same := func(other fs.FileInfo) bool { return os.SameFile(info, other) }
	if !slices.ContainsFunc(held.files, same) {
		if err := probe(path, info); err != nil {
			return nil, err
		}
	}
	held.files = append(held.files, info)
	return func() {
		held.Lock()
		defer held.Unlock()
		if i := slices.IndexFunc(held.files, same); i >= 0 {
			held.files = slices.Delete(held.files, i, i+1)
		}
	}, nil
}

// IsBook tells whether the file at path is a record book, of a newer program too.
func IsBook(path string) bool {
	release, err := hold(path)
	if err == nil {
		release()
	}
	return err == nil || errors.Is(err, chain.ErrNewer) || errors.Is(err, ErrDamaged)
}

// probe reads the first 100 bytes (https://www.sqlite.org/fileformat2.html, 1.3) and
// accepts only the header of a book that this program can read. New books are made
// so that their marks are in the file itself, never in a side file alone.
func probe(path string, info fs.FileInfo) error {
	foreign := func(what string) error {
		return fmt.Errorf("%s: %w: %s; nothing was changed; name another file with --book", path, ErrForeign, what)
	}
	if info.IsDir() {
		return foreign("it is a folder, a file is wanted")
	}
	if !info.Mode().IsRegular() {
		return foreign("it is not a regular file")
	}
	f, err := os.Open(path)
	if err != nil {
		return fmt.Errorf("record book %s: %w", path, err)
	}
	defer f.Close()
	header := make([]byte, 100)
	n, err := io.ReadFull(f, header)
	switch {
	case n == 0 && errors.Is(err, io.EOF):
		return foreign("it is empty")
	case err != nil && !errors.Is(err, io.ErrUnexpectedEOF):
		return fmt.Errorf("record book %s: %w", path, err)
	case n < len(header) || string(header[:16]) != "SQLite format 3\x00":
		return foreign("it is some other kind of file")
	}
	return checkMarks(path, int64(binary.BigEndian.Uint32(header[68:])), int64(binary.BigEndian.Uint32(header[60:])))
}

// checkMarks judges the application_id and user_version of the book at path.
func checkMarks(path string, application, version int64) error {
	switch {
	case application != applicationID:
		return fmt.Errorf("%s: %w: it belongs to another program (application_id %#x); nothing was changed; name another file with --book",
			path, ErrForeign, application)
	case version > schemaVersion:
		return fmt.Errorf("record book %s: %w: its version is %d, this program knows up to %d; nothing was changed; use the newer program",
			path, chain.ErrNewer, version, schemaVersion)
	case version < 1:
		return fmt.Errorf("record book %s: %w: its version is %d, the first was 1; keep the file as it is and restore a copy",
			path, ErrDamaged, version)
	}
	return nil
}
