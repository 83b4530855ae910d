package archive

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net"
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

// undefinedTable is the SQLSTATE of a table that is not there.
const undefinedTable = "42P01"

// sqlState is the SQLSTATE of an error of a server, "" for another.
func sqlState(err error) string {
	var s interface{ SQLState() string }
	if errors.As(err, &s) {
		return s.SQLState()
	}
	return ""
}

// serverSays are classes of SQLSTATE, or whole ones, in plain words: Appendix A of the
// manual of PostgreSQL 15.
var serverSays = map[string]struct {
	kind  error
	words string
}{
	"08":    {ErrAway, Again},
	"57P":   {ErrAway, Again},
	"25006": {ErrReadOnly, "this server is a standby or was set to be read only; name the one that is written to"},
	"42501": {ErrReadOnly, "ask whoever runs the data base for the role " + roleAdd + " to add, " + roleRead + " to look"},
	"53":    {ErrFull, "the server has no room or no connection left, nothing of this was taken; make room and repeat"},
	"40":    {ErrBusy, "others add to it; repeat"},
	"55P03": {ErrBusy, "others add to it; repeat"},
	"XX001": {ErrDamaged, "the server cannot read its own pages"},
	"XX002": {ErrDamaged, "the server cannot read its own index"},
}

// Again is what to do where it is not known what the server did last.
const Again = "what was told as taken is kept; when it answers, run the same command again"

// translateServer puts what a server reports into plain words.
func translateServer(path string, err error) error {
	state := sqlState(err)
	for _, n := range []int{5, 3, 2} {
		if len(state) < n {
			continue
		}
		if says, known := serverSays[state[:n]]; known {
			return fmt.Errorf("archive %s: %w: %s: %w", path, says.kind, says.words, err)
		}
	}
	if state == "" && lostTouch(err) && !errors.Is(err, context.Canceled) {
		return fmt.Errorf("archive %s: %w: %s: %w", path, ErrAway, Again, err)
	}
	return err
}

// lostTouch tells that a connection broke, or that nothing could be sent by it any more.
func lostTouch(err error) bool {
	var network net.Error
	var unsent interface{ SafeToRetry() bool } // as pgx marks what its connection, found closed, did not send
	return errors.As(err, &network) || errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) ||
		errors.Is(err, driver.ErrBadConn) || errors.Is(err, sql.ErrConnDone) || errors.As(err, &unsent) && unsent.SafeToRetry()
}
