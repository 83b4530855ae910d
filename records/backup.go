package records

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"

	"modernc.org/sqlite"

	"handback/records/disk"
)

// Copied counts what a copy of a book holds.
type Copied struct {
	Jobs, Entries int
}

// Backup writes a copy of the book to a new file, mode 0600, as it stands now: other
// programs may go on writing. The copy is verified, on the disk, and appears whole or
// not at all.
//
// Errors: fs.ErrExist when there is something at path; ErrDamaged when the copy does
// not verify; ErrFull.
func (b *Book) Backup(ctx context.Context, path string) (Copied, error) {
	abs, err := filepath.Abs(path)
	if err != nil {
		return Copied{}, fmt.Errorf("backup %s: %w", path, err)
	}
	if _, err := os.Lstat(abs); err == nil {
		return Copied{}, occupied(path)
	}
	temp, err := newTemp(filepath.Dir(abs))
	if err != nil {
		return Copied{}, fmt.Errorf("backup %s: %w", path, err)
	}
	defer removeBook(temp)
	c, err := b.copyTo(ctx, temp)
	if err != nil {
		return Copied{}, err
	}
	if err := place(temp, abs); errors.Is(err, fs.ErrExist) { // another program was quicker
		return Copied{}, occupied(path)
	} else if err != nil {
		return Copied{}, fmt.Errorf("backup %s: %w", path, err)
	}
	return c, nil
}

func occupied(path string) error {
	return fmt.Errorf("backup %s: %w, and a backup is never written over; name another file", path, fs.ErrExist)
}

// copyTo copies the book into the empty file temp and verifies the copy.
func (b *Book) copyTo(ctx context.Context, temp string) (Copied, error) {
	if err := b.vacuumInto(ctx, temp); err != nil {
		return Copied{}, translate(b.path, err)
	}
	to, err := connect(ctx, temp, writing, func() {})
	if err != nil {
		return Copied{}, err
	}
	faults, err := to.Verify(ctx)
	var c Copied
	if err == nil && len(faults) > 0 {
		err = fmt.Errorf("record book %s: %w: %s; no copy of it was made; 'doctor' names every fault", b.path, ErrDamaged, faults[0])
	}
	if err == nil {
		err = to.db.QueryRowContext(ctx, "SELECT count(*), coalesce(sum(seq = 1), 0) FROM "+allEntries(to)).Scan(&c.Entries, &c.Jobs)
	}
	if err == nil {
		err = emptyLog(ctx, to.db)
	}
	return c, errors.Join(err, to.Close())
}

// vacuumInto copies all of the book in one read transaction. The copy is a write, if
// to another file, so that query_only must be lifted for it.
func (b *Book) vacuumInto(ctx context.Context, path string) error {
	conn, err := b.db.Conn(ctx)
	if err != nil {
		return err
	}
	defer conn.Close()
	if _, err := conn.ExecContext(ctx, "PRAGMA query_only = 0"); err != nil {
		return err
	}
	_, err = conn.ExecContext(ctx, "VACUUM INTO ?", path)
	if b.how.readOnly {
		_, again := conn.ExecContext(context.WithoutCancel(ctx), "PRAGMA query_only = 1")
		err = errors.Join(err, again)
	}
	return err
}

// Restored tells what restoring did.
type Restored struct {
	Copied
	Book string // its path, links resolved
	Kept string // where the book that was replaced lies now, "" when all of it is in the copy
}

// Restore puts the copy at from in the place of the book at path, or makes that book
// when there is none. The copy is verified first. A book that holds entries which the
// copy lacks, or that cannot be read, is replaced only when force is set, and is kept
// beside it under a new name with the time now in it.
//
// Errors: ErrLacks; ErrDamaged and ErrStray of the book that is there; ErrBusy when another program has the book open; ErrForeign and
// ErrNewer for what is no book to this program; those of OpenRead for from. Then the
// book is as it was.
func Restore(ctx context.Context, from, path string, force bool, now time.Time) (Restored, error) {
	abs, err := filepath.Abs(path)
	if err != nil {
		return Restored{}, fmt.Errorf("record book %s: %w", path, err)
	}
	if real, err := filepath.EvalSymlinks(abs); err == nil {
		abs = real
	}
	source, err := OpenRead(ctx, from)
	if err != nil {
		return Restored{}, err
	}
	defer source.Close()
	if a, err := os.Stat(source.path); err == nil {
		if b, err := os.Stat(abs); err == nil && os.SameFile(a, b) {
			return Restored{}, fmt.Errorf("restore %s: it is the record book itself; name a copy of it", from)
		}
	}
	if err := os.MkdirAll(filepath.Dir(abs), 0o700); err != nil {
		return Restored{}, fmt.Errorf("record book %s: folder: %w", abs, err)
	}
	temp, err := newTemp(filepath.Dir(abs))
	if err != nil {
		return Restored{}, fmt.Errorf("record book %s: %w", abs, err)
	}
	defer removeBook(temp)
	r := Restored{Book: abs}
	if r.Copied, err = source.copyTo(ctx, temp); err != nil {
		return Restored{}, err
	}
	kept, err := freeName(abs, now)
	if err != nil {
		return Restored{}, err
	}
	r.Kept, err = replace(ctx, temp, abs, kept, force)
	return r, err
}

// replace puts the sound copy temp in the place of the book at path. It gives the
// name under which that book is kept, "" when the copy holds all of it.
func replace(ctx context.Context, temp, path, kept string, force bool) (string, error) {
	book, err := claim(ctx, path)
	switch {
	case errors.Is(err, ErrNoBook):
		if moved, err := setAside(path, kept); err != nil || !moved {
			return "", errors.Join(err, placeBook(temp, path))
		}
		return kept, placeBook(temp, path)
	case errors.Is(err, ErrDamaged), errors.Is(err, ErrStray):
		if !force {
			return "", fmt.Errorf("%w; nobody can tell what it holds and the copy lacks: with --force it is kept under another name and replaced", err)
		}
		if _, err := setAside(path, kept); err != nil {
			return "", err
		}
		return kept, placeBook(temp, path)
	case err != nil:
		return "", err
	}
	defer book.Close()
	lacks, err := book.lackedBy(ctx, temp)
	if err != nil {
		return "", err
	}
	if len(lacks) > 0 && !force {
		return "", fmt.Errorf("record book %s: %w: %s; nothing was changed; with --force it is kept under another name and replaced", path, ErrLacks, strings.Join(lacks, "; "))
	}
	if len(lacks) == 0 {
		kept = ""
	} else if _, err := book.Backup(ctx, kept); err != nil {
		return "", err
	}
	return kept, book.become(ctx, temp)
}

// claim opens a book for this program alone.
//
// Errors: those of Open; ErrBusy when any other program has it open.
func claim(ctx context.Context, path string) (*Book, error) {
	path, release, err := locate(path)
	if err != nil {
		return nil, err
	}
	alone := writing
	alone.query = append([]string{"_pragma=locking_mode(EXCLUSIVE)"}, writing.query...)
	alone.settings = append([]setting{{"locking_mode", "exclusive"}}, writing.settings...)
	b, err := connect(ctx, path, alone, release)
	if errors.Is(err, ErrBusy) {
		err = fmt.Errorf("record book %s: %w: another handback has it open, a walk that waits for an answer too; close it, then repeat", path, ErrBusy)
	}
	if err != nil {
		release()
		return nil, err
	}
	return b, nil
}

// lackedBy names the jobs of which the copy at path holds less, or others.
func (b *Book) lackedBy(ctx context.Context, path string) ([]string, error) {
	to, err := connect(ctx, path, reading, func() {})
	if err != nil {
		return nil, err
	}
	defer to.Close()
	jobs, err := b.Jobs(ctx)
	if err != nil {
		return nil, err
	}
	var out []string
	for _, j := range jobs {
		if _, short := cutID(j.ID); short != "" {
			continue // it stands beside, and is looked at below
		}
		var hash string
		err := to.db.QueryRowContext(ctx, "SELECT hash FROM entries WHERE job = ? AND seq = ?", j.ID, j.Entries).Scan(&hash)
		if hash == j.HeadHash {
			continue
		}
		if err != nil && !errors.Is(err, sql.ErrNoRows) {
			return nil, translate(path, err)
		}
		var has int
		if err := to.db.QueryRowContext(ctx, "SELECT count(*) FROM entries WHERE job = ?", j.ID).Scan(&has); err != nil {
			return nil, translate(path, err)
		}
		switch {
		case has == 0:
			out = append(out, fmt.Sprintf("job %s is not in the copy", j.ID))
		case hash == "":
			out = append(out, fmt.Sprintf("job %s ends at entry %d, in the copy at entry %d", j.ID, j.Entries, has))
		default:
			out = append(out, fmt.Sprintf("job %s has other entries in the copy", j.ID))
		}
	}
	beside, err := b.besideLacked(ctx, to)
	return append(out, beside...), err
}

// become takes over all pages of the closed book at path in one transaction.
func (b *Book) become(ctx context.Context, path string) error {
	_, newest, err := newestLine(ctx, b.db)
	if err == nil {
		err = b.noteRestoring(newest)
	}
	if err == nil {
		err = b.takePages(ctx, path)
	}
	if err == nil {
		err = emptyLog(ctx, b.db)
	}
	if err != nil {
		return translate(b.path, err)
	}
	os.Remove(b.path + restoreSide) // left there it is of no book that could come back
	faults, err := b.Verify(ctx)
	if err == nil && len(faults) > 0 {
		err = fmt.Errorf("record book %s: %w after restoring: %s", b.path, ErrDamaged, faults[0])
	}
	return err
}

// noteRestoring brings to the disk that the book which ends with this hash is replaced.
func (b *Book) noteRestoring(newest string) error {
	temp, err := newTemp(filepath.Dir(b.path))
	if err != nil {
		return err
	}
	defer os.Remove(temp)
	if err := os.WriteFile(temp, []byte(newest), 0o600); err != nil {
		return err
	}
	if err := os.Remove(b.path + restoreSide); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	return place(temp, b.path+restoreSide)
}

func (b *Book) takePages(ctx context.Context, path string) error {
	conn, err := b.db.Conn(ctx)
	if err != nil {
		return err
	}
	err = conn.Raw(func(c any) error {
		r, ok := c.(interface {
			NewRestore(string) (*sqlite.Backup, error)
		})
		if !ok {
			return errors.New("this driver copies no pages")
		}
		pages, err := r.NewRestore(dataSource(path, readingAlone))
		if err != nil {
			return err
		}
		_, err = pages.Step(-1)
		return errors.Join(err, pages.Finish())
	})
	return errors.Join(err, conn.Close())
}

// placeBook gives the finished book its name.
func placeBook(temp, path string) error {
	if err := place(temp, path); err != nil {
		return fmt.Errorf("record book %s: %w", path, err)
	}
	return nil
}

// setAside gives a book and what lies beside it another name, under which they still
// belong together. moved is false when there was nothing.
func setAside(path, kept string) (moved bool, err error) {
	for _, side := range append([]string{""}, sides...) {
		err := disk.Rename(path+side, kept+side)
		if err != nil && !errors.Is(err, fs.ErrNotExist) {
			return moved, fmt.Errorf("record book %s: %w", path, err)
		}
		moved = moved || err == nil
	}
	return moved, nil
}

// freeName is where a book that is replaced will lie: book.replaced-20260512-090000.db.
func freeName(path string, now time.Time) (string, error) {
	ext := filepath.Ext(path)
	stem := strings.TrimSuffix(path, ext) + ".replaced-" + now.Format("20060102-150405")
	for n := 1; n < 1000; n++ {
		name := stem + ext
		if n > 1 {
			name = fmt.Sprintf("%s-%d%s", stem, n, ext)
		}
		if _, err := os.Lstat(name); errors.Is(err, fs.ErrNotExist) {
			return name, nil
		}
	}
	return "", fmt.Errorf("record book %s: %s%s to %s-999%s are there already; move them away", path, stem, ext, stem, ext)
}

const tempPrefix = ".new-book-"

// newTemp makes an empty file, mode 0600, for a book in the making. It takes away
// those that killed programs left in the folder: a book is made in seconds, so one
// that nobody wrote to for an hour is nobody's.
func newTemp(dir string) (string, error) {
	left, err := os.ReadDir(dir)
	if err != nil {
		return "", err
	}
	for _, e := range left {
		if info, err := e.Info(); err == nil && strings.HasPrefix(e.Name(), tempPrefix) && info.Mode().IsRegular() && time.Since(info.ModTime()) > time.Hour {
			os.Remove(filepath.Join(dir, e.Name())) // another try comes with the next book
		}
	}
	f, err := os.CreateTemp(dir, tempPrefix+"*")
	if err != nil {
		return "", err
	}
	return f.Name(), f.Close()
}

// removeBook takes a book in the making away, with what lies beside it.
func removeBook(temp string) {
	for _, side := range append([]string{""}, sides...) {
		os.Remove(temp + side)
	}
}
