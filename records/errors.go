package records

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"

	"modernc.org/sqlite"
	lib "modernc.org/sqlite/lib"
)

// Sentinels a caller may branch on with errors.Is. Each is returned wrapped, with
// the path or the job and what to do next.
var (
	ErrNoBook   = errors.New("no record book")
	ErrExists   = errors.New("record book exists already")
	ErrForeign  = errors.New("not a record book")
	ErrBusy     = errors.New("record book is busy")
	ErrReadOnly = errors.New("record book cannot be written")
	ErrFull     = errors.New("no room to write")
	ErrNoJob    = errors.New("no such job")
	ErrNoPlan   = errors.New("no such plan")
	ErrNoFile   = errors.New("no such attachment")
	ErrDamaged  = errors.New("record book is damaged")
	ErrStray    = errors.New("the log beside it is not its own")
	ErrLacks    = errors.New("it holds entries that the copy lacks")
	ErrIO       = errors.New("reading or writing failed")
)

// MovedError says that a job has entries which the caller had not seen when it
// asked to append. Nothing was written.
type MovedError struct {
	Job  string
	Seen int // what the caller gave as the last entry it saw
	Now  int // the last entry there is
}

func (e *MovedError) Error() string {
	return fmt.Sprintf("job %s: it ends at entry %d, not at entry %d as last read, so nothing was written; read the job again and repeat",
		e.Job, e.Now, e.Seen)
}

// translate puts what SQLite reports into plain words about the book at path. The
// driver's error stays in the chain. Errors that are not SQLite's pass unchanged.
func translate(path string, err error) error {
	var se *sqlite.Error
	if err == nil || errors.Is(err, context.Canceled) || errors.Is(err, context.DeadlineExceeded) || !errors.As(err, &se) {
		return err
	}
	say := func(kind error, words string) error {
		return fmt.Errorf("record book %s: %w: %s: %w", path, kind, words, err)
	}
	switch code := se.Code(); {
	case code == lib.SQLITE_IOERR_WRITE:
		return say(ErrFull, "a write was refused (full disk, quota or file size limit), nothing of it was stored; make room and repeat")
	case code&0xff == lib.SQLITE_FULL:
		return say(ErrFull, "the disk is full, nothing of this was stored; make room and repeat")
	case code == lib.SQLITE_IOERR_SHMSIZE, code == lib.SQLITE_IOERR_SHMMAP, code == lib.SQLITE_IOERR_SHMOPEN, code == lib.SQLITE_IOERR_IN_PAGE:
		return say(ErrFull, "its side files cannot be made, most often for want of room; make room in its folder and repeat")
	case code&0xff == lib.SQLITE_BUSY, code&0xff == lib.SQLITE_LOCKED:
		return say(ErrBusy, "another handback is writing this book; let it finish or close it, then repeat")
	case code&0xff == lib.SQLITE_READONLY:
		return say(ErrReadOnly, "the file or its folder is read-only; give yourself the right to write there, or name another book with --book")
	case code&0xff == lib.SQLITE_NOTADB:
		return say(ErrForeign, "its content is not readable as a database; name another book with --book, or restore a copy")
	case code&0xff == lib.SQLITE_CORRUPT && !rots(path), code&0xff == lib.SQLITE_IOERR:
		if code&0xff == lib.SQLITE_CORRUPT {
			err = errors.New("a page could not be read") // "malformed" would say that the book is
		}
		return say(ErrIO, "the disk, or the way to it, gave an input/output error; nothing was recorded by this, and the book is as it was; repeat, and when it stays make a backup and look at the disk")
	case code&0xff == lib.SQLITE_CORRUPT, strings.Contains(err.Error(), "malformed JSON"):
		return say(ErrDamaged, "its pages or entries cannot be read; keep the file as it is and restore a copy")
	case code&0xff == lib.SQLITE_CANTOPEN:
		return say(ErrReadOnly, "the file or its side files cannot be opened; look at the rights of the file and its folder")
	}
	return fmt.Errorf("record book %s: %w", path, err)
}

// rots tells whether the book at path itself is damaged. SQLite calls a page that
// could not be read just now a malformed one; its own integrity_check tells the two
// apart, unless the disk fails it too, so that it is asked three times.
func rots(path string) bool {
	how := readingAlone
	if info, err := os.Stat(path + logSide); err == nil && info.Size() > logHeader {
		how = viewing
	}
	for range 3 {
		lines, err := integrity(path, how)
		var se *sqlite.Error
		switch {
		case slices.ContainsFunc(lines, unread), errors.As(err, &se) && se.Code()&0xff == lib.SQLITE_IOERR:
			return false
		case slices.ContainsFunc(lines, func(line string) bool { return line != "ok" }):
			return true
		case err == nil:
			return false
		}
	}
	return true
}

// integrity gives the lines of SQLite's integrity_check as far as they came.
func integrity(path string, how access) (lines []string, err error) {
	db, err := sql.Open("sqlite", dataSource(path, how))
	if err != nil {
		return nil, err
	}
	defer db.Close()
	rows, err := db.Query("PRAGMA integrity_check")
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	for rows.Next() {
		var line string
		if err := rows.Scan(&line); err != nil {
			return lines, err
		}
		lines = append(lines, line)
	}
	return lines, rows.Err()
}

var errorCode = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`error code=([0-9]+)`) })

// unread tells whether a line of integrity_check says that a page could not be read.
func unread(line string) bool {
	m := errorCode().FindStringSubmatch(line)
	if m == nil {
		return false
	}
	code, err := strconv.Atoi(m[1])
	return err == nil && code&0xff == lib.SQLITE_IOERR
}
