package records

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync/atomic"

	_ "modernc.org/sqlite" // the driver "sqlite"

	"handback/records/disk"
)

// Book is an open record book. It may be used from several goroutines. Close it.
type Book struct {
	path    string
	db      *sql.DB
	how     access
	release func()
	old     atomic.Bool // its schema is an earlier one; the first write brings it up

	// The statements of Append, kept: parsing the guard took a third of its time.
	newest, insert *sql.Stmt
}

// Path is the absolute path of the book, links resolved.
func (b *Book) Path() string { return b.path }

// Close lets go of the file. What Append returned is on the disk already.
func (b *Book) Close() error {
	for _, s := range []*sql.Stmt{b.newest, b.insert} {
		if s != nil {
			s.Close() // cannot fail in a way that matters more than closing the file
		}
	}
	err := b.db.Close()
	b.release()
	return translate(b.path, err)
}

// Create makes a new book, mode 0600, and its folder, mode 0700, where missing. The
// file appears complete or not at all.
//
// Errors: ErrExists for a book, ErrForeign or ErrNewer for another file at path.
func Create(ctx context.Context, path string) (*Book, error) {
	if err := create(ctx, path, 4096); err != nil {
		return nil, err
	}
	return Open(ctx, path)
}

// OpenOrCreate opens the book at path for writing and makes it when there is no file.
func OpenOrCreate(ctx context.Context, path string) (*Book, error) {
	b, err := Open(ctx, path)
	if !errors.Is(err, ErrNoBook) {
		return b, err
	}
	if b, err = Create(ctx, path); errors.Is(err, ErrExists) { // another process was quicker
		return Open(ctx, path)
	}
	return b, err
}

// Open opens an existing book for writing.
//
// Errors: ErrNoBook, ErrForeign, ErrNewer, ErrReadOnly, ErrBusy, ErrDamaged, ErrStray,
// ErrFull, ErrIO.
func Open(ctx context.Context, path string) (*Book, error) {
	path, release, err := locate(path)
	if err != nil {
		return nil, err
	}
	b, err := connect(ctx, path, writing, release)
	if err != nil {
		release()
		return nil, err
	}
	return b, nil
}

// OpenRead opens an existing book for reading. It changes no entry and works for a
// person who cannot write to the file or its folder.
//
// Errors: those of Open. ErrReadOnly when side files left by a writer hold entries
// that cannot be read without writing.
func OpenRead(ctx context.Context, path string) (*Book, error) {
	path, release, err := locate(path)
	if err != nil {
		return nil, err
	}
	b, err := connect(ctx, path, reading, release)
	if errors.Is(err, ErrReadOnly) || errors.Is(err, ErrFull) {
		// WAL mode wants to make side files even to read. Without a filled -wal
		// the file alone is the whole book.
		wal, statErr := os.Stat(path + logSide)
		if statErr == nil && wal.Size() > 0 {
			release()
			return nil, fmt.Errorf("the newest entries are in %s-wal; copy both files to a folder you can write to and read them there: %w", path, err)
		}
		b, err = connect(ctx, path, readingAlone, release)
	}
	if err != nil {
		release()
		return nil, err
	}
	return b, nil
}

func locate(path string) (string, func(), error) {
	abs, err := filepath.Abs(path)
	if err != nil {
		return "", nil, fmt.Errorf("record book %s: %w", path, err)
	}
	// The side files lie beside the file itself, not beside a link to it.
	if real, err := filepath.EvalSymlinks(abs); err == nil {
		abs = real
	}
	release, err := hold(abs)
	return abs, release, err
}

// access is a way to open a book: URI parameters, and the settings to read back.
type access struct {
	readOnly bool
	query    []string
	settings []setting
}

type setting struct{ pragma, want string }

var (
	common = []string{
		"_busy_timeout=5000", "_foreign_keys=1", "_dqs=0", "_defensive=1", "_error_rc=1",
		"_pragma=recursive_triggers(1)", "_pragma=trusted_schema(0)", "_pragma=cell_size_check(1)",
		"_pragma=fullfsync(1)", "_pragma=checkpoint_fullfsync(1)", "_synchronous=FULL",
	}
	commonSettings = []setting{
		{"busy_timeout", "5000"}, {"foreign_keys", "1"}, {"recursive_triggers", "1"}, {"trusted_schema", "0"},
		{"cell_size_check", "1"}, {"fullfsync", "1"}, {"checkpoint_fullfsync", "1"}, {"synchronous", "2"}, {"encoding", "UTF-8"},
	}
	writing = access{false, []string{"mode=rw", "_journal_mode=WAL", "_txlock=immediate"},
		[]setting{{"journal_mode", "wal"}, {"query_only", "0"}}}
	// mode=rw, because a reader opened with mode=ro leaves its side files behind.
	reading      = access{true, []string{"mode=rw", "_query_only=1"}, []setting{{"journal_mode", "wal"}, {"query_only", "1"}}}
	readingAlone = access{true, []string{"mode=ro", "immutable=1", "_query_only=1"}, []setting{{"query_only", "1"}}}
)

// dataSource builds the name from a URL: in a name pasted together, # ? and % in a
// path would open another file.
func dataSource(abs string, how access) string {
	p := filepath.ToSlash(abs)
	if !strings.HasPrefix(p, "/") { // C:/…
		p = "/" + p
	}
	share := strings.HasPrefix(p, "//") // //server/share/…: without an empty host the server would be taken for one
	query := strings.Join(append(append([]string{}, how.query...), common...), "&")
	return (&url.URL{Scheme: "file", OmitHost: !share, Path: p, RawQuery: query}).String()
}

// connect opens the file, already found to be a book, and reads back every setting:
// SQLite takes misspelt ones without a word.
func connect(ctx context.Context, path string, how access, release func()) (*Book, error) {
	if !slices.Contains(how.query, "immutable=1") {
		if err := ownLog(ctx, path); err != nil {
			return nil, err
		}
	}
	db, err := sql.Open("sqlite", dataSource(path, how))
	if err != nil {
		return nil, fmt.Errorf("record book %s: %w", path, err)
	}
	db.SetMaxOpenConns(1)
	b := &Book{path: path, db: db, how: how, release: release}
	err = b.settle(ctx)
	if err == nil {
		err = b.prepare(ctx)
	}
	if err != nil {
		db.Close()
		return nil, translate(path, err)
	}
	return b, nil
}

func (b *Book) settle(ctx context.Context) error {
	version, err := versionOf(ctx, b.db)
	if err != nil {
		return err
	}
	b.old.Store(version < schemaVersion)
	return settings(ctx, b.db, b.path, b.how)
}

func (b *Book) prepare(ctx context.Context) (err error) {
	if b.how.readOnly {
		return nil
	}
	if b.newest, err = b.db.PrepareContext(ctx, "SELECT seq, hash FROM entries WHERE job = ? ORDER BY seq DESC LIMIT 1"); err != nil {
		return err
	}
	b.insert, err = b.db.PrepareContext(ctx, "INSERT INTO entries (body, hash) VALUES (?, ?)")
	return err
}

type rowQuerier interface {
	QueryRowContext(ctx context.Context, query string, args ...any) *sql.Row
}

// settings compares the marks and settings in force with those the book needs.
func settings(ctx context.Context, q rowQuerier, path string, how access) error {
	var application, version int64
	if err := q.QueryRowContext(ctx, "PRAGMA application_id").Scan(&application); err != nil {
		return err
	}
	if err := q.QueryRowContext(ctx, "PRAGMA user_version").Scan(&version); err != nil {
		return err
	}
	if err := checkMarks(path, application, version); err != nil {
		return err
	}
	for _, s := range append(append([]setting{}, commonSettings...), how.settings...) {
		var got string
		if err := q.QueryRowContext(ctx, "PRAGMA "+s.pragma).Scan(&got); err != nil {
			return fmt.Errorf("setting %s: %w", s.pragma, err)
		}
		if got != s.want {
			return fmt.Errorf("record book %s: setting %s is %s after opening, %s is needed; keep the file as it is and restore a copy: %w",
				path, s.pragma, got, s.want, ErrDamaged)
		}
	}
	return nil
}

// create makes the book under another name and links it into place, so that no
// process ever sees half a book and no existing file is overwritten.
func create(ctx context.Context, path string, pageSize int) error {
	abs, err := filepath.Abs(path)
	if err != nil {
		return fmt.Errorf("record book %s: %w", path, err)
	}
	dir := filepath.Dir(abs)
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return fmt.Errorf("record book %s: folder: %w", abs, err)
	}
	if err := refuseExisting(abs); err != nil {
		return err
	}
	temp, err := newTemp(dir)
	if err != nil {
		return fmt.Errorf("record book %s: %w", abs, err)
	}
	defer removeBook(temp)
	how := writing
	how.query = append([]string{fmt.Sprintf("_pragma=page_size(%d)", pageSize)}, writing.query...)
	db, err := sql.Open("sqlite", dataSource(temp, how))
	if err == nil {
		db.SetMaxOpenConns(1)
		if err = layOut(ctx, db); err == nil {
			err = emptyLog(ctx, db)
		}
		err = errors.Join(err, db.Close())
	}
	if err != nil {
		return translate(abs, err)
	}
	if err := place(temp, abs); err != nil {
		if errors.Is(err, fs.ErrExist) {
			return refuseExisting(abs)
		}
		return fmt.Errorf("record book %s: %w", abs, err)
	}
	return nil
}

// layOut gives an empty file the newest schema.
func layOut(ctx context.Context, db *sql.DB) error {
	tx, err := db.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer tx.Rollback() // no effect after Commit
	if err := migrate(ctx, tx); err != nil {
		return err
	}
	return tx.Commit()
}

// emptyLog moves the write-ahead log into the file, which alone is given its name.
// Closing would do so too, but says nothing when the disk is full.
func emptyLog(ctx context.Context, db *sql.DB) error {
	var busy, log, moved int
	if err := db.QueryRowContext(ctx, "PRAGMA wal_checkpoint(TRUNCATE)").Scan(&busy, &log, &moved); err != nil {
		return err
	}
	if busy != 0 || log != 0 {
		return fmt.Errorf("%d pages of the new book are still in its log", log)
	}
	return nil
}

// refuseExisting says what is at path, nil when nothing is.
func refuseExisting(path string) error {
	if _, err := os.Lstat(path); errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	release, err := hold(path)
	if err != nil {
		return err
	}
	release()
	return fmt.Errorf("%w: %s", ErrExists, path)
}

// place gives the finished file its name, durably, and never over another file.
func place(temp, path string) error {
	if err := syncFile(temp); err != nil {
		return err
	}
	if err := os.Link(temp, path); errors.Is(err, fs.ErrExist) {
		return err
	} else if err != nil { // a file system without links, as on many memory sticks
		if _, statErr := os.Lstat(path); statErr == nil {
			return fs.ErrExist
		}
		if err := disk.Rename(temp, path); err != nil {
			return err
		}
	}
	return disk.SyncFolder(filepath.Dir(path))
}

func syncFile(path string) error {
	f, err := os.OpenFile(path, os.O_RDWR, 0) // Windows syncs only what was opened for writing
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close())
}
