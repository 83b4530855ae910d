package archive

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"time"

	_ "modernc.org/sqlite" // the driver "sqlite"

	"handback/records/disk"
)

const (
	applicationID = 0x68626131 // "hba1"
	schemaVersion = 1          // user_version

	// dataBase is the name of the data base in the folder of an archive.
	dataBase = "archive.sqlite"
)

// Archive is an open archive. It may be used from several goroutines. Close it.
type Archive struct {
	path     string // of its folder, or the URL of its data base
	db       *sql.DB
	readOnly bool
	dialect  *dialect
	server   Server // nil for a file
	bags     store
}

// Path is the folder of the archive, as an absolute path, or the URL of its data base
// without the password.
func (a *Archive) Path() string { return a.path }

// Close lets go of the data base.
func (a *Archive) Close() error { return translate(a.path, errors.Join(a.bags.close(), a.db.Close())) }

// Create makes an archive in a folder that is not there, or empty, or in the data base of
// a URL. parts are the files of its policy, none where it asks nothing.
//
// Errors: ErrExists for whatever is there.
func Create(ctx context.Context, path string, parts []Part, now time.Time) (*Archive, error) {
	return CreateWith(ctx, path, "", parts, now)
}

// CreateWith is Create of an archive with its bags in a bucket, by the URL of it, "" for none.
func CreateWith(ctx context.Context, path, inBucket string, parts []Part, now time.Time) (*Archive, error) {
	var b *bucket
	if inBucket != "" {
		b = newBucket(inBucket)
		if err := b.unused(ctx); err != nil {
			return nil, err
		}
	}
	if OnServer(path) {
		return createOnServer(ctx, path, inBucket, parts, now)
	}
	abs, err := filepath.Abs(path)
	if err != nil {
		return nil, fmt.Errorf("archive %s: %w", path, err)
	}
	if list, err := os.ReadDir(abs); err == nil && len(list) > 0 {
		return nil, fmt.Errorf("%w: %s is there and not empty", ErrExists, path)
	} else if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("archive %s: %w", path, err)
	}
	bags, dialect := store(folder(abs)), &inSQLite
	if b == nil {
		err = folder(abs).make()
	} else {
		bags, dialect = b, &inSQLiteBucket
		err = os.MkdirAll(abs, 0o700)
	}
	if err != nil {
		return nil, fmt.Errorf("archive %s: %w", path, err)
	}
	file := filepath.Join(abs, dataBase)
	empty, err := os.OpenFile(file, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600) // SQLite alone would let others read it
	if err == nil {
		err = empty.Close()
	}
	if err != nil {
		return nil, translate(abs, err)
	}
	db, err := sql.Open("sqlite", dataSource(file, "mode=rw", "_journal_mode=WAL", "_txlock=immediate"))
	if err != nil {
		return nil, fmt.Errorf("archive %s: %w", path, err)
	}
	db.SetMaxOpenConns(1)
	a := &Archive{path: abs, db: db, dialect: dialect, bags: bags}
	if err = a.lay(ctx, inBucket, now); err == nil {
		err = a.SetPolicy(ctx, parts, now)
	}
	if err == nil {
		err = disk.SyncFolder(abs)
	}
	if err != nil {
		a.Discard() // the error that led here says more
		return nil, err
	}
	return a, nil
}

// Discard closes an archive that was just made and takes it away, for nothing lies in it
// yet; its folder stays, empty, for it may have been there before. What was made in the
// data base of a server stays there.
func (a *Archive) Discard() error {
	err := a.Close()
	if OnServer(a.path) {
		return err
	}
	for _, name := range []string{dataBase, dataBase + "-wal", dataBase + "-shm", takenIn, refusedIn, comingIn} {
		if gone := os.Remove(filepath.Join(a.path, name)); !errors.Is(gone, fs.ErrNotExist) {
			err = errors.Join(err, gone)
		}
	}
	return err
}

// lay makes the tables and guards in a file.
func (a *Archive) lay(ctx context.Context, inBucket string, now time.Time) error {
	return a.write(ctx, func(tx *txn) error {
		for _, o := range a.dialect.schema() {
			if _, err := tx.ExecContext(ctx, o.sql); err != nil {
				return fmt.Errorf("%s: %w", o.name, err)
			}
		}
		if inBucket != "" {
			if err := insert(ctx, tx, buckets, []elsewhere{{1, inBucket, Moment(now)}}); err != nil {
				return err
			}
		}
		_, err := tx.ExecContext(ctx, fmt.Sprintf("PRAGMA application_id = %d; PRAGMA user_version = %d", applicationID, schemaVersion))
		return err
	})
}

// Open opens an archive to add to it.
//
// Errors: ErrNoArchive, ErrForeign, ErrNewer, ErrReadOnly, ErrBusy, ErrFull, ErrDamaged.
func Open(ctx context.Context, path string) (*Archive, error) { return open(ctx, path, false) }

// OpenRead opens an archive for reading. It needs no right to write to it.
func OpenRead(ctx context.Context, path string) (*Archive, error) { return open(ctx, path, true) }

func open(ctx context.Context, path string, readOnly bool) (*Archive, error) {
	if OnServer(path) {
		return openServer(ctx, path, readOnly)
	}
	abs, err := filepath.Abs(path)
	if err != nil {
		return nil, fmt.Errorf("archive %s: %w", path, err)
	}
	file := filepath.Join(abs, dataBase)
	if info, err := os.Stat(file); errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("%w at %s", ErrNoArchive, path)
	} else if err != nil {
		return nil, fmt.Errorf("archive %s: %w", path, err)
	} else if !info.Mode().IsRegular() {
		return nil, fmt.Errorf("%s: %w: it is not a plain file", file, ErrForeign)
	}
	// mode=rw for readers too, because one opened with mode=ro leaves its side files behind.
	a, err := connect(ctx, abs, readOnly, "mode=rw", map[bool]string{true: "_query_only=1", false: "_txlock=immediate"}[readOnly])
	if readOnly && (errors.Is(err, ErrReadOnly) || errors.Is(err, ErrFull)) {
		// WAL mode wants to make side files even to read. Without a filled log the file
		// alone is the whole data base.
		if wal, statErr := os.Stat(file + "-wal"); statErr == nil && wal.Size() > 0 {
			return nil, fmt.Errorf("the newest of it is in %s-wal: %w", file, err)
		}
		return connect(ctx, abs, true, "mode=ro", "immutable=1", "_query_only=1")
	}
	return a, err
}

func connect(ctx context.Context, abs string, readOnly bool, how ...string) (*Archive, error) {
	db, err := sql.Open("sqlite", dataSource(filepath.Join(abs, dataBase), how...))
	if err != nil {
		return nil, fmt.Errorf("archive %s: %w", abs, err)
	}
	db.SetMaxOpenConns(4) // lists are read while others are
	a := &Archive{path: abs, db: db, readOnly: readOnly, dialect: &inSQLite, bags: folder(abs)}
	var elsewhere bool
	if err = looked(ctx, db, abs); err == nil {
		err = db.QueryRowContext(ctx, "SELECT count(*) FROM sqlite_schema WHERE name = 'buckets'").Scan(&elsewhere)
	}
	if err == nil && elsewhere {
		a.dialect = &inSQLiteBucket
		err = a.findBucket(ctx)
	}
	if err != nil {
		db.Close()
		return nil, translate(abs, err)
	}
	return a, nil
}

// looked looks at the marks of the data base.
func looked(ctx context.Context, db *sql.DB, abs string) error {
	var application, version int
	if err := db.QueryRowContext(ctx, "PRAGMA application_id").Scan(&application); err != nil {
		return err
	}
	if err := db.QueryRowContext(ctx, "PRAGMA user_version").Scan(&version); err != nil {
		return err
	}
	switch {
	case application != applicationID:
		return fmt.Errorf("%s: %w: %s belongs to another program (application_id %#x)", abs, ErrForeign, dataBase, application)
	case version > schemaVersion:
		return fmt.Errorf("archive %s: %w: its version is %d, this program knows up to %d; use the newer program", abs, ErrNewer, version, schemaVersion)
	case version < 1:
		return fmt.Errorf("archive %s: %w: its version is %d", abs, ErrDamaged, version)
	}
	return nil
}

// dataSource builds the name from a URL: in a name pasted together, # ? and % in a path
// would open another file. The settings are those of the record book.
func dataSource(abs string, how ...string) string {
	p := filepath.ToSlash(abs)
	if !strings.HasPrefix(p, "/") { // C:/…
		p = "/" + p
	}
	share := strings.HasPrefix(p, "//") // //server/share/…: without an empty host the server would be taken for one
	query := append(how, "_busy_timeout=5000", "_foreign_keys=1", "_dqs=0", "_defensive=1", "_error_rc=1",
		"_pragma=recursive_triggers(1)", "_pragma=trusted_schema(0)", "_pragma=cell_size_check(1)",
		"_pragma=fullfsync(1)", "_pragma=checkpoint_fullfsync(1)", "_synchronous=FULL", "_pragma=cache_size(-32768)")
	return (&url.URL{Scheme: "file", OmitHost: !share, Path: p, RawQuery: strings.Join(query, "&")}).String()
}

// SetPolicy puts a policy in force, of its files. Earlier ones are kept.
func (a *Archive) SetPolicy(ctx context.Context, parts []Part, now time.Time) error {
	return a.write(ctx, func(tx *txn) error {
		number, err := policyNumber(ctx, tx)
		for _, p := range parts {
			p.Number, p.Since = number+1, Moment(now)
			if err == nil {
				err = insert(ctx, tx, policies, []Part{p})
			}
		}
		return err
	})
}

// Policy gives the files of the policy in force and its number; none and 0 where nothing
// was ever asked.
func (a *Archive) Policy(ctx context.Context) (parts []Part, number int, err error) {
	if number, err = policyNumber(ctx, a.db); err != nil {
		return nil, 0, translate(a.path, err)
	}
	parts, err = a.PolicyOf(ctx, number)
	return parts, number, err
}

// PolicyOf gives the files of a policy by its number.
func (a *Archive) PolicyOf(ctx context.Context, number int) ([]Part, error) {
	parts, err := list[Part](ctx, a.db, policies, "WHERE number = $1 ORDER BY part", number)
	return parts, translate(a.path, err)
}

func policyNumber(ctx context.Context, q querier) (n int, err error) {
	err = q.QueryRowContext(ctx, "SELECT coalesce(max(number), 0) FROM policies").Scan(&n)
	return n, err
}
