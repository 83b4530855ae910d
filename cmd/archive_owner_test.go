package cmd

import (
	"bytes"
	"context"
	"database/sql"
	"flag"
	"fmt"
	"io"
	"iter"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"time"

	"handback/cmd/session"
	"handback/records"
	"handback/records/archive"
	"handback/records/bag"
	"handback/report"
	"handback/report/admit"
	"handback/report/files"
	"handback/report/seal"
	"handback/templates"
	"handback/testdata/archives"
	"handback/testdata/outside"
	"handback/testdata/starters"
)

var ownerJobs = flag.Int("owner.jobs", 400, "how many jobs the owner of BenchmarkArchive has; 20000 are some 1,500,000 readings")

// playedRows are the rows of the demo, and of the starter plans that are named, as played.
func playedRows(t testing.TB, works ...string) []*archive.Rows {
	t.Helper()
	out := []*archive.Rows{rowsOfPlayed(t)}
	for _, work := range works {
		plan, err := templates.Plan(work)
		if err != nil {
			t.Fatal(err)
		}
		file := filepath.Join(t.TempDir(), "plan.yaml")
		if err := os.WriteFile(file, starters.FilledIn(plan), 0o644); err != nil {
			t.Fatal(err)
		}
		out = append(out, rowsOfPlayed(t, "--plan", file, "--readings", "../testdata/starters/"+work+".txt"))
	}
	return out
}

func rowsOfPlayed(t testing.TB, args ...string) *archive.Rows {
	t.Helper()
	_, j := demoJob(t, args...)
	return admit.Rows(j, nil, nil)
}

// demoJob is a job that demo has played, with its plan.
func demoJob(t testing.TB, args ...string) ([]byte, *report.Job) {
	t.Helper()
	var talk bytes.Buffer
	env := session.Env{In: strings.NewReader(""), Out: io.Discard, Err: &talk, Now: time.Now}
	dir := filepath.Join(t.TempDir(), "played")
	if status := Main(append([]string{"demo", "-o", dir}, args...), env); status != exitDone {
		t.Fatalf("demo ends with status %d:\n%s", status, talk.String())
	}
	ctx := context.Background()
	book, err := records.OpenRead(ctx, filepath.Join(dir, "book.db"))
	if err != nil {
		t.Fatal(err)
	}
	defer book.Close()
	jobs, err := book.Jobs(ctx)
	if err != nil || len(jobs) != 1 {
		t.Fatalf("%d jobs: %v", len(jobs), err)
	}
	entries, err := book.Entries(ctx, jobs[0].ID)
	if err != nil {
		t.Fatal(err)
	}
	j, err := session.FoldJob(ctx, book, entries)
	if err != nil {
		t.Fatal(err)
	}
	plan, err := book.Plan(ctx, j.PlanHash)
	if err != nil {
		t.Fatal(err)
	}
	return plan, j
}

// Bags of jobs that were told again, each on a site and a day of its own, are taken as
// others are, and found by what is their own.
func TestArchive_varied(t *testing.T) {
	outside.Long(t)
	plan, demo := demoJob(t)
	dir := t.TempDir()
	owner, in := filepath.Join(dir, "owner"), filepath.Join(dir, "in")
	if err := os.Mkdir(in, 0o700); err != nil {
		t.Fatal(err)
	}
	book := filepath.Join(dir, "book.db")
	demands(t, exitDone, book, "archive", "new", "--archive", owner)
	const jobs = 2
	for i := range jobs {
		v, err := archives.Vary(plan, demo.Entries, i)
		if err != nil {
			t.Fatal(err)
		}
		if v.Job.Overall(v.Job.Head().At).Code != demo.Overall(demo.Head().At).Code {
			t.Errorf("job %d comes to %s", i, v.Job.Overall(v.Job.Head().At).Words)
		}
		err = files.WriteBag(filepath.Join(in, fmt.Sprintf("%d.zip", i)), v.Job.ID, files.Over{}, func(to bag.BagSink) error { return seal.Pack(to, v.Job, v.Plan, "handback test", "") })
		if err != nil {
			t.Fatal(err)
		}
	}
	if text := demands(t, exitDone, book, "archive", "add", in, "--archive", owner); strings.Count(text, "new      ") != jobs {
		t.Errorf("added:\n%s", text)
	}
	for _, args := range [][]string{{"--serial", "BCW-30418-1"}, {"--site", "station 001"}, {"--instrument", "TW-1107-1"}} {
		text := demands(t, exitDone, book, append([]string{"archive", "find", "--archive", owner}, args...)...)
		if strings.Count(text, "\n") != 1 || !strings.Contains(text, "Station 001, Tarnholt") {
			t.Errorf("%v finds:\n%s", args, text)
		}
	}
}

// takeOwner takes the jobs of an owner, some at a time, and counts their readings.
func takeOwner(t testing.TB, a *archive.Archive, jobs iter.Seq[archives.Job]) (readings int) {
	t.Helper()
	var waiting []archive.Taking
	flush := func() {
		if _, err := a.Take(context.Background(), time.Now(), waiting...); err != nil {
			t.Fatal(err)
		}
		waiting = nil
	}
	for j := range jobs {
		in, err := a.Receive(context.Background(), "bag.zip", func(w io.Writer) error { _, err := io.WriteString(w, j.Rows.States[0].Head); return err })
		if err != nil {
			t.Fatal(err)
		}
		readings += len(j.Rows.Readings) + len(j.Rows.Results)
		if waiting = append(waiting, archive.Taking{Incoming: in, Rows: j.Rows, Hashes: j.Hashes, List: in.SHA256}); len(waiting) == atATime {
			flush()
		}
	}
	flush()
	return readings
}

// An owner's jobs stand in the archive as they were made, and what is asked of twenty
// years is answered from all of them.
func TestArchive_owner(t *testing.T) {
	outside.Long(t)
	real := playedRows(t)
	a, err := archive.Create(context.Background(), filepath.Join(t.TempDir(), "owner"), nil, time.Now())
	if err != nil {
		t.Fatal(err)
	}
	defer a.Close()
	const jobs = 70
	takeOwner(t, a, archives.Owner(real, jobs))
	want := map[string]bool{}
	for j := range archives.Owner(real, jobs) {
		got, err := a.RowsOf(context.Background(), j.Rows.States[0].Job, j.Rows.States[0].Head)
		if err != nil {
			t.Fatal(err)
		}
		j.Rows.Sort()
		if tables := got.Differ(j.Rows); len(tables) > 0 {
			t.Fatalf("job %s differs in %v", j.Rows.States[0].Job, tables)
		}
		if last := j.Rows.States[0].Last; last >= "2010" && last < "2015" {
			want[j.Rows.States[0].Job] = true
		}
	}
	found := 0
	for f, err := range a.Find(context.Background(), archive.Query{From: "2010-01-01", To: "2014-12-31"}) {
		if found++; err != nil || !want[f.Job] {
			t.Errorf("found %s of %s: %v", f.Job, f.Last, err)
		}
	}
	if found != len(want) || found < 10 {
		t.Errorf("found %d of %d jobs", found, len(want))
	}
}

// BenchmarkArchive measures, side by side with the floor named in each:
//
//	add    rows taken, of jobs whose bags are a line each; the same rows inserted raw
//	find   by the command's query; the SQL that a person would write for it, on the same file
//	first  a whole process to the first line of its answer; one that prints its version
func BenchmarkArchive(b *testing.B) {
	real := playedRows(b, templates.Plans()...)
	dir := b.TempDir()
	owner := filepath.Join(dir, "owner")
	ctx := context.Background()
	a, err := archive.Create(ctx, owner, nil, time.Now())
	if err != nil {
		b.Fatal(err)
	}
	start := time.Now()
	n := takeOwner(b, a, archives.Owner(real, *ownerJobs))
	b.Logf("%d jobs, %d readings and results taken in %v", *ownerJobs, n, time.Since(start).Round(time.Millisecond))
	if err := a.Close(); err != nil {
		b.Fatal(err)
	}
	b.Run("add", func(b *testing.B) { benchAdd(b, real) })
	for name, q := range findings {
		b.Run("find/"+name, func(b *testing.B) { benchFind(b, owner, q.query, q.sql) })
	}
	b.Run("first", func(b *testing.B) {
		ours := buildProgram(b, dir, "handback", "handback/cmd/handback")
		sideBySide(b, func() {}, func() { firstLine(b, ours, "archive", "find", "--archive", owner) }, func() { firstLine(b, ours, "--version") })
	})
}

func benchAdd(b *testing.B, real []*archive.Rows) {
	var jobs []archives.Job
	for j := range archives.Owner(real, 4*atATime) {
		jobs = append(jobs, j)
	}
	var a *archive.Archive
	var raw *sql.DB
	ready := func() {
		dir := b.TempDir()
		var err error
		if a, err = archive.Create(context.Background(), filepath.Join(dir, "a"), nil, time.Now()); err != nil {
			b.Fatal(err)
		}
		b.Cleanup(func() { a.Close() })
		raw = rawArchive(b, filepath.Join(dir, "raw.db"))
	}
	each := func(yield func(archives.Job) bool) {
		for _, j := range jobs {
			if !yield(j) {
				return
			}
		}
	}
	sideBySide(b, ready, func() { takeOwner(b, a, each) }, func() { insertRaw(b, raw, jobs) })
}

// rawArchive is a data base with the tables of an archive and the same care for the disk.
func rawArchive(b *testing.B, path string) *sql.DB {
	db, err := sql.Open("sqlite", "file:"+filepath.ToSlash(path)+"?_journal_mode=WAL&_synchronous=FULL&_pragma=cache_size(-32768)")
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { db.Close() })
	db.SetMaxOpenConns(1)
	schema, err := os.ReadFile("../records/archive/testdata/schema.sql")
	if err == nil {
		_, err = db.Exec(string(schema))
	}
	if err != nil {
		b.Fatal(err)
	}
	return db
}

// insertRaw inserts the rows of jobs as somebody would who knows the tables: all rows of a
// portion of jobs table by table, many a statement.
func insertRaw(b *testing.B, db *sql.DB, jobs []archives.Job) {
	for from := 0; from < len(jobs); from += atATime {
		tx, err := db.Begin()
		if err != nil {
			b.Fatal(err)
		}
		for _, t := range archive.Tables {
			var args []any
			rows, most := 0, 500/len(t.Columns)
			flush := func() {
				one := "(?" + strings.Repeat(", ?", len(t.Columns)-1) + ")"
				if rows > 0 {
					if _, err := tx.Exec("INSERT INTO "+t.Name+" VALUES "+one+strings.Repeat(", "+one, rows-1), args...); err != nil {
						b.Fatal(err)
					}
				}
				args, rows = nil, 0
			}
			for _, j := range jobs[from:min(from+atATime, len(jobs))] {
				list := t.Of(j.Rows)
				for i := range list.Len() {
					for _, c := range t.Columns {
						args = append(args, rawValue(c.Of(list.Index(i))))
					}
					if rows++; rows == most {
						flush()
					}
				}
			}
			flush()
		}
		if err := tx.Commit(); err != nil {
			b.Fatal(err)
		}
	}
}

func rawValue(v reflect.Value) any {
	if v.Kind() == reflect.Pointer && v.IsNil() {
		return nil
	}
	return reflect.Indirect(v).Interface()
}

// findings are queries with the SQL that a person would write for them.
var findings = map[string]struct {
	query archive.Query
	sql   string
}{
	"serial":     {archive.Query{Serial: "BCW-30418-007"}, "SELECT DISTINCT s.* FROM states s JOIN plants p ON p.job = s.job AND p.head = s.head WHERE s.newest = 1 AND p.serial = 'BCW-30418-007' ORDER BY s.last DESC"},
	"site":       {archive.Query{Site: "station 007"}, "SELECT s.* FROM states s WHERE s.newest = 1 AND s.site LIKE '%station 007%' ORDER BY s.last DESC"},
	"kind":       {archive.Query{Kind: "unbalance", Verdict: "fail", From: "2015-01-01", To: "2015-12-31"}, "SELECT DISTINCT s.* FROM states s JOIN checks c ON c.job = s.job AND c.head = s.head WHERE s.newest = 1 AND s.last >= '2015-01-01' AND s.last < '2016' AND c.kind = 'unbalance' AND c.verdict = 'fail' ORDER BY s.last DESC"},
	"instrument": {archive.Query{Instrument: "TW-1107-07"}, "SELECT DISTINCT s.* FROM states s JOIN instruments m ON m.job = s.job AND m.head = s.head WHERE s.newest = 1 AND m.serial = 'TW-1107-07' AND m.uses > 0 ORDER BY s.last DESC"},
	"text":       {archive.Query{Text: "network operator"}, "SELECT DISTINCT s.* FROM states s JOIN texts t ON t.job = s.job AND t.head = s.head WHERE s.newest = 1 AND t.plain LIKE '%network operator%' ORDER BY s.last DESC"},
	"all":        {archive.Query{}, "SELECT s.* FROM states s WHERE s.newest = 1 ORDER BY s.last DESC"},
}

func benchFind(b *testing.B, owner string, q archive.Query, by string) {
	a, err := archive.OpenRead(context.Background(), owner)
	if err != nil {
		b.Fatal(err)
	}
	defer a.Close()
	db, err := sql.Open("sqlite", "file:"+filepath.ToSlash(filepath.Join(owner, "archive.sqlite"))+"?_query_only=1&_pragma=cache_size(-32768)")
	if err != nil {
		b.Fatal(err)
	}
	defer db.Close()
	found, bare := 0, 0
	sideBySide(b, func() { found, bare = 0, 0 }, func() {
		for f, err := range a.Find(context.Background(), q) {
			if found++; err != nil {
				b.Fatal(f, err)
			}
		}
	}, func() {
		rows, err := db.Query(by)
		if err != nil {
			b.Fatal(err)
		}
		defer rows.Close()
		columns := make([]any, len(archive.Tables[0].Columns))
		for i := range columns {
			columns[i] = new(sql.RawBytes)
		}
		for ; rows.Next(); bare++ {
			if err := rows.Scan(columns...); err != nil {
				b.Fatal(err)
			}
		}
	})
	if found != bare {
		b.Fatalf("%d were found, by hand %d", found, bare)
	}
	b.ReportMetric(float64(found), "found")
}

// firstLine runs a program until the first line of its answer.
func firstLine(b *testing.B, program string, args ...string) {
	c := exec.Command(program, args...)
	out, err := c.StdoutPipe()
	if err == nil {
		err = c.Start()
	}
	if err != nil {
		b.Fatal(err)
	}
	var first [1]byte
	for first[0] != '\n' {
		if _, err := out.Read(first[:]); err != nil {
			b.Fatal(fmt.Errorf("%v: no line: %w", args, err))
		}
	}
	c.Process.Kill()
	c.Wait() // killed, as it should be
}
