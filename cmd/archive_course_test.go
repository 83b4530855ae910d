package cmd

import (
	"context"
	"database/sql"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"handback/checks/trend"
	"handback/records/archive"
	"handback/testdata/archives"
)

// BenchmarkCourse measures, side by side with the SQL that a person would write for it on
// the same file:
//
//	trend   the values of one point of one transformer, and the line through them
//	recall  the states in which an instrument was used in a year, with their bags
//
// -owner.jobs says of how many jobs, as for BenchmarkArchive.
func BenchmarkCourse(b *testing.B) {
	real := playedRows(b)
	owner, ctx := filepath.Join(b.TempDir(), "owner"), context.Background()
	a, err := archive.Create(ctx, owner, nil, time.Now())
	if err != nil {
		b.Fatal(err)
	}
	takeOwner(b, a, archives.Owner(real, *ownerJobs))
	if err := a.Close(); err != nil {
		b.Fatal(err)
	}
	if a, err = archive.OpenRead(ctx, owner); err != nil {
		b.Fatal(err)
	}
	defer a.Close()
	db, err := sql.Open("sqlite", "file:"+filepath.ToSlash(filepath.Join(owner, "archive.sqlite"))+"?_query_only=1&_pragma=cache_size(-32768)")
	if err != nil {
		b.Fatal(err)
	}
	defer db.Close()
	i := slices.IndexFunc(real[0].Results, func(r archive.Result) bool { return r.Check == "volts-t2" && r.Newest && r.Low != nil })
	key := real[0].Results[i].Key
	bench := func(name string, ours func() int, by string, args ...any) {
		b.Run(name, func(b *testing.B) {
			found, bare := 0, 0
			sideBySide(b, func() { found, bare = 0, 0 }, func() { found = ours() }, func() { bare = readAll(b, db, by, args...) })
			if found != bare || found == 0 {
				b.Fatalf("%d were found, by hand %d", found, bare)
			}
			b.ReportMetric(float64(found), "found")
		})
	}
	bench("trend", func() int {
		values, err := a.Values(ctx, archive.Course{Plant: "BCW-30418-007", Check: "volts-t2", Key: key})
		if err != nil {
			b.Fatal(err)
		}
		var s trend.Series
		for _, v := range values {
			x, _ := valueOf(v, v.Unit)
			s.Values = append(s.Values, x)
		}
		trend.Of(s, time.Now())
		return len(values)
	}, "SELECT r.*, s.id, s.site FROM plants p JOIN states s ON s.job = p.job AND s.head = p.head JOIN results r ON r.job = p.job AND r.head = p.head WHERE p.serial = $1 AND s.newest = 1 AND r.check_id = 'volts-t2' AND r.value_key = $2 AND r.newest = 1 ORDER BY r.judged",
		"BCW-30418-007", key)
	bench("recall", func() int {
		list, err := a.UsedIn(ctx, func(serial string) bool { return serial == "TW-1107-07" }, "2015-01-01", "2016-01-01")
		if err != nil {
			b.Fatal(err)
		}
		return len(list)
	}, "SELECT s.*, b.* FROM instruments i JOIN states s ON s.job = i.job AND s.head = i.head JOIN bags b ON b.job = s.job AND b.head = s.head WHERE i.serial = $1 AND i.uses > 0 AND s.newest = 1 AND s.last >= '2015-01-01' AND s.opened < '2016-01-01' ORDER BY s.opened",
		"TW-1107-07")
}

// readAll reads what a query gives, and counts it.
func readAll(b *testing.B, db *sql.DB, query string, args ...any) (n int) {
	rows, err := db.Query(query, args...)
	if err != nil {
		b.Fatal(err)
	}
	defer rows.Close()
	names, err := rows.Columns()
	if err != nil {
		b.Fatal(err)
	}
	columns := make([]any, len(names))
	for i := range columns {
		columns[i] = new(sql.RawBytes)
	}
	for ; rows.Next(); n++ {
		if err := rows.Scan(columns...); err != nil {
			b.Fatal(err)
		}
	}
	if err := rows.Err(); err != nil {
		b.Fatal(err)
	}
	return n
}
