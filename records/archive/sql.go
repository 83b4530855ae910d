package archive

import (
	"context"
	"database/sql"
	"iter"
	"reflect"
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

// insert adds rows of a table.
func insert[R any](ctx context.Context, q querier, t *Table, rows []R) error {
	return insertAll(ctx, q, t, reflect.ValueOf(rows))
}

func insertAll(ctx context.Context, q querier, t *Table, rows reflect.Value) error {
	n := len(t.Columns)
	most := max(1, atOnce/n)
	for from := 0; from < rows.Len(); from += most {
		to := min(from+most, rows.Len())
		var args []any
		for i := from; i < to; i++ {
			row := rows.Index(i)
			if row.Kind() == reflect.Interface {
				row = row.Elem()
			}
			args = append(args, values(t.Columns, row)...)
		}
		if _, err := q.ExecContext(ctx, "INSERT INTO "+t.Name+" ("+names(t.Columns)+") VALUES "+marks(1, n, to-from), args...); err != nil {
			return err
		}
	}
	return nil
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
		for rows.Next() {
			var row R
			to, done := places(t.Columns, reflect.ValueOf(&row).Elem())
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
