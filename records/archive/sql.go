package archive

import (
	"context"
	"database/sql"
	"iter"
	"reflect"
	"strings"
)

// querier is a data base or a transaction.
type querier interface {
	QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error)
	QueryRowContext(ctx context.Context, query string, args ...any) *sql.Row
	ExecContext(ctx context.Context, query string, args ...any) (sql.Result, error)
}

// atOnce is how many values go into one INSERT (our choice: beyond it the time for a row
// falls no more).
const atOnce = 500

// copied is from how many rows on they go to a server in bulk (our choice: COPY costs a
// round trip more).
const copied = 20

// insert adds rows of a table.
func insert[R any](ctx context.Context, tx *txn, t *Table, rows []R) error {
	return insertAll(ctx, tx, t, reflect.ValueOf(rows))
}

// insertAll adds lists of rows of a table, in as few statements as can be.
func insertAll(ctx context.Context, tx *txn, t *Table, lists ...reflect.Value) error {
	all := 0
	for _, list := range lists {
		all += list.Len()
	}
	each := func(yield func([]any) bool) {
		var row []any
		for _, list := range lists {
			for i := range list.Len() {
				if row = values(row[:0], t.Columns, list.Index(i)); !yield(row) {
					return
				}
			}
		}
	}
	if server := tx.archive.server; server != nil && all >= copied {
		return server.Copy(ctx, tx.conn, t.Name, strings.Split(names(t.Columns), ", "), each)
	}
	statement := func(rows int) string {
		return "INSERT INTO " + t.Name + " (" + names(t.Columns) + ") VALUES " + tx.archive.dialect.many(len(t.Columns), rows)
	}
	most := max(1, atOnce/len(t.Columns))
	args := make([]any, 0, min(all, most)*len(t.Columns))
	if all >= most {
		full, err := tx.PrepareContext(ctx, statement(most))
		if err != nil {
			return err
		}
		defer full.Close()
		for row := range each {
			if args = append(args, row...); len(args) == cap(args) {
				if _, err := full.ExecContext(ctx, args...); err != nil {
					return err
				}
				args = args[:0]
			}
		}
	} else {
		for row := range each {
			args = append(args, row...)
		}
	}
	if len(args) == 0 {
		return nil
	}
	_, err := tx.ExecContext(ctx, statement(len(args)/len(t.Columns)), args...)
	return err
}

// each gives the rows of a table of which the rest of the statement tells which.
func each[R any](ctx context.Context, q querier, t *Table, which string, args ...any) iter.Seq2[R, error] {
	return func(yield func(R, error) bool) {
		var none R
		rows, err := q.QueryContext(ctx, "SELECT "+names(t.Columns)+" FROM "+t.Name+" "+which, args...)
		if err != nil {
			yield(none, err)
			return
		}
		defer rows.Close()
		var row R
		to, done := places(t.Columns, reflect.ValueOf(&row).Elem())
		for rows.Next() {
			if err := rows.Scan(to...); err != nil {
				yield(none, err)
				return
			}
			if done(); !yield(row, nil) {
				return
			}
		}
		if err := rows.Err(); err != nil {
			yield(none, err)
		}
	}
}

// list is each as a list, never nil.
func list[R any](ctx context.Context, q querier, t *Table, which string, args ...any) ([]R, error) {
	out := []R{}
	for row, err := range each[R](ctx, q, t, which, args...) {
		if err != nil {
			return nil, err
		}
		out = append(out, row)
	}
	return out, nil
}
