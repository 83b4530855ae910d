package archive

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"slices"
	"syscall"

	"modernc.org/sqlite"
	lib "modernc.org/sqlite/lib"
)

// Sentinels a caller may branch on with errors.Is. Each is returned wrapped, with the path
// and what to do next.
var (
	ErrNoArchive = errors.New("no archive")
	ErrExists    = errors.New("there is something already")
	ErrForeign   = errors.New("not an archive")
	ErrNewer     = errors.New("the archive is of a newer program")
	ErrBusy      = errors.New("archive is busy")
	ErrReadOnly  = errors.New("archive cannot be written")
	ErrFull      = errors.New("no room to write")
	ErrDamaged   = errors.New("archive is damaged")
	ErrNoJob     = errors.New("no such job in the archive")
	ErrSeveral   = errors.New("it means several")
	ErrAway      = errors.New("the server of the archive does not answer")
	ErrDenied    = errors.New("the server of the archive refuses this")
)

func isOf(err error, kinds ...error) bool {
	return slices.ContainsFunc(kinds, func(kind error) bool { return errors.Is(err, kind) })
}

// translate puts what SQLite and the system report into plain words about the archive.
func translate(path string, err error) error {
	var se *sqlite.Error
	if err == nil || errors.Is(err, context.Canceled) || errors.Is(err, context.DeadlineExceeded) || isOf(err, ErrAway, ErrDenied, ErrReadOnly, ErrFull, ErrBusy) {
		return err
	}
	say := func(kind error, words string) error {
		return fmt.Errorf("archive %s: %w: %s: %w", path, kind, words, err)
	}
	if !errors.As(err, &se) {
		if OnServer(path) {
			return translateServer(path, err)
		}
		switch {
		case errors.Is(err, syscall.ENOSPC), errors.Is(err, syscall.EDQUOT), errors.Is(err, syscall.EFBIG):
			return say(ErrFull, "the disk is full, or your share of it; nothing of this was taken; make room and repeat")
		case errors.Is(err, fs.ErrPermission), errors.Is(err, syscall.EROFS):
			return say(ErrReadOnly, "give yourself the right to write there")
		}
		return err
	}
	switch code := se.Code(); {
	case code&0xff == lib.SQLITE_FULL, code == lib.SQLITE_IOERR_WRITE,
		code == lib.SQLITE_IOERR_SHMSIZE, code == lib.SQLITE_IOERR_SHMMAP, code == lib.SQLITE_IOERR_SHMOPEN:
		return say(ErrFull, "a write was refused (full disk, quota or file size limit), nothing of this was taken; make room and repeat")
	case code&0xff == lib.SQLITE_BUSY, code&0xff == lib.SQLITE_LOCKED:
		return say(ErrBusy, "another handback is adding to it; let it finish, then repeat")
	case code&0xff == lib.SQLITE_READONLY, code&0xff == lib.SQLITE_CANTOPEN, code&0xff == lib.SQLITE_PERM:
		return say(ErrReadOnly, "give yourself the right to write to its folder and files")
	case code&0xff == lib.SQLITE_NOTADB:
		return say(ErrForeign, "its "+dataBase+" is not readable as a data base")
	case code&0xff == lib.SQLITE_CORRUPT:
		return say(ErrDamaged, "its pages cannot be read; keep the folder as it is and restore a copy, or make a new archive of the bags in it")
	}
	return fmt.Errorf("archive %s: %w", path, err)
}
