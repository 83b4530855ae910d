package archive

import (
	"cmp"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"iter"
	"slices"
	"strings"
	"time"
)

// Server is a way to speak with data bases on servers. What they are asked stands in this
// package; a program that links none knows archives in folders alone.
type Server interface {
	// Open gives connections that keep what they said was kept: on all disks it must be
	// on. Those of a reader can change nothing.
	Open(ctx context.Context, url string, readOnly bool) (*sql.DB, error)
	// Copy adds rows to a table in bulk, in the transaction that is open on a connection.
	Copy(ctx context.Context, on *sql.Conn, table string, columns []string, rows iter.Seq[[]any]) error
}

var servers = map[string]Server{} // by the scheme of a URL

// Register makes a server known by the schemes of its URLs.
func Register(s Server, schemes ...string) bool {
	for _, name := range schemes {
		servers[name] = s
	}
	return true
}

// ErrNoServer says that this build of the program does not know the server.
var ErrNoServer = errors.New("this build keeps no archives on servers")

// OnServer tells that an archive is named by the URL of a data base, not by a folder.
func OnServer(path string) bool {
	return strings.HasPrefix(path, "postgres://") || strings.HasPrefix(path, "postgresql://")
}

// Said is the name of an archive as it may be shown: a URL without its password.
func Said(url string) string {
	if !OnServer(url) {
		return url
	}
	scheme, rest, _ := strings.Cut(url, "://")
	rest, query, asked := strings.Cut(rest, "?")
	if at := strings.LastIndexByte(rest, '@'); at >= 0 {
		user, _, _ := strings.Cut(rest[:at], ":")
		rest = user + rest[at:]
	}
	if kept := slices.DeleteFunc(strings.Split(query, "&"), func(p string) bool { return strings.HasPrefix(p, "password=") }); asked && len(kept) > 0 {
		rest += "?" + strings.Join(kept, "&")
	}
	return scheme + "://" + rest
}

// on connects to the data base of an archive on a server.
func on(ctx context.Context, url string, readOnly bool) (*Archive, error) {
	scheme, _, _ := strings.Cut(url, ":")
	said := Said(url)
	s, known := servers[scheme]
	if !known {
		return nil, fmt.Errorf("archive %s: %w; one that does is handback-postgres of a release, or built with: go build -tags %s ./cmd/handback", said, ErrNoServer, "postgres")
	}
	db, err := s.Open(ctx, url, readOnly)
	if err != nil {
		return nil, translate(said, err)
	}
	db.SetMaxOpenConns(4) // lists are read while others are
	a := &Archive{path: said, db: db, readOnly: readOnly, dialect: &inPostgres, server: s}
	a.bags = &shelf{archive: a}
	return a, nil
}

func openServer(ctx context.Context, url string, readOnly bool) (*Archive, error) {
	a, err := on(ctx, url, readOnly)
	if err != nil {
		return nil, err
	}
	var version int
	var elsewhere bool
	err = a.db.QueryRowContext(ctx, "SELECT version, to_regclass(quote_ident(current_schema()) || '.buckets') IS NOT NULL FROM archive").Scan(&version, &elsewhere)
	switch {
	case sqlState(err) == undefinedTable:
		err = fmt.Errorf("%w at %s, or none that this user may look at (role %s)", ErrNoArchive, a.path, roleRead)
	case err == nil && version > schemaVersion:
		err = fmt.Errorf("archive %s: %w: its version is %d, this program knows up to %d; use the newer program", a.path, ErrNewer, version, schemaVersion)
	case err == nil && elsewhere:
		a.dialect = &inPostgresBucket
		err = a.findBucket(ctx)
	}
	if err != nil {
		a.db.Close()
		return nil, translate(a.path, err)
	}
	return a, nil
}

// createOnServer makes an archive in the schema that the connection works in. One that was
// made there by Schema, and that nothing was told yet, is begun.
func createOnServer(ctx context.Context, url, inBucket string, parts []Part, now time.Time) (*Archive, error) {
	a, err := openServer(ctx, url, false)
	if errors.Is(err, ErrNoArchive) {
		a, err = on(ctx, url, false)
		if err == nil {
			err = a.layOnServer(ctx, inBucket, now)
		}
	} else if err == nil {
		var told int
		err = a.db.QueryRowContext(ctx, "SELECT (SELECT count(*) FROM policies) + (SELECT count(*) FROM log_keys) + (SELECT count(*) FROM bags)").Scan(&told)
		if err == nil && told > 0 {
			err = fmt.Errorf("%w: an archive is at %s", ErrExists, a.path)
		} else if err == nil && a.Bucket() != inBucket {
			err = fmt.Errorf("archive %s: its tables were made for bags that lie in %s; name the same", a.path, cmp.Or(a.Bucket(), "the data base"))
		}
	}
	if err == nil && len(parts) > 0 {
		err = a.SetPolicy(ctx, parts, now)
	}
	if err != nil {
		if a != nil {
			a.db.Close() // the error that led here says more
		}
		return nil, err
	}
	return a, nil
}

// layOnServer makes the tables, guards and roles, all of them or none.
func (a *Archive) layOnServer(ctx context.Context, inBucket string, now time.Time) error {
	tx, err := a.db.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	for _, o := range layout(inBucket, now) {
		if _, err := tx.ExecContext(ctx, o.sql); err != nil {
			tx.Rollback() // the error that led here says more
			return fmt.Errorf("%s: %w", o.name, err)
		}
	}
	if err = tx.Commit(); err == nil && inBucket != "" {
		a.dialect, a.bags = &inPostgresBucket, newBucket(inBucket)
	}
	return err
}

// layout is all that makes an archive in PostgreSQL.
func layout(inBucket string, now time.Time) []object {
	if inBucket == "" {
		return inPostgres.schema()
	}
	said := fmt.Sprintf("INSERT INTO buckets (number, url, since) VALUES (1, '%s', '%s')", strings.ReplaceAll(inBucket, "'", "''"), Moment(now))
	return append(inPostgresBucket.schema(), object{"the bucket", said})
}

// Schema is the SQL that makes an archive in PostgreSQL, with its bags in a bucket where
// its URL is not "", for whoever may make tables and roles there.
func Schema(inBucket string, now time.Time) string {
	var b strings.Builder
	b.WriteString("BEGIN;\n\n")
	for _, o := range layout(inBucket, now) {
		b.WriteString(o.sql + ";\n\n")
	}
	b.WriteString("COMMIT;\n")
	return b.String()
}

// txn is a transaction that no other writer comes between.
type txn struct {
	*sql.Tx
	archive *Archive
	conn    *sql.Conn // it is on
}

// write runs do in one transaction that no other writer comes between.
func (a *Archive) write(ctx context.Context, do func(*txn) error) error {
	if a.readOnly {
		return fmt.Errorf("archive %s: %w: it was opened for reading", a.path, ErrReadOnly)
	}
	conn, err := a.db.Conn(ctx)
	if err != nil {
		return translate(a.path, err)
	}
	defer conn.Close() // back to the others
	tx, err := conn.BeginTx(ctx, nil)
	if err != nil {
		return translate(a.path, err)
	}
	if a.dialect.lock != "" {
		_, err = tx.ExecContext(ctx, a.dialect.lock)
	}
	if err == nil {
		err = do(&txn{tx, a, conn})
	}
	if err != nil {
		tx.Rollback() // the error that led here says more than one from undoing
		return translate(a.path, err)
	}
	return translate(a.path, tx.Commit())
}
