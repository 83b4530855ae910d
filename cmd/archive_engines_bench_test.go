package cmd

import (
	"context"
	"reflect"
	"slices"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"

	"handback/records/archive"
	"handback/testdata/archives"
	"handback/testdata/outside"
)

// BenchmarkServer measures an archive in PostgreSQL side by side with the floor named in each:
//
//	add   rows taken, of jobs whose bags are a line each; the same rows by COPY alone
//	find  by the command's query; the SQL that a person would write for it, on the same tables
func BenchmarkServer(b *testing.B) {
	ctx := context.Background()
	real := playedRows(b)
	p := outside.NewPostgres(b)
	schema := func(name string) string {
		p.SQL("public", "CREATE SCHEMA "+name)
		return p.URL("owner", "search_path="+name)
	}
	open := func(url string) *archive.Archive {
		a, err := archive.Create(ctx, url, nil, time.Now())
		if err != nil {
			b.Fatal(err)
		}
		b.Cleanup(func() { a.Close() })
		return a
	}
	owner, bare := open(schema("owner")), schema("bare")
	open(bare)
	raw, err := pgx.Connect(ctx, bare)
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { raw.Close(ctx) })
	var jobs []archives.Job
	n := 0
	for j := range archives.Owner(real, *ownerJobs) {
		jobs = append(jobs, j)
		n += len(j.Rows.Readings) + len(j.Rows.Results)
	}
	rest := jobs // each time other ones
	b.Run("add", func(b *testing.B) {
		var part []archives.Job
		sideBySide(b, func() {
			if len(rest) < 2*atATime {
				b.Skipf("-owner.jobs %d are too few", len(jobs))
			}
			part, rest = rest[:2*atATime], rest[2*atATime:]
		}, func() { takeOwner(b, owner, slices.Values(part)) }, func() { copyRaw(b, raw, part) })
	})
	all := open(schema("whole"))
	start := time.Now()
	takeOwner(b, all, archives.Owner(real, *ownerJobs))
	b.Logf("%d jobs, %d readings and results taken in %v", *ownerJobs, n, time.Since(start).Round(time.Millisecond))
	p.SQL("whole", "ANALYZE")
	hand, err := pgx.Connect(ctx, p.URL("owner", "search_path=whole"))
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { hand.Close(ctx) })
	for name, q := range findings {
		b.Run("find/"+name, func(b *testing.B) { benchFindServer(b, all, hand, q.query, q.sql) })
	}
}

// copyRaw copies the rows of jobs as somebody would who knows the tables.
func copyRaw(b *testing.B, raw *pgx.Conn, jobs []archives.Job) {
	ctx := context.Background()
	for from := 0; from < len(jobs); from += atATime {
		tx, err := raw.Begin(ctx)
		if err != nil {
			b.Fatal(err)
		}
		for _, t := range archive.Tables {
			var rows [][]any
			var columns []string
			for _, c := range t.Columns {
				columns = append(columns, c.Name)
			}
			for _, j := range jobs[from:min(from+atATime, len(jobs))] {
				list := t.Of(j.Rows)
				for i := range list.Len() {
					row := make([]any, len(t.Columns))
					for n, c := range t.Columns {
						if row[n] = rawValue(c.Of(list.Index(i))); reflect.TypeOf(row[n]) == reflect.TypeFor[bool]() {
							row[n] = map[bool]int16{true: 1}[row[n].(bool)]
						}
					}
					rows = append(rows, row)
				}
			}
			if _, err := tx.CopyFrom(ctx, pgx.Identifier{t.Name}, columns, pgx.CopyFromRows(rows)); err != nil {
				b.Fatal(err)
			}
		}
		if err := tx.Commit(ctx); err != nil {
			b.Fatal(err)
		}
	}
}

func benchFindServer(b *testing.B, a *archive.Archive, hand *pgx.Conn, q archive.Query, by string) {
	found, bare := 0, 0
	sideBySide(b, func() { found, bare = 0, 0 }, func() {
		for f, err := range a.Find(context.Background(), q) {
			if found++; err != nil {
				b.Fatal(f, err)
			}
		}
	}, func() {
		rows, err := hand.Query(context.Background(), by)
		if err != nil {
			b.Fatal(err)
		}
		defer rows.Close()
		for ; rows.Next(); bare++ {
			if len(rows.RawValues()) == 0 {
				b.Fatal("a row of nothing")
			}
		}
		if err := rows.Err(); err != nil {
			b.Fatal(err)
		}
	})
	if found != bare {
		b.Fatalf("%d were found, by hand %d", found, bare)
	}
	b.ReportMetric(float64(found), "found")
}
