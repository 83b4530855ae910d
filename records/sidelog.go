package records

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
)

// sides are the endings of the files that lie beside a book, those of SQLite first:
// the newest entries may be in its log alone.
var sides = []string{logSide, "-shm", "-journal", restoreSide}

const (
	logSide = "-wal"

	// restoreSide ends the name of a file that is there while a book is restored. It
	// holds the hash of the newest entry of the book that is replaced.
	restoreSide = "-restore"
)

// SideFiles are the paths that belong to the book at path besides its own.
func SideFiles(path string) []string {
	var out []string
	for _, side := range sides {
		out = append(out, path+side)
	}
	return out
}

// logHeader is the length of a write-ahead log that holds nothing
// (https://www.sqlite.org/fileformat2.html, 4.1).
const logHeader = 32

// viewing sees the file with its log. mode=ro, because such a connection moves
// nothing of the log into the file when it is closed.
var viewing = access{true, []string{"mode=ro", "_query_only=1"}, nil}

// ownLog refuses a write-ahead log that is not the book's own. SQLite takes any log
// of the right name for the newest pages of the file: one that a killed program left
// there would win over the book that was copied in since, without a word.
//
// Entries are only added, so whatever the file alone holds must be there with its
// log. A file that is not sound alone shows nothing: a power cut may have stopped
// half-way in moving the log into it, and SQLite puts that right. Only restoring
// takes entries away, and leaves a word of it until the log is moved.
//
// Errors: ErrStray. What else is wrong is left to opening the book to find.
func ownLog(ctx context.Context, path string) error {
	if info, err := os.Stat(path + logSide); err != nil || info.Size() <= logHeader {
		return nil
	}
	alone, err := connect(ctx, path, readingAlone, func() {})
	if err != nil {
		return nil
	}
	line, hash, err := newestLine(ctx, alone.db)
	alone.Close()
	if err == nil {
		if line == 0 {
			return nil
		}
		if there, err := viewHolds(ctx, path, line, hash); there || err != nil && !spoilt(err) {
			return nil
		}
	}
	if alone, err = connect(ctx, path, readingAlone, func() {}); err != nil {
		return nil
	}
	defer alone.Close()
	if faults, err := alone.Verify(ctx); err != nil || len(faults) > 0 {
		return nil
	}
	if line, hash, err = newestLine(ctx, alone.db); err != nil || line == 0 {
		return nil
	}
	if there, err := viewHolds(ctx, path, line, hash); there || err != nil && !spoilt(err) {
		return nil
	}
	if replaced, err := os.ReadFile(path + restoreSide); err == nil && string(replaced) == hash {
		return nil
	}
	return fmt.Errorf("record book %s: %w: with %s-wal, entries that the file holds are gone; it was left by another book, or by an older state of this one; nothing was changed; "+
		"move %s-wal and %s-shm to another folder, keep them, and repeat: then what the file holds counts", path, ErrStray, path, path, path)
}

// newestLine is the last line of the entries; 0 when there is none.
func newestLine(ctx context.Context, q rowQuerier) (line int64, hash string, err error) {
	err = q.QueryRowContext(ctx, "SELECT line, hash FROM entries ORDER BY line DESC LIMIT 1").Scan(&line, &hash)
	if errors.Is(err, sql.ErrNoRows) {
		return 0, "", nil
	}
	return line, hash, err
}

// viewHolds tells whether an entry is there when the file is read with its log.
func viewHolds(ctx context.Context, path string, line int64, hash string) (bool, error) {
	db, err := sql.Open("sqlite", dataSource(path, viewing))
	if err != nil {
		return false, err
	}
	defer db.Close()
	var got string
	err = db.QueryRowContext(ctx, "SELECT hash FROM entries WHERE line = ?", line).Scan(&got)
	if errors.Is(err, sql.ErrNoRows) {
		return false, nil
	}
	return err == nil && got == hash, err
}

// spoilt tells whether reading failed for what stands in the files. Other reasons,
// such as a folder that cannot be written, say nothing about the log.
func spoilt(err error) bool {
	err = translate("", err)
	for _, other := range []error{ErrBusy, ErrReadOnly, ErrFull, ErrIO, context.Canceled, context.DeadlineExceeded} {
		if errors.Is(err, other) {
			return false
		}
	}
	return true
}
