package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"

	"handback/checks"
	"handback/cmd/session"
	"handback/records"
	"handback/records/chain"
	"handback/report"
)

// storing is what an accepted line takes until it is on the disk.
var storing = []row{
	{"accepted line, folded and on the disk (waits)", "write of as many bytes and fsync", 1.5, func(b *bench) (sides, error) {
		add, done, err := b.lines("empty", 1)
		if err != nil {
			return sides{}, err
		}
		defer done()
		raw, err := os.Create(filepath.Join(b.dir, "raw"))
		if err != nil {
			return sides{}, err
		}
		defer raw.Close()
		line := make([]byte, 350) // as long as the body of an entry
		return turns(201, waited, add, func() error {
			if _, err := raw.Write(line); err != nil {
				return err
			}
			return raw.Sync()
		})
	}},
	{"accepted line into a job of 5,000 entries", "one into an empty job", 1.1, func(b *bench) (sides, error) {
		large, done, err := b.lines("large", 5000)
		if err != nil {
			return sides{}, err
		}
		defer done()
		small, doneToo, err := b.lines("small", 1)
		if err != nil {
			return sides{}, err
		}
		defer doneToo()
		return turns(201, spent, large, small)
	}},
}

// lines adds readings to a new job behind so many entries, each an attempt's next.
func (b *bench) lines(name string, entries int) (add func() error, done func(), err error) {
	path := b.bookOf("lines-" + name)
	book, err := records.OpenOrCreate(b.ctx, path)
	if err != nil {
		return nil, nil, err
	}
	job, err := madeJob(b.ctx, book, name, entries, 250)
	if err := errors.Join(err, book.Close()); err != nil {
		return nil, nil, err
	}
	env := session.System()
	env.Book, env.Err = path, io.Discard
	s, err := session.OpenWrite(b.ctx, &env, job.Entries[0].Job, "")
	if err != nil {
		return nil, nil, err
	}
	last := job.Plan.Checks()[len(job.Plan.Checks())-1]
	n := 0
	return func() error {
		n++
		typed := fmt.Sprintf("%d.1", 400+n)
		return s.Add(b.ctx, chain.Draft{Kind: report.EntryRead, Check: last.ID, Data: report.Read{Attempt: 1,
			Answers: checks.Answers{fmt.Sprintf("p%d", n): {Typed: typed, Value: float64(400+n) + 0.1, Unit: "V"}}}})
	}, s.Close, nil
}

// examining is what looking at every job of a book takes.
var examining = []row{
	{"`doctor` over 200 jobs of 100 entries", "`verify` of a job of as many entries", 1.5, func(b *bench) (sides, error) {
		return b.overJobs("doctor")
	}},
	{"`instruments` over 200 jobs of 100 entries", "`verify` of a job of as many entries", 1.5, func(b *bench) (sides, error) {
		return b.overJobs("instruments")
	}},
}

func (b *bench) overJobs(command string) (sides, error) {
	one, jobs, err := b.made(20_000)
	if err != nil {
		return sides{}, err
	}
	many := b.bookOf("many")
	if _, err := os.Stat(many); err != nil {
		book, err := records.OpenOrCreate(b.ctx, many)
		if err != nil {
			return sides{}, err
		}
		for i := range 200 {
			if _, err := madeJob(b.ctx, book, fmt.Sprintf("job%d", i), 100, 0); err != nil {
				return sides{}, errors.Join(err, book.Close())
			}
		}
		if err := book.Close(); err != nil {
			return sides{}, err
		}
	}
	return processes(5, []string{b.program, "--book", many, command}, []string{b.program, "--book", one, "verify", jobs[0]})
}

// decodeAndHash is the least that verifying entries can take.
func decodeAndHash(entries []chain.Entry) error {
	for _, e := range entries {
		var w struct {
			chain.Head
			Data json.RawMessage `json:"data"`
		}
		if err := json.Unmarshal(e.Body, &w); err != nil || chain.HashBody(e.Body) != e.Hash {
			return errors.New("decoding or hashing failed")
		}
	}
	return nil
}
