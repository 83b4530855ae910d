package cmd

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"iter"
	"os"
	"path/filepath"
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
	for _, args := range [][]string{{"--serial", "BCW-21413-1"}, {"--site", "station 001"}, {"--instrument", "TW-7518-1"}} {
		text := demands(t, exitDone, book, append([]string{"archive", "find", "--archive", owner}, args...)...)
		if strings.Count(text, "\n") != 1 || !strings.Contains(text, "Station 001, Tarnholt") {
			t.Errorf("%v finds:\n%s", args, text)
		}
	}
}

// takeOwner takes the jobs of an owner, some at a time.
func takeOwner(t testing.TB, a *archive.Archive, jobs iter.Seq[archives.Job]) {
	t.Helper()
	var waiting []archive.Taking
	flush := func() {
		if _, err := a.Take(context.Background(), time.Date(2026, 7, 1, 0, 0, 0, 0, time.UTC), waiting...); err != nil {
			t.Fatal(err)
		}
		waiting = nil
	}
	for j := range jobs {
		in, err := a.Receive(context.Background(), "bag.zip", func(w io.Writer) error { _, err := io.WriteString(w, j.Rows.States[0].Head); return err })
		if err != nil {
			t.Fatal(err)
		}
		if waiting = append(waiting, archive.Taking{Incoming: in, Rows: j.Rows, Hashes: j.Hashes, List: in.SHA256}); len(waiting) == atATime {
			flush()
		}
	}
	flush()
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
