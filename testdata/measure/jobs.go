package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"strings"
	"time"

	"handback/checks"
	"handback/checks/plan"
	"handback/records"
	"handback/records/chain"
	"handback/report"
)

// Of a made job every check is read at ten points, a line each, judged, and taken again
// once: 22 entries a check, so that a job twice as long has twice the checks.
const (
	points   = 10
	attempts = 2
	perCheck = attempts * (points + 1)
)

// began is when the first entry of a made job was made.
var began = time.Date(2026, 3, 2, 6, 0, 0, 0, time.UTC)

// madePlan is a plan of so many checks, in an invented place; the last is of more points
// where more is above 0.
func madePlan(id string, n, more int) string {
	var b strings.Builder
	fmt.Fprintf(&b, `handback: 1
id: %s
title: Many readings
site: Invented pumping station
work: None
people: [{id: ada, name: Ada Example, role: technician}]
instruments:
  - {id: dmm, name: multimeter, serial: EX-1, due: 2027-01-31, ranges: [{to: 2 kV, resolution: 1 mV, reading: 0.1 %%}]}
steps:
`, id)
	for i := range n {
		of := points
		if more > 0 && i == n-1 {
			of = more
		}
		fmt.Fprintf(&b, "  - {check: c%d, kind: measure, title: Volts %d, instrument: dmm, given: {name: volts, unit: V, low: 100 V, high: 1 kV, points: [p1", i+1, i+1)
		for k := 1; k < of; k++ {
			fmt.Fprintf(&b, ", p%d", k+1)
		}
		b.WriteString("]}}\n")
	}
	return b.String()
}

// madeJob is a job of so many entries in a book, as commands would have written them but
// for their speed. more is how many points a last check of it has, which is not taken.
func madeJob(ctx context.Context, book *records.Book, id string, entries, more int) (*report.Job, error) {
	n := (entries - 1 + perCheck - 1) / perCheck
	if more > 0 {
		n++
	}
	text := madePlan(id, n, more)
	p, err := plan.Load(id+".yaml", []byte(text))
	if err != nil {
		return nil, err
	}
	open := chain.Draft{At: began, By: "ada", Kind: report.EntryOpen, Data: report.Opening{Title: p.Title, PlanFile: id + ".yaml", Program: "handback measured"}}
	first, err := book.NewJob(ctx, id, open, []byte(text), fmt.Sprintf("nonce-of-measure-%016s", id))
	if err != nil {
		return nil, err
	}
	job, err := report.Fold(p, []chain.Entry{first})
	if err != nil {
		return nil, err
	}
	var drafts []chain.Draft
	add := func(kind, check string, data any) error {
		d := chain.Draft{At: began.Add(time.Duration(len(job.Entries)) * time.Second), By: "ada", Kind: kind, Check: check, Data: data}
		e, err := chain.Seal(job.Head(), d)
		if err != nil {
			return err
		}
		drafts = append(drafts, d)
		return job.Add(e)
	}
	taken := p.Checks()
	if more > 0 {
		taken = taken[:len(taken)-1]
	}
	for _, c := range taken {
		for n := 1; n <= attempts && err == nil; n++ {
			err = takeCheck(job, c, n, entries, add)
		}
	}
	if err == nil && len(drafts) > 0 {
		_, err = book.Append(ctx, first.Job, 1, drafts...)
	}
	return job, err
}

// takeCheck reads and judges a check once, as far as there is room in the job.
func takeCheck(job *report.Job, c *plan.Check, attempt, entries int, add func(kind, check string, data any) error) error {
	why := ""
	if attempt > 1 {
		why = "read once more, to compare"
	}
	for k := range points {
		if len(job.Entries) == entries {
			return nil
		}
		typed := fmt.Sprintf("%d.%d", 400+attempt, k)
		line := report.Read{Attempt: attempt, Why: why, Answers: checks.Answers{fmt.Sprintf("p%d", k+1): {Typed: typed, Value: float64(400+attempt) + float64(k)/10, Unit: "V"}}}
		if k == 0 {
			line.Answers["meter"] = checks.Answer{Typed: "dmm", Word: "dmm"}
		}
		if err := add(report.EntryRead, c.ID, line); err != nil {
			return err
		}
		why = ""
	}
	if len(job.Entries) == entries {
		return nil
	}
	in := job.Input(c, began.Add(time.Duration(len(job.Entries))*time.Second))
	return add(report.EntryJudge, c.ID, report.NewJudged(c.Kind, attempt, checks.Judge(in), ""))
}

// made is a book with one job of so many entries, and its id.
func (b *bench) made(entries int) (path string, jobs []string, err error) {
	id := fmt.Sprintf("made%d", entries)
	path = b.bookOf(id)
	if _, err := os.Stat(path); err == nil {
		return path, []string{id + "-1"}, nil
	}
	book, err := records.OpenOrCreate(b.ctx, path)
	if err != nil {
		return "", nil, err
	}
	_, err = madeJob(b.ctx, book, id, entries, 0)
	return path, []string{id + "-1"}, errors.Join(err, book.Close())
}
