package cmd

import (
	"archive/zip"
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"handback/cmd/session"
	"handback/records"
	"handback/records/bag"
	"handback/records/chain"
	"handback/report"
	"handback/report/fork"
	"handback/report/seal"
)

// What verifying shows when nothing is wrong, and what it cannot.
const (
	jobShown      = "nothing in the record was changed, swapped, put in or taken out between its entries; its plan and attachments are those it names; every finding follows from its readings"
	jobNotShown   = "who typed it; that the newest entries were not cut off, or all of it written anew: compare head and number of entries with a signed or printed copy"
	bagNotShown   = "that it was not packed anew from another record, cut short or made up: compare head and number of entries with a signed or printed copy, or trust a signature whose key you knew before"
	cellsNotShown = "who signed it with a pen; what verifying the job does not show"
)

// isFile tells whether the argument of verify is a file or folder: a path, or a name
// that is no job of the book and stands here.
func (o *verifyOptions) isFile(ctx context.Context) bool {
	if o.job == "-" || strings.ContainsAny(o.job, `/\`) || isWorkbook(o.job) || strings.EqualFold(filepath.Ext(o.job), ".zip") {
		return true
	}
	if _, err := os.Stat(o.job); err != nil {
		return false
	}
	jobs, err := listJobs(ctx, o.env)
	for _, j := range jobs {
		if err == nil && j.ID == o.job {
			fmt.Fprintf(o.env.Err, "%s is a job and a file or folder here: this is the job; for the other type: %s\n", o.job, o.env.Hint("verify", "./"+o.job))
			return false
		}
	}
	return true
}

func isWorkbook(path string) bool { return strings.EqualFold(filepath.Ext(path), ".xlsx") }

// verifyFile verifies a handover workbook or a bag.
func (o *verifyOptions) verifyFile(ctx context.Context) (verifyReport, error) {
	if isWorkbook(o.job) {
		return o.verifyWorkbook(ctx)
	}
	b, done, err := openBag(o.env, o.job)
	if errors.Is(err, bag.ErrNotBag) {
		return verifyReport{}, fmt.Errorf("%w; verify takes a JOB, a bag (a folder, or a file ending in .zip) or a handover (a file ending in .xlsx)", err)
	}
	if errors.Is(err, bag.ErrCut) {
		return o.cut("bag", bagNotShown, err), nil
	}
	if err != nil {
		return verifyReport{}, fmt.Errorf("bag %s: %w", o.job, plainPathError(err))
	}
	defer done()
	x := seal.ExamineBag(b)
	r := newVerifyReport(x.Job)
	r.What, r.File, r.NotShown = "bag", inputName(o.job), bagNotShown
	r.take(x)
	if x.Job != nil {
		if err := o.signatures(x.Job, &r); err != nil {
			return verifyReport{}, err
		}
		if err := o.samePlan(x.Job.PlanHash, &r); err != nil {
			return verifyReport{}, err
		}
		o.againstBook(ctx, x.Job.Entries, x.Job.ForkWords, &r)
	}
	if x.Removed != nil {
		return r, o.left(ctx, x, &r)
	}
	return r, nil
}

// cut is what verifying comes to of a file that was cut off or changed so that nothing in
// it can be read.
func (o *verifyOptions) cut(what, notShown string, err error) verifyReport {
	r := newVerifyReport(nil)
	r.Job, r.What, r.File, r.NotShown, r.Faults = inputName(o.job), what, inputName(o.job), notShown, []string{err.Error()}
	return r
}

// left adds what can be told of a bag from which something was removed.
func (o *verifyOptions) left(ctx context.Context, x seal.Examined, r *verifyReport) error {
	r.Job, r.Removed = x.Removed.Job, x.Removed.Acts
	r.judged(o.asked.policy.JudgeLeft(x.Left, o.env.Now()))
	if len(x.Left) == 0 {
		return nil
	}
	r.Entries, r.Head = len(x.Left), x.Left[len(x.Left)-1].Hash
	o.againstBook(ctx, x.Left, func(f fork.Fork) string { return fmt.Sprintf("parts after entry %d", f.After) }, r)
	opened, err := report.Decode[report.Opened](x.Left[0])
	if err == nil {
		r.PlanHash = opened.PlanHash
		return o.samePlan(r.PlanHash, r)
	}
	if o.plan != "" {
		r.NotCompared = append(r.NotCompared, o.plan+": the entry that names the plan was removed")
	}
	return nil
}

// againstBook compares the record of a bag with the job in the book here, when it is
// there: they may have the same entries, or one may have gone on.
func (o *verifyOptions) againstBook(ctx context.Context, entries []chain.Entry, words func(fork.Fork) string, r *verifyReport) {
	note := func(format string, args ...any) { r.Notes = append(r.Notes, fmt.Sprintf(format, args...)) }
	book, err := records.OpenRead(ctx, o.env.Book)
	if errors.Is(err, records.ErrNoBook) {
		note("there is no record book here to compare it with")
		return
	}
	if err != nil {
		note("it was not compared with the record book here: %v", err)
		return
	}
	defer book.Close()
	job := entries[0].Job
	id, err := book.IDOf(ctx, entries[0])
	if errors.Is(err, records.ErrNoJob) {
		if _, err := book.Entries(ctx, job); err == nil {
			note("job %s in the record book here is another one of that name", job)
			return
		}
		note("the record book here does not hold job %s to compare it with", job)
		return
	}
	var lines []chain.Line
	if err == nil {
		lines, err = book.Lines(ctx, id)
	}
	if err != nil {
		note("it was not compared with the record book here: %v", err)
		return
	}
	here := lines[0].Entries
	for _, l := range lines {
		if n := chain.Parting(l.Entries, entries); n == min(len(l.Entries), len(entries)) {
			here = l.Entries
			break
		}
	}
	both := chain.Parting(here, entries)
	if both < min(len(here), len(entries)) {
		r.Faults = append(r.Faults, fmt.Sprintf("entry %d is not the one that the record book here holds for job %s: there are two continuations of one job, with %d here and %d there since; take keeps both", both+1, job, len(here)-both, len(entries)-both))
		return
	}
	switch n := len(here) - both; {
	case n > 0:
		note("the record book here holds the same entries, and %d more", n)
	case len(entries) > both:
		note("the record book here holds the first %s of them", report.Count(both, "entry", "entries"))
	default:
		note("the record book here holds the same entries")
	}
	for _, f := range fork.Of(here, linesBut(lines, here)) {
		note("in the record book here the job %s", words(f))
	}
}

// linesBut are lines but for that which ends as entries do.
func linesBut(lines []chain.Line, entries []chain.Entry) []chain.Line {
	return slices.DeleteFunc(slices.Clone(lines), func(l chain.Line) bool { return l.Head().Hash == entries[len(entries)-1].Hash })
}

// claimed is the id in this book of the job that a workbook says it shows: of two that were
// opened under that id, or of two continuations, the one with the head it names.
func claimed(ctx context.Context, env *session.Env, claim seal.Claim) string {
	jobs, err := listJobs(ctx, env)
	if err != nil {
		return claim.Job // opening it says what is wrong
	}
	book, err := records.OpenRead(ctx, env.Book)
	if err != nil {
		return claim.Job
	}
	defer book.Close()
	for _, j := range jobs {
		if j.ID != claim.Job && !strings.HasPrefix(j.ID, claim.Job+".") {
			continue
		}
		lines, err := book.Lines(ctx, j.ID)
		for _, l := range lines {
			if n := claim.Entries; err == nil && 0 < n && n <= len(l.Entries) && l.Entries[n-1].Hash == claim.Head {
				return l.ID
			}
		}
	}
	return claim.Job
}

// maxWorkbook is more than is read of a workbook; the reader says what is too much.
const maxWorkbook = 64 << 20

// verifyWorkbook compares a handover workbook with the job it says it shows.
func (o *verifyOptions) verifyWorkbook(ctx context.Context) (verifyReport, error) {
	data, err := readPlain(o.job, maxWorkbook)
	if err != nil {
		return verifyReport{}, fmt.Errorf("workbook %s: %w", o.job, err)
	}
	claim, err := seal.ReadClaim(data)
	if errors.Is(err, zip.ErrFormat) && bytes.HasPrefix(data, []byte("PK")) {
		return o.cut("workbook", cellsNotShown, err), nil
	}
	if err != nil {
		return verifyReport{}, fmt.Errorf("workbook %s: %w", o.job, err)
	}
	s, err := session.OpenRead(ctx, o.env, claimed(ctx, o.env, claim))
	if errors.Is(err, records.ErrNoBook) || errors.Is(err, records.ErrNoJob) {
		return verifyReport{}, fmt.Errorf("workbook %s says it shows job %.80q, %s, head %.70q; it cannot be compared: %w", o.job, claim.Job, report.Count(claim.Entries, "entry", "entries"), claim.Head, err)
	}
	if err != nil {
		return verifyReport{}, err
	}
	defer s.Close()
	readFiles(s, ctx)
	x := seal.ExamineWorkbook(data, s.Job)
	r := newVerifyReport(x.Job)
	r.What, r.File, r.NotShown = "workbook", o.job, cellsNotShown
	r.take(x)
	r.Notes = append(r.Notes, forkNotes(s.Job)...)
	if x.Job != nil {
		for _, f := range chain.CheckChain(x.Job.Entries) {
			r.Faults = append(r.Faults, f.String())
		}
		if err := o.samePlan(x.Job.PlanHash, &r); err != nil {
			return verifyReport{}, err
		}
		if err := o.signatures(x.Job, &r); err != nil {
			return verifyReport{}, err
		}
	}
	return r, nil
}
