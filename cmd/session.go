package cmd

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"handback/checks/plan"
	"handback/records"
	"handback/records/chain"
	"handback/report"
)

// session is an open book with one job of it, folded.
type session struct {
	env  *Env
	book *records.Book
	job  *report.Job
	by   string // person id that entries are made by

	seen   int           // the job's newest entry in the book, as last read
	again  []string      // checks that the newest staging judged again
	staged []chain.Draft // taken up into the job, not stored yet
}

// openRead opens the book to look at one job.
func openRead(ctx context.Context, env *Env, id string) (*session, error) {
	return openSession(ctx, env, id, records.OpenRead)
}

// openWrite opens the book to add to one job; by is a person of its plan, or ""
// for the plan's only technician.
func openWrite(ctx context.Context, env *Env, id, by string) (*session, error) {
	s, err := openSession(ctx, env, id, records.Open)
	if err != nil {
		return nil, err
	}
	if s.by, err = person(s.job.Plan, by); err != nil {
		s.close()
		return nil, err
	}
	return s, nil
}

// openFor is openWrite to add to one check or hold point of the job, which find finds.
func openFor[T any](ctx context.Context, env *Env, job, by string, find func(*session, string) (T, error), id string) (*session, T, error) {
	var found T
	s, err := openWrite(ctx, env, job, by)
	if err != nil {
		return nil, found, err
	}
	if found, err = find(s, id); err != nil {
		s.close()
		return nil, found, err
	}
	return s, found, nil
}

func openSession(ctx context.Context, env *Env, id string, open func(context.Context, string) (*records.Book, error)) (*session, error) {
	book, err := open(ctx, env.Book)
	if err != nil {
		return nil, env.noBook(err)
	}
	s := &session{env: env, book: book}
	if err := s.load(ctx, id); err != nil {
		s.close()
		return nil, err
	}
	return s, nil
}

func (s *session) close() { s.book.Close() }

// load reads the job's entries and plan and folds them.
func (s *session) load(ctx context.Context, id string) error {
	entries, err := s.book.Entries(ctx, id)
	if errors.Is(err, records.ErrNoJob) {
		return fmt.Errorf("%w%s; type: %s", err, s.nearJob(ctx, id), s.env.hint("jobs"))
	}
	if err != nil {
		return err
	}
	job, err := foldJob(ctx, s.book, entries)
	if err != nil {
		return err
	}
	s.job, s.seen, s.staged = job, job.Head().Seq, nil
	job.Hint = s.env.hint
	return nil
}

// foldJob reads the plan a job was opened with and folds its entries.
func foldJob(ctx context.Context, book *records.Book, entries []chain.Entry) (*report.Job, error) {
	var first report.Opened
	if err := chain.DecodeStrict(entries[0].Data, &first); err != nil {
		return nil, fmt.Errorf("job %s entry 1: %w", entries[0].Job, err)
	}
	data, err := book.Plan(ctx, first.PlanHash)
	if err != nil {
		return nil, err
	}
	plan, err := plan.Load(first.PlanFile, data)
	if err != nil {
		return nil, fmt.Errorf("the plan that job %s was opened with is not read by this version: %w", entries[0].Job, err)
	}
	job, err := report.Fold(plan, entries)
	if err != nil {
		return nil, fmt.Errorf("%w: %w", errIntegrity, err)
	}
	return job, nil
}

func (s *session) nearJob(ctx context.Context, id string) string {
	jobs, err := s.book.Jobs(ctx)
	if err != nil || len(jobs) == 0 {
		return ""
	}
	ids := make([]string, len(jobs))
	for i, j := range jobs {
		ids[i] = j.ID
	}
	return ": there are " + strings.Join(ids, ", ")
}

// person finds who makes the entries: the named person of the plan, or its only
// technician.
func person(p *plan.Plan, by string) (string, error) {
	var ids, technicians []string
	for _, q := range p.People {
		ids = append(ids, q.ID)
		if q.Role == "technician" {
			technicians = append(technicians, q.ID)
		}
	}
	if by == "" && len(technicians) == 1 {
		return technicians[0], nil
	}
	if p.Person(by) != nil {
		return by, nil
	}
	if by == "" {
		return "", usagef("say who you are with --by, one of %s", strings.Join(ids, ", "))
	}
	return "", usagef("no person %q in the plan: there are %s", by, strings.Join(ids, ", "))
}

// check finds a check of the plan.
func (s *session) check(id string) (*plan.Check, error) {
	if c := s.job.Plan.Check(id); c != nil {
		return c, nil
	}
	return nil, usagef("no check %q in job %s: there are %s", id, s.job.ID, idsOf(checkIDs(s)))
}

// hold finds a hold point of the plan.
func (s *session) hold(id string) (*plan.Hold, error) {
	if h := s.job.Plan.Hold(id); h != nil {
		return h, nil
	}
	return nil, usagef("no hold %q in job %s: there are %s", id, s.job.ID, idsOf(holdIDs(s)))
}

// attempt is the number of the attempt that the next line belongs to.
func (s *session) attempt(check string) int {
	a := s.job.State(check).Last()
	switch {
	case a == nil:
		return 1
	case a.Judged:
		return a.Number + 1
	}
	return a.Number
}
