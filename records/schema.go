package records

import (
	"context"
	"database/sql"
	"fmt"
)

const (
	applicationID = 0x68626b31 // "hbk1"
	schemaVersion = 3          // user_version of a book written by this program
)

// object is one thing in the schema. Its sql is kept by SQLite letter for letter,
// so Verify can tell when it was altered.
type object struct{ kind, name, sql string }

// migrations[i] brings a book from version i to i+1. A released one never changes.
var migrations = [schemaVersion][]object{{
	{"table", "plans", `CREATE TABLE plans (
  hash TEXT NOT NULL PRIMARY KEY CHECK (length(hash) = 64),
  body BLOB NOT NULL
) STRICT, WITHOUT ROWID`},
	// The columns made from the body are virtual: stored nowhere but in the index, they
	// cannot drift from it. A body that is not JSON makes them fail, and so the INSERT.
	{"table", "entries", `CREATE TABLE entries (
  line INTEGER PRIMARY KEY,
  body TEXT NOT NULL,
  hash TEXT NOT NULL CHECK (length(hash) = 64),
  job TEXT NOT NULL GENERATED ALWAYS AS (body ->> '$.job') VIRTUAL,
  seq INTEGER NOT NULL GENERATED ALWAYS AS (body ->> '$.seq') VIRTUAL,
  at TEXT NOT NULL GENERATED ALWAYS AS (body ->> '$.at') VIRTUAL,
  "by" TEXT NOT NULL GENERATED ALWAYS AS (body ->> '$.by') VIRTUAL,
  kind TEXT NOT NULL GENERATED ALWAYS AS (body ->> '$.kind') VIRTUAL,
  "check" TEXT GENERATED ALWAYS AS (body ->> '$.check') VIRTUAL,
  plan TEXT GENERATED ALWAYS AS (CASE WHEN body ->> '$.seq' = 1 THEN body ->> '$.data.plan_hash' END) VIRTUAL
    REFERENCES plans (hash)
) STRICT`},
	{"index", "entries_by_hash", `CREATE UNIQUE INDEX entries_by_hash ON entries (hash)`},
	{"index", "entries_by_job", `CREATE UNIQUE INDEX entries_by_job ON entries (job, seq)`},
	// Without this guard INSERT OR REPLACE would delete an entry and fire no trigger.
	{"trigger", "entries_insert", `CREATE TRIGGER entries_insert BEFORE INSERT ON entries BEGIN
  SELECT RAISE(ABORT, 'entries are only added: this line is taken')
   WHERE EXISTS (SELECT 1 FROM entries WHERE line = NEW.line);
  SELECT RAISE(ABORT, 'entries are only added: this hash is taken')
   WHERE EXISTS (SELECT 1 FROM entries WHERE hash = NEW.hash);
  SELECT RAISE(ABORT, 'entries are only added: seq does not follow')
   WHERE NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM entries WHERE job = NEW.job);
  SELECT RAISE(ABORT, 'entries are only added: prev is not the hash of the last entry')
   WHERE NEW.seq > 1 AND NEW.body ->> '$.prev' IS NOT (SELECT hash FROM entries WHERE job = NEW.job AND seq = NEW.seq - 1);
END`},
	{"trigger", "entries_update", `CREATE TRIGGER entries_update BEFORE UPDATE ON entries BEGIN
  SELECT RAISE(ABORT, 'entries are only added: no UPDATE');
END`},
	{"trigger", "entries_delete", `CREATE TRIGGER entries_delete BEFORE DELETE ON entries BEGIN
  SELECT RAISE(ABORT, 'entries are only added: no DELETE');
END`},
	{"trigger", "plans_insert", `CREATE TRIGGER plans_insert BEFORE INSERT ON plans BEGIN
  SELECT RAISE(ABORT, 'plans are only added: this hash is taken')
   WHERE EXISTS (SELECT 1 FROM plans WHERE hash = NEW.hash);
END`},
	{"trigger", "plans_update", `CREATE TRIGGER plans_update BEFORE UPDATE ON plans BEGIN
  SELECT RAISE(ABORT, 'plans are only added: no UPDATE');
END`},
	{"trigger", "plans_delete", `CREATE TRIGGER plans_delete BEFORE DELETE ON plans BEGIN
  SELECT RAISE(ABORT, 'plans are only added: no DELETE');
END`},
}, {
	// The files that entries of the kind "attach" name by hash. A line number of its
	// own keeps the content, which may be large, out of the tree of hashes.
	{"table", "attachments", `CREATE TABLE attachments (
  line INTEGER PRIMARY KEY,
  hash TEXT NOT NULL CHECK (length(hash) = 64),
  body BLOB NOT NULL
) STRICT`},
	{"index", "attachments_by_hash", `CREATE UNIQUE INDEX attachments_by_hash ON attachments (hash)`},
	{"trigger", "attachments_insert", `CREATE TRIGGER attachments_insert BEFORE INSERT ON attachments BEGIN
  SELECT RAISE(ABORT, 'attachments are only added: this line is taken')
   WHERE EXISTS (SELECT 1 FROM attachments WHERE line = NEW.line);
  SELECT RAISE(ABORT, 'attachments are only added: this hash is taken')
   WHERE EXISTS (SELECT 1 FROM attachments WHERE hash = NEW.hash);
END`},
	{"trigger", "attachments_update", `CREATE TRIGGER attachments_update BEFORE UPDATE ON attachments BEGIN
  SELECT RAISE(ABORT, 'attachments are only added: no UPDATE');
END`},
	{"trigger", "attachments_delete", `CREATE TRIGGER attachments_delete BEFORE DELETE ON attachments BEGIN
  SELECT RAISE(ABORT, 'attachments are only added: no DELETE');
END`},
}, {
	// Entries that "entries" has no place for, because job and seq are taken there: those of
	// a job taken from elsewhere under whose id there is another here, and those of a second
	// continuation of a job, from where the two part. root is the hash of the first of them,
	// which tells what stands here apart. Under one root the entries follow one another.
	{"table", "beside", `CREATE TABLE beside (
  line INTEGER PRIMARY KEY,
  root TEXT NOT NULL CHECK (length(root) = 64),
  body TEXT NOT NULL,
  hash TEXT NOT NULL CHECK (length(hash) = 64),
  job TEXT NOT NULL GENERATED ALWAYS AS (body ->> '$.job') VIRTUAL,
  seq INTEGER NOT NULL GENERATED ALWAYS AS (body ->> '$.seq') VIRTUAL,
  prev TEXT NOT NULL GENERATED ALWAYS AS (body ->> '$.prev') VIRTUAL,
  plan TEXT GENERATED ALWAYS AS (CASE WHEN body ->> '$.seq' = 1 THEN body ->> '$.data.plan_hash' END) VIRTUAL
    REFERENCES plans (hash)
) STRICT`},
	{"index", "beside_by_hash", `CREATE UNIQUE INDEX beside_by_hash ON beside (hash)`},
	{"index", "beside_by_root", `CREATE UNIQUE INDEX beside_by_root ON beside (root, seq)`},
	{"trigger", "beside_insert", `CREATE TRIGGER beside_insert BEFORE INSERT ON beside BEGIN
  SELECT RAISE(ABORT, 'beside is only added to: this line is taken')
   WHERE EXISTS (SELECT 1 FROM beside WHERE line = NEW.line);
  SELECT RAISE(ABORT, 'beside is only added to: this hash is taken')
   WHERE EXISTS (SELECT 1 FROM beside WHERE hash = NEW.hash) OR EXISTS (SELECT 1 FROM entries WHERE hash = NEW.hash);
  SELECT RAISE(ABORT, 'beside is only added to: it follows no entry under its root')
   WHERE NEW.root IS NOT NEW.hash
     AND NOT EXISTS (SELECT 1 FROM beside WHERE hash = NEW.body ->> '$.prev' AND root = NEW.root AND job = NEW.body ->> '$.job' AND seq = NEW.body ->> '$.seq' - 1);
  SELECT RAISE(ABORT, 'beside is only added to: it follows no entry of its job')
   WHERE NEW.root IS NEW.hash AND NEW.body ->> '$.seq' > 1
     AND NOT EXISTS (SELECT 1 FROM beside WHERE hash = NEW.body ->> '$.prev' AND job = NEW.body ->> '$.job' AND seq = NEW.body ->> '$.seq' - 1)
     AND NOT EXISTS (SELECT 1 FROM entries WHERE hash = NEW.body ->> '$.prev' AND job = NEW.body ->> '$.job' AND seq = NEW.body ->> '$.seq' - 1);
END`},
	{"trigger", "beside_update", `CREATE TRIGGER beside_update BEFORE UPDATE ON beside BEGIN
  SELECT RAISE(ABORT, 'beside is only added to: no UPDATE');
END`},
	{"trigger", "beside_delete", `CREATE TRIGGER beside_delete BEFORE DELETE ON beside BEGIN
  SELECT RAISE(ABORT, 'beside is only added to: no DELETE');
END`},
}}

// versionOf is the schema version of a book, as this connection sees it.
func versionOf(ctx context.Context, q rowQuerier) (version int, err error) {
	err = q.QueryRowContext(ctx, "PRAGMA user_version").Scan(&version)
	return version, err
}

// migrate brings the schema to schemaVersion within a transaction that writes: the
// whole of it, with what is written, or nothing.
func migrate(ctx context.Context, tx *sql.Tx) error {
	from, err := versionOf(ctx, tx)
	if err != nil || from >= schemaVersion {
		return err
	}
	for _, step := range migrations[from:] {
		for _, o := range step {
			if _, err := tx.ExecContext(ctx, o.sql); err != nil {
				return fmt.Errorf("%s %s: %w", o.kind, o.name, err)
			}
		}
	}
	// PRAGMA takes no parameters; both values are constants of this package.
	marks := fmt.Sprintf("PRAGMA application_id = %d; PRAGMA user_version = %d", applicationID, schemaVersion)
	_, err = tx.ExecContext(ctx, marks)
	return err
}
