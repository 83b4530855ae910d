package main

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io"
	"iter"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/stdlib"

	"handback/cmd/session"
	"handback/records"
	"handback/records/archive"
	_ "handback/records/archive/postgres"
	"handback/report/admit"
	"handback/templates"
	"handback/testdata/archives"
	"handback/testdata/starters"
)

// owned is the archive of an invented owner on one engine, with what was measured while it
// was filled.
type owned struct {
	name     string
	clock    func() time.Duration
	folder   string // of ours, where it has one
	ours     *archive.Archive
	hand     *sql.DB // asks the same data base
	raw      *sql.DB // has the same tables, filled as a person would who knows them
	analyze  string  // counts its rows, as a server does by itself after a while
	bulk     func(ctx context.Context, db *sql.DB, jobs []archives.Job) error
	added    sides                  // all of it
	peaks    [2]float64             // MiB that this process took at most: at a tenth of the jobs, at all of them
	asked    map[string]*[2]float64 // MiB that whole commands took at most, likewise
	jobs     int
	readings int
	results  int
}

// portion is how many jobs are taken in one transaction, as archive add does.
const portion = 64

// owner fills the archive of an owner on an engine, once.
func (b *bench) owner(engine string) (*owned, error) {
	if o, made := b.owners[engine]; made {
		return o, nil
	}
	open := map[string]func() (*owned, error){"SQLite": b.onFile, "PostgreSQL": b.onServer}[engine]
	o, err := open()
	if err == nil {
		err = b.fill(o)
	}
	if err != nil {
		return nil, fmt.Errorf("%s: %w", engine, err)
	}
	b.owners[engine] = o
	return o, nil
}

// onFile is an archive in a folder beside a file with its tables alone.
func (b *bench) onFile() (*owned, error) {
	dir := filepath.Join(b.dir, "owner")
	a, err := archive.Create(b.ctx, dir, nil, began)
	if err != nil {
		return nil, err
	}
	const care = "?_journal_mode=WAL&_synchronous=FULL&_pragma=cache_size(-32768)"
	hand, err := sql.Open("sqlite", "file:"+filepath.ToSlash(filepath.Join(dir, "archive.sqlite"))+care+"&_query_only=1")
	if err != nil {
		return nil, err
	}
	raw, err := sql.Open("sqlite", "file:"+filepath.ToSlash(filepath.Join(b.dir, "raw.db"))+care)
	if err != nil {
		return nil, err
	}
	raw.SetMaxOpenConns(1)
	schema, err := os.ReadFile(filepath.Join("records", "archive", "testdata", "schema.sql"))
	if err == nil {
		_, err = raw.ExecContext(b.ctx, string(schema))
	}
	return &owned{name: "SQLite", clock: spent, folder: dir, asked: map[string]*[2]float64{}, ours: a, hand: hand, raw: raw, bulk: insertRaw}, err
}

// onServer is an archive in a schema of a server beside another with its tables alone.
func (b *bench) onServer() (*owned, error) {
	urls := [2]string{}
	for i, schema := range []string{"owner", "raw"} {
		b.server().SQL("public", "CREATE SCHEMA "+schema)
		urls[i] = b.server().URL("owner", "search_path="+schema)
	}
	a, err := archive.Create(b.ctx, urls[0], nil, began)
	if err != nil {
		return nil, err
	}
	tables, err := archive.Create(b.ctx, urls[1], nil, began)
	if err == nil {
		err = tables.Close()
	}
	if err != nil {
		return nil, err
	}
	hand, err := sql.Open("pgx", urls[0]+"&default_query_exec_mode=exec") // planned each time, as what is typed
	if err != nil {
		return nil, err
	}
	raw, err := sql.Open("pgx", urls[1])
	return &owned{name: "PostgreSQL", clock: waited, ours: a, hand: hand, raw: raw, bulk: copyRaw, analyze: "ANALYZE"}, err
}

// fill adds the jobs of the owner to both sides, some in turn.
func (b *bench) fill(o *owned) error {
	real, err := b.playedRows()
	if err != nil {
		return err
	}
	var waiting []archives.Job
	turn := 0
	flush := func() error {
		sides := []func() error{
			func() error { return take(b.ctx, o.ours, waiting, o.clock, &o.added.ours) },
			func() error {
				start := o.clock()
				defer func() { o.added.floor += float64(o.clock()-start) / 1e6 }()
				return o.bulk(b.ctx, o.raw, waiting)
			}}
		if turn++; turn%2 == 0 {
			slices.Reverse(sides)
		}
		err := errors.Join(sides[0](), sides[1]())
		waiting = waiting[:0]
		return err
	}
	for j := range archives.Owner(real, b.jobs) {
		waiting = append(waiting, j)
		o.jobs++
		o.readings += len(j.Rows.Readings)
		o.results += len(j.Rows.Results)
		if len(waiting) == portion {
			err = flush()
		}
		if o.jobs == b.jobs/10 && err == nil {
			if err = flush(); err == nil {
				err = b.watch(o, 0)
			}
		}
		if err != nil {
			return err
		}
	}
	if err = flush(); err == nil {
		err = b.watch(o, 1)
	}
	if err == nil && o.analyze != "" {
		_, err = o.hand.ExecContext(b.ctx, o.analyze)
	}
	o.added.unit = "ms"
	fmt.Fprintf(os.Stderr, "%s: %d jobs, %d readings, %d results\n", o.name, o.jobs, o.readings, o.results)
	return err
}

// watched are commands of which the memory is looked at.
var watched = []string{"find", "doctor --hashes"}

// watch notes how much memory was taken so far, and what commands take now.
func (b *bench) watch(o *owned, at int) error {
	if o.peaks[at] = peak(); o.folder == "" {
		return nil // the program as it is shipped knows no server
	}
	for _, command := range watched {
		c := exec.CommandContext(b.ctx, b.program, append(append([]string{"archive"}, strings.Fields(command)...), "--archive", o.folder)...)
		most, err := memoryOf(c)
		if err != nil {
			return fmt.Errorf("%s: %w", command, err)
		}
		if o.asked[command] == nil {
			o.asked[command] = &[2]float64{}
		}
		o.asked[command][at] = most
	}
	return nil
}

// take takes jobs whose bags are a line each, and adds what that took. The line is on the
// disk before the clock runs: what is measured are rows.
func take(ctx context.Context, a *archive.Archive, jobs []archives.Job, clock func() time.Duration, took *float64) error {
	var all []archive.Taking
	for _, j := range jobs {
		in, err := a.Receive(ctx, "bag.zip", func(w io.Writer) error { _, err := io.WriteString(w, j.Rows.States[0].Head); return err })
		if err != nil {
			return err
		}
		defer in.Drop()
		all = append(all, archive.Taking{Incoming: in, Rows: j.Rows, Hashes: j.Hashes, List: in.SHA256})
	}
	start := clock()
	_, err := a.Take(ctx, began, all...)
	*took += float64(clock()-start) / 1e6
	return err
}

// played are the rows of the demo and of every starter plan, as played.
func (b *bench) playedRows() ([]*archive.Rows, error) {
	book, err := b.played()
	if err != nil {
		return nil, err
	}
	books := []string{book}
	for _, work := range templates.Plans() {
		plan, err := templates.Plan(work)
		if err != nil {
			return nil, err
		}
		dir := filepath.Join(b.dir, work)
		file := dir + ".yaml"
		if err := os.WriteFile(file, starters.FilledIn(plan), 0o600); err != nil {
			return nil, err
		}
		if _, err := os.Stat(dir); err != nil {
			said, err := exec.CommandContext(b.ctx, b.program, "demo", "-o", dir, "--plan", file, "--readings", filepath.Join("testdata", "starters", work+".txt")).CombinedOutput()
			if err != nil {
				return nil, fmt.Errorf("%w\n%s", err, said)
			}
		}
		books = append(books, filepath.Join(dir, "book.db"))
	}
	var out []*archive.Rows
	for _, path := range books {
		rows, err := b.rowsOf(path)
		if err != nil {
			return nil, err
		}
		out = append(out, rows)
	}
	return out, nil
}

func (b *bench) rowsOf(path string) (*archive.Rows, error) {
	book, err := records.OpenRead(b.ctx, path)
	if err != nil {
		return nil, err
	}
	defer book.Close()
	jobs, err := book.Jobs(b.ctx)
	if err != nil {
		return nil, err
	}
	entries, err := book.Entries(b.ctx, jobs[0].ID)
	if err != nil {
		return nil, err
	}
	j, err := session.FoldJob(b.ctx, book, entries)
	if err != nil {
		return nil, err
	}
	return admit.Rows(j, nil, nil), nil
}

// rowsIn are the rows of a table in jobs, each as the values of its columns.
func rowsIn(t *archive.Table, jobs []archives.Job) iter.Seq[[]any] {
	return func(yield func([]any) bool) {
		row := make([]any, len(t.Columns))
		for _, j := range jobs {
			list := t.Of(j.Rows)
			for i := range list.Len() {
				for n, c := range t.Columns {
					switch v := c.Of(list.Index(i)); {
					case v.Kind() == reflect.Bool && v.Bool():
						row[n] = int64(1)
					case v.Kind() == reflect.Bool:
						row[n] = int64(0)
					case v.Kind() == reflect.Pointer && v.IsNil():
						row[n] = nil
					default:
						row[n] = reflect.Indirect(v).Interface()
					}
				}
				if !yield(row) {
					return
				}
			}
		}
	}
}

// eachTable works on the rows of jobs table by table, in one transaction.
func eachTable(ctx context.Context, db *sql.DB, work func(*sql.Conn, *archive.Table) error) error {
	conn, err := db.Conn(ctx)
	if err != nil {
		return err
	}
	defer conn.Close()
	tx, err := conn.BeginTx(ctx, nil)
	for _, t := range archive.Tables {
		if err == nil {
			err = work(conn, t)
		}
	}
	if err == nil {
		err = tx.Commit()
	}
	return err
}

// insertRaw inserts rows table by table, some 500 values a statement, prepared once.
func insertRaw(ctx context.Context, db *sql.DB, jobs []archives.Job) error {
	return eachTable(ctx, db, func(conn *sql.Conn, t *archive.Table) error {
		most := 500 / len(t.Columns)
		statement := func(rows int) string {
			one := "(?" + strings.Repeat(", ?", len(t.Columns)-1) + ")"
			return "INSERT INTO " + t.Name + " VALUES " + one + strings.Repeat(", "+one, rows-1)
		}
		full, err := conn.PrepareContext(ctx, statement(most))
		if err != nil {
			return err
		}
		defer full.Close()
		var args []any
		for row := range rowsIn(t, jobs) {
			if args = append(args, row...); len(args) == most*len(t.Columns) {
				if _, err := full.ExecContext(ctx, args...); err != nil {
					return err
				}
				args = args[:0]
			}
		}
		if len(args) > 0 {
			_, err = conn.ExecContext(ctx, statement(len(args)/len(t.Columns)), args...)
		}
		return err
	})
}

// copyRaw copies rows table by table.
func copyRaw(ctx context.Context, db *sql.DB, jobs []archives.Job) error {
	return eachTable(ctx, db, func(conn *sql.Conn, t *archive.Table) error {
		var columns []string
		for _, c := range t.Columns {
			columns = append(columns, c.Name)
		}
		next, stop := iter.Pull(rowsIn(t, jobs))
		defer stop()
		return conn.Raw(func(driver any) error {
			_, err := driver.(*stdlib.Conn).Conn().CopyFrom(ctx, pgx.Identifier{t.Name}, columns, pgx.CopyFromFunc(func() ([]any, error) {
				row, _ := next()
				return row, nil
			}))
			return err
		})
	})
}

// close lets go of what was opened.
func (o *owned) close() error {
	return errors.Join(o.ours.Close(), o.hand.Close(), o.raw.Close())
}
