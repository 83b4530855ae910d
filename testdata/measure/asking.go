package main

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"

	"handback/records/archive"
	"handback/records/bag"
	"handback/report"
	"handback/report/files"
	"handback/report/seal"
	"handback/testdata/archives"
)

// archiving is what an owner's archive of a million readings takes.
var archiving = slices.Concat(onEngine("SQLite"), wholeArchive, onEngine("PostgreSQL"))

// onEngine are the rows that both engines have.
func onEngine(engine string) []row {
	of := func(what, floor string, goal float64, measure func(*bench, *owned) (sides, error)) row {
		return row{"archive in " + engine + ": " + what, floor, goal, func(b *bench) (sides, error) {
			o, err := b.owner(engine)
			if err != nil {
				return sides{}, err
			}
			return measure(b, o)
		}}
	}
	out := []row{
		of("add, all of it", map[string]string{"SQLite": "multi-row INSERT of the same rows", "PostgreSQL": "COPY of the same rows (waits)"}[engine], 1.3, func(_ *bench, o *owned) (sides, error) { return o.added, nil }),
		of("peak memory of adding, all", "at a tenth of the jobs", 1.1, func(_ *bench, o *owned) (sides, error) {
			return sides{o.peaks[1], o.peaks[0], "MiB"}, nil
		}),
	}
	for _, command := range watched {
		if engine == "SQLite" {
			out = append(out, of("peak memory of `"+command+"`, all", "at a tenth of the jobs", 1.1, func(_ *bench, o *owned) (sides, error) {
				return sides{o.asked[command][1], o.asked[command][0], "MiB"}, nil
			}))
		}
	}
	for _, q := range questions {
		out = append(out, of(q.what, "SQL by hand", 1.5, func(b *bench, o *owned) (sides, error) { return b.ask(o, q) }))
	}
	return out
}

// question is asked by the program and by hand. Both must give as many.
type question struct {
	what string
	ours func(context.Context, *archive.Archive) (int, error)
	sql  string
}

// finds is a question that find answers.
func finds(what string, q archive.Query, sql string) question {
	return question{"find " + what, func(ctx context.Context, a *archive.Archive) (n int, err error) {
		for _, err := range a.Find(ctx, q) {
			if err != nil {
				return 0, err
			}
			n++
		}
		return n, nil
	}, sql}
}

// questions are asked with what a person would write for them.
var questions = []question{
	finds("by serial number", archive.Query{Serial: "BCW-21413-008"}, "SELECT DISTINCT s.* FROM states s JOIN plants p ON p.job = s.job AND p.head = s.head WHERE s.newest = 1 AND p.serial = 'BCW-21413-008' ORDER BY s.last DESC"),
	finds("by site", archive.Query{Site: "station 007"}, "SELECT s.* FROM states s WHERE s.newest = 1 AND s.site LIKE '%station 007%' ORDER BY s.last DESC"),
	finds("by plant", archive.Query{Plant: "generator"}, "SELECT DISTINCT s.* FROM states s JOIN plants p ON p.job = s.job AND p.head = s.head WHERE s.newest = 1 AND (p.plant = 'generator' OR p.name LIKE '%generator%' OR p.maker LIKE '%generator%') ORDER BY s.last DESC"),
	finds("by kind, verdict and year", archive.Query{Kind: "unbalance", Verdict: "fail", From: "2015-01-01", To: "2015-12-31"}, "SELECT DISTINCT s.* FROM states s JOIN checks c ON c.job = s.job AND c.head = s.head WHERE s.newest = 1 AND s.last >= '2015-01-01' AND s.last < '2016' AND c.kind = 'unbalance' AND c.verdict = 'fail' ORDER BY s.last DESC"),
	finds("by instrument", archive.Query{Instrument: "TW-7518-08"}, "SELECT DISTINCT s.* FROM states s JOIN instruments m ON m.job = s.job AND m.head = s.head WHERE s.newest = 1 AND m.serial = 'TW-7518-08' AND m.uses > 0 ORDER BY s.last DESC"),
	finds("by words", archive.Query{Text: "network operator"}, "SELECT DISTINCT s.* FROM states s JOIN texts t ON t.job = s.job AND t.head = s.head WHERE s.newest = 1 AND t.plain LIKE '%network operator%' ORDER BY s.last DESC"),
	finds("all", archive.Query{}, "SELECT s.* FROM states s WHERE s.newest = 1 ORDER BY s.last DESC"),
	{"trend of one value", func(ctx context.Context, a *archive.Archive) (int, error) {
		values, err := a.Values(ctx, archive.Course{Plant: "BCW-21413-008", Check: "volts-t2", Key: "volts_l1n"})
		return len(values), err
	}, "SELECT r.*, s.id, s.site, c.kind, c.place FROM plants p JOIN states s ON s.job = p.job AND s.head = p.head JOIN results r ON r.job = p.job AND r.head = p.head JOIN checks c ON c.job = r.job AND c.head = r.head AND c.check_id = r.check_id WHERE p.serial = 'BCW-21413-008' AND s.newest = 1 AND r.check_id = 'volts-t2' AND r.value_key = 'volts_l1n' AND r.newest = 1 ORDER BY r.judged"},
	{"recall, which states", func(ctx context.Context, a *archive.Archive) (int, error) {
		used, err := a.UsedIn(ctx, "tw-7518-08", "2010-01-01", "2015-01-01")
		return len(used), err
	}, "SELECT s.*, b.* FROM instruments i JOIN states s ON s.job = i.job AND s.head = i.head JOIN bags b ON b.job = s.job AND b.head = s.head WHERE i.serial = 'TW-7518-08' AND i.uses > 0 AND s.newest = 1 AND s.last >= '2010-01-01' AND s.opened < '2015-01-01' ORDER BY s.opened"},
}

// ask asks both ways in turn.
func (b *bench) ask(o *owned, q question) (sides, error) {
	n, err := q.ours(b.ctx, o.ours)
	if err != nil {
		return sides{}, err
	}
	var bare int
	ours := func() error { _, err := q.ours(b.ctx, o.ours); return err }
	byHand := func() error { bare, err = readAll(b.ctx, o.hand, q.sql); return err }
	once, err := turns(1, waited, ours, byHand)
	if err != nil {
		return sides{}, err
	}
	if n != bare || n == 0 {
		return sides{}, fmt.Errorf("%d were found, by hand %d", n, bare)
	}
	// As often as makes the time of a look-up stand out, and a search through all not take long.
	times := int(min(max(5/once.ours, 1), 50))
	s, err := turns(15, o.clock, repeat(times, ours), repeat(times, byHand))
	s.ours, s.floor = s.ours/float64(times), s.floor/float64(times)
	return s, err
}

// readAll reads what a query gives, and counts it.
func readAll(ctx context.Context, db *sql.DB, query string) (n int, err error) {
	rows, err := db.QueryContext(ctx, query)
	if err != nil {
		return 0, err
	}
	defer rows.Close()
	names, err := rows.Columns()
	if err != nil {
		return 0, err
	}
	columns := make([]any, len(names))
	for i := range columns {
		columns[i] = new(sql.RawBytes)
	}
	for ; rows.Next(); n++ {
		if err := rows.Scan(columns...); err != nil {
			return 0, err
		}
	}
	return n, rows.Err()
}

// wholeArchive are whole processes over the archive in a folder.
var wholeArchive = []row{
	{"archive in SQLite: first line of `find`", "start alone (`--version`)", 3, func(b *bench) (sides, error) {
		if _, err := b.owner("SQLite"); err != nil {
			return sides{}, err
		}
		return turns(21, waited, func() error { return b.firstLine("archive", "find", "--archive", filepath.Join(b.dir, "owner")) }, func() error { return b.firstLine("--version") })
	}},
	{"archive in SQLite: `doctor --hashes`", "integrity_check of its data base alone", 1.5, func(b *bench) (sides, error) {
		o, err := b.owner("SQLite")
		if err != nil {
			return sides{}, err
		}
		return turns(1, withChildren, func() error {
			return exec.CommandContext(b.ctx, b.program, "archive", "doctor", "--hashes", "--archive", o.folder).Run()
		}, func() error { _, err := readAll(b.ctx, o.hand, "PRAGMA integrity_check"); return err })
	}},
	{"archive: `recall` judges a bag of the demo again", "fold of its entries, as every command does", 3, (*bench).recalls},
}

// recalled is how many bags are judged again.
const recalled = 12

// recalls judges jobs again in which one instrument was used, each as it is in a bag of its
// own: what a recall takes beside finding them.
func (b *bench) recalls() (sides, error) {
	book, err := b.played()
	if err != nil {
		return sides{}, err
	}
	p, entries, err := b.read(book, "t2-return-1")
	if err != nil {
		return sides{}, err
	}
	owner, in := filepath.Join(b.dir, "recalled"), filepath.Join(b.dir, "recalled-in")
	if err := os.Mkdir(in, 0o700); err != nil {
		return sides{}, err
	}
	for i := range recalled { // of the same instruments, on another site
		v, err := archives.Vary([]byte(p.Text()), entries, i*60)
		if err == nil {
			err = files.WriteBag(filepath.Join(in, fmt.Sprintf("%d.zip", i)), v.Job.ID, files.Over{}, func(to bag.BagSink) error { return seal.Pack(to, v.Job, v.Plan, "handback measured", "") })
		}
		if err != nil {
			return sides{}, err
		}
	}
	for _, args := range [][]string{{"new"}, {"add", in}} {
		if said, err := exec.CommandContext(b.ctx, b.program, append([]string{"archive", "--archive", owner}, args...)...).CombinedOutput(); err != nil {
			return sides{}, fmt.Errorf("%v: %w\n%s", args, err, said)
		}
	}
	s, err := turns(5, withChildren, func() error {
		err := exec.CommandContext(b.ctx, b.program, "archive", "recall", "TW-7518-0", "--error", "+0.5%", "--archive", owner).Run()
		if e := new(exec.ExitError); errors.As(err, &e) && e.ExitCode() == 3 {
			err = nil
		}
		return err
	}, func() error {
		for range recalled {
			if _, err := report.Fold(p, entries); err != nil {
				return err
			}
		}
		return nil
	})
	s.ours, s.floor = s.ours/recalled, s.floor/recalled
	return s, err
}

// firstLine runs the program until the first line of its answer.
func (b *bench) firstLine(args ...string) error {
	c := exec.CommandContext(b.ctx, b.program, args...)
	out, err := c.StdoutPipe()
	if err == nil {
		err = c.Start()
	}
	if err != nil {
		return err
	}
	var first [1]byte
	for first[0] != '\n' {
		if _, err := out.Read(first[:]); err != nil {
			return fmt.Errorf("%s: no line: %w", strings.Join(args, " "), err)
		}
	}
	if err := c.Process.Kill(); err != nil {
		return err
	}
	c.Wait() // killed, as it should be
	return nil
}
