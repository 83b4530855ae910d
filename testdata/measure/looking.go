package main

import (
	"errors"
	"fmt"
	"path/filepath"
	"runtime"

	"handback/checks/plan"
	"handback/records"
	"handback/records/chain"
	"handback/report"
)

// starting is what a whole process takes to look at a job.
var starting = []row{
	{"start alone (`--version`)", "a program of Go that does nothing", 5.4, func(b *bench) (sides, error) {
		return processes(41, []string{b.program, "--version"}, []string{b.nothing})
	}},
	{"`status` of the demo, which is ready: every finding is judged again", "a program of Go that does nothing", 10, func(b *bench) (sides, error) {
		book, err := b.played()
		if err != nil {
			return sides{}, err
		}
		return processes(41, []string{b.program, "--book", book, "status", "t2-return-1"}, []string{b.nothing})
	}},
	{"`status` of a job of 5,000 entries, under way", "`status` of the demo", 2, func(b *bench) (sides, error) {
		demo, err := b.played()
		if err != nil {
			return sides{}, err
		}
		book, jobs, err := b.made(5000)
		if err != nil {
			return sides{}, err
		}
		return processes(21, []string{b.program, "--book", book, "status", jobs[0]}, []string{b.program, "--book", demo, "status", "t2-return-1"})
	}},
}

// folding is what entries take in a job.
var folding = []row{
	foldRow(61, 16), foldRow(301, 4), foldRow(1201, 1), foldRow(5000, 1), foldRow(100_000, 1),
	{"verify of a book of 100,000 entries", "100 × that of 1,000", 1.3, func(b *bench) (sides, error) {
		many, _, err := b.made(100_000)
		if err != nil {
			return sides{}, err
		}
		few, _, err := b.made(1000)
		if err != nil {
			return sides{}, err
		}
		return turns(3, spent, b.verifying(many, 1), b.verifying(few, 100))
	}},
	{"memory of a folded job of 5,000 entries, an entry", "2 KB", 1, func(b *bench) (sides, error) { return b.kept(report.Fold) }},
	{"memory of one folded as recorded, an entry", "2 KB", 1, func(b *bench) (sides, error) { return b.kept(report.Recorded) }},
	{"verify of a book of 10,000 entries", "decoding and hashing them", 2, func(b *bench) (sides, error) {
		book, jobs, err := b.made(10_000)
		if err != nil {
			return sides{}, err
		}
		_, entries, err := b.read(book, jobs[0])
		if err != nil {
			return sides{}, err
		}
		return turns(11, spent, b.verifying(book, 1), func() error { return decodeAndHash(entries) })
	}},
}

// foldRow folds a job of so many entries, times over where it is small, against one of 1,000
// as often as makes as many entries.
func foldRow(n, times int) row {
	return row{fmt.Sprintf("fold of %d entries", n), "as many in jobs of 1,000", 1.3, func(b *bench) (sides, error) {
		ours, err := b.folds(n)
		if err != nil {
			return sides{}, err
		}
		floor, err := b.folds(1000)
		if err != nil {
			return sides{}, err
		}
		over := max(1, times*n/1000)
		s, err := turns(5, spent, repeat(max(1, over*1000/n), ours), repeat(over, floor))
		s.ours /= float64(max(1, over*1000/n) * n)
		s.floor /= float64(over * 1000)
		return s, err
	}}
}

func repeat(n int, work func() error) func() error {
	return func() error {
		for range n {
			if err := work(); err != nil {
				return err
			}
		}
		return nil
	}
}

// folds folds a made job.
func (b *bench) folds(n int) (func() error, error) {
	book, jobs, err := b.made(n)
	if err != nil {
		return nil, err
	}
	p, entries, err := b.read(book, jobs[0])
	return func() error {
		j, err := report.Fold(p, entries)
		if err == nil && len(j.Differs) > 0 {
			err = errors.New(j.Differs[0])
		}
		return err
	}, err
}

// read is a job's plan and its entries.
func (b *bench) read(path, job string) (*plan.Plan, []chain.Entry, error) {
	book, err := records.OpenRead(b.ctx, path)
	if err != nil {
		return nil, nil, err
	}
	defer book.Close()
	entries, err := book.Entries(b.ctx, job)
	if err != nil {
		return nil, nil, err
	}
	first, err := report.Decode[report.Opened](entries[0])
	if err != nil {
		return nil, nil, err
	}
	text, err := book.Plan(b.ctx, first.PlanHash)
	if err != nil {
		return nil, nil, err
	}
	p, err := plan.Load(first.PlanFile, text)
	return p, entries, err
}

// verifying verifies a book, times over.
func (b *bench) verifying(path string, times int) func() error {
	return repeat(times, func() error {
		book, err := records.OpenRead(b.ctx, path)
		if err != nil {
			return err
		}
		defer book.Close()
		faults, err := book.Verify(b.ctx)
		if err == nil && len(faults) > 0 {
			err = errors.New(faults[0].String())
		}
		return err
	})
}

// kept is what a folded job holds beside its entries.
func (b *bench) kept(fold func(*plan.Plan, []chain.Entry) (*report.Job, error)) (sides, error) {
	book, jobs, err := b.made(5000)
	if err != nil {
		return sides{}, err
	}
	p, entries, err := b.read(book, jobs[0])
	if err != nil {
		return sides{}, err
	}
	before := held()
	j, err := fold(p, entries)
	after := held()
	runtime.KeepAlive(j)
	runtime.KeepAlive(entries)
	runtime.KeepAlive(p)
	return sides{float64(after-before) / float64(len(entries)), 2000, "bytes"}, err
}

func held() int64 {
	var m runtime.MemStats
	runtime.GC()
	runtime.GC()
	runtime.ReadMemStats(&m)
	return int64(m.HeapAlloc)
}

// bookOf is where a made book lies.
func (b *bench) bookOf(name string) string { return filepath.Join(b.dir, name+".db") }
