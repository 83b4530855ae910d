package archive

import (
	"context"
	"iter"
	"reflect"
	"strings"
)

// Due is something in a newest state that waits, with what its job calls itself.
type Due[R any] struct {
	ID, Title, Site string // of the job
	Last            string // when its newest entry was made
	Row             R
}

// OpenChecks are the checks of a kind that stand as one of some words, the oldest first.
func (a *Archive) OpenChecks(ctx context.Context, kind string, stands ...string) iter.Seq2[Due[Check], error] {
	args := []any{kind}
	for _, s := range stands {
		args = append(args, s)
	}
	return waiting[Check](ctx, a, "checks", "r.kind = $1 AND r.stands IN "+marks(2, len(stands))+" ORDER BY s.last, s.job, s.head, r.number", args...)
}

// OpenDefects are the defects that were not closed, those that are due first.
func (a *Archive) OpenDefects(ctx context.Context) iter.Seq2[Due[Defect], error] {
	return waiting[Defect](ctx, a, "defects", "r.closed = '' ORDER BY CASE WHEN r.due = '' THEN 1 ELSE 0 END, r.due, s.last, s.job, s.head, r.number")
}

// OpenConcessions are the concessions that close a check, where no later job of the same
// plan on the same site has a check of that name with the verdict passed.
func (a *Archive) OpenConcessions(ctx context.Context, passed string) iter.Seq2[Due[Concession], error] {
	return waiting[Concession](ctx, a, "concessions", `r.stands = 1 AND NOT EXISTS (SELECT 1 FROM states n, checks k WHERE n.newest = 1 AND n.plan = s.plan AND n.site = s.site
 AND n.last > s.last AND n.job <> s.job AND k.job = n.job AND k.head = n.head AND k.check_id = r.check_id AND k.verdict = $1) ORDER BY s.last, s.job, s.head, r.entry`, passed)
}

// UsedInstruments are the instruments that gave answers in newest states of which the last
// entry was made since a moment, and that say until when their calibration holds.
func (a *Archive) UsedInstruments(ctx context.Context, since string) iter.Seq2[Due[Instrument], error] {
	return waiting[Instrument](ctx, a, "instruments", "r.uses > 0 AND r.serial <> '' AND r.due <> '' AND s.last >= $1 ORDER BY s.last, s.job, s.head, r.serial, r.meter", since)
}

func waiting[R any](ctx context.Context, a *Archive, table, which string, args ...any) iter.Seq2[Due[R], error] {
	return func(yield func(Due[R], error) bool) {
		columns := TableOf(table).Columns
		rows, err := a.db.QueryContext(ctx, "SELECT s.id, s.title, s.site, s.last, r."+strings.ReplaceAll(names(columns), ", ", ", r.")+
			" FROM states s, "+table+" r WHERE s.newest = 1 AND r.job = s.job AND r.head = s.head AND "+which, args...)
		if err != nil {
			yield(Due[R]{}, translate(a.path, err))
			return
		}
		defer rows.Close()
		var x Due[R]
		to, done := places(columns, reflect.ValueOf(&x.Row).Elem())
		to = append([]any{&x.ID, &x.Title, &x.Site, &x.Last}, to...)
		for rows.Next() {
			if err := rows.Scan(to...); err != nil {
				yield(Due[R]{}, translate(a.path, err))
				return
			}
			if done(); !yield(x, nil) {
				return
			}
		}
		if err := rows.Err(); err != nil {
			yield(Due[R]{}, translate(a.path, err))
		}
	}
}

// Snapshot hands every table with its rows to do, as they all stood at one moment, in the
// order of their keys. A row is the values of its columns.
func (a *Archive) Snapshot(ctx context.Context, do func(*Table, iter.Seq2[[]any, error]) error) error {
	tx, err := a.db.BeginTx(ctx, a.dialect.snapshot)
	if err != nil {
		return translate(a.path, err)
	}
	defer tx.Rollback() // it wrote nothing
	for _, t := range Tables {
		err := do(t, func(yield func([]any, error) bool) {
			rows, err := tx.QueryContext(ctx, "SELECT "+names(t.Columns)+" FROM "+t.Name+" ORDER BY "+strings.Join(t.Key, ", "))
			if err != nil {
				yield(nil, translate(a.path, err))
				return
			}
			defer rows.Close()
			row := reflect.New(t.row).Elem()
			to, done := places(t.Columns, row)
			for rows.Next() {
				if err := rows.Scan(to...); err != nil {
					yield(nil, translate(a.path, err))
					return
				}
				done()
				if !yield(t.cells(row), nil) {
					return
				}
			}
			if err := rows.Err(); err != nil {
				yield(nil, translate(a.path, err))
			}
		})
		if err != nil {
			return err
		}
	}
	return nil
}
