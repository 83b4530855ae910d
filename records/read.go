package records

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"handback/records/chain"
)

// Job is what the book knows of one job without judging anything.
type Job struct {
	ID       string    `json:"id"`
	Hash     string    `json:"identifier"` // of the first entry, which holds a random text: no two jobs share it
	Title    string    `json:"title"`      // from the data of the first entry, may be empty
	Opened   time.Time `json:"opened"`
	Entries  int       `json:"entries"`
	HeadHash string    `json:"head_hash"`
	Last     time.Time `json:"last"` // time of the newest entry, as its writer's clock had it
	PlanHash string    `json:"plan_hash"`

	Branches []Branch `json:"branches,omitempty"` // its other continuations, by id
}

// Branch is another continuation of a job that the book holds.
type Branch struct {
	ID       string    `json:"id"`      // in this book
	After    int       `json:"after"`   // the last entry that both have
	Entries  int       `json:"entries"` // how many the continuation has, those included
	HeadHash string    `json:"head_hash"`
	Last     time.Time `json:"last"`
}

// branches adds to a job its other continuations.
func (b *Book) branches(ctx context.Context, j *Job, lines []chain.Line) error {
	own, err := b.Entries(ctx, j.ID)
	for _, l := range lines {
		j.Branches = append(j.Branches, Branch{l.ID, chain.Parting(own, l.Entries), len(l.Entries), l.Head().Hash, l.Head().At})
	}
	return err
}

// Entries reads the whole chain of a job, oldest first, and checks every link of it. job
// is its id in this book: the one it was opened with; or that with the beginning of its
// identifier where another job has it here; or, of a second continuation, that with the
// beginning of the hash of its first entry behind the parting.
//
// Errors: ErrNoJob; ErrDamaged with the first fault.
func (b *Book) Entries(ctx context.Context, job string) ([]chain.Entry, error) {
	opened, short := cutID(job)
	if short != "" {
		lines, err := b.Lines(ctx, job)
		if err != nil {
			return nil, err
		}
		return lines[0].Entries, nil
	}
	entries, err := b.linked(ctx, &chain.Chain{Job: opened}, "SELECT body, hash FROM entries WHERE job = ? ORDER BY seq", opened)
	if err == nil && len(entries) == 0 {
		err = b.noJob(job)
	}
	return entries, err
}

// linked reads entries that follow one another.
func (b *Book) linked(ctx context.Context, c *chain.Chain, query string, args ...any) ([]chain.Entry, error) {
	rows, err := b.db.QueryContext(ctx, query, args...)
	if err != nil {
		return nil, translate(b.path, err)
	}
	defer rows.Close()
	var entries []chain.Entry
	for rows.Next() {
		var body sql.RawBytes
		var hash string
		if err := rows.Scan(&body, &hash); err != nil {
			return nil, translate(b.path, err)
		}
		e, faults := c.Next(append([]byte(nil), body...), hash)
		if len(faults) > 0 {
			return nil, b.damaged(faults[0])
		}
		entries = append(entries, e)
	}
	return entries, translate(b.path, rows.Err())
}

func (b *Book) damaged(f chain.Fault) error {
	return fmt.Errorf("record book %s: %w: %s; keep the file as it is, and let doctor examine it", b.path, ErrDamaged, f)
}

// Jobs lists the jobs in the order they were opened or taken here, those whose id another
// job has here at the end, each with its other continuations; none gives an empty list.
//
// Errors: ErrDamaged when a first or newest entry is not what was written.
func (b *Book) Jobs(ctx context.Context) ([]Job, error) {
	jobs, err := b.jobsIn(ctx, `SELECT first.body, first.hash, newest.body, newest.hash
  FROM entries AS first
  JOIN entries AS newest ON newest.job = first.job AND newest.seq = (SELECT max(seq) FROM entries WHERE job = first.job)
 WHERE first.seq = 1 ORDER BY first.line`, func(first chain.Entry) string { return first.Job })
	if err != nil || b.old.Load() {
		return jobs, err
	}
	beside, err := b.jobsIn(ctx, `SELECT first.body, first.hash, newest.body, newest.hash
  FROM beside AS first
  JOIN beside AS newest ON newest.root = first.root AND newest.seq = (SELECT max(seq) FROM beside WHERE root = first.root)
 WHERE first.seq = 1 ORDER BY first.line`, idBeside)
	jobs = append(jobs, beside...)
	if err != nil {
		return nil, err
	}
	var parted string // all ids of jobs that somebody else went on with
	err = b.db.QueryRowContext(ctx, "SELECT coalesce(group_concat(DISTINCT job), '') FROM beside WHERE root = hash AND seq > 1").Scan(&parted)
	if err != nil {
		return nil, translate(b.path, err)
	}
	for i := range jobs {
		if job, _ := cutID(jobs[i].ID); !slices.Contains(strings.Split(parted, ","), job) {
			continue
		}
		lines, err := b.Beside(ctx, jobs[i].ID, nil)
		if err == nil {
			err = b.branches(ctx, &jobs[i], lines)
		}
		if err != nil {
			return nil, err
		}
	}
	return jobs, nil
}

func (b *Book) jobsIn(ctx context.Context, query string, id func(first chain.Entry) string) ([]Job, error) {
	rows, err := b.db.QueryContext(ctx, query)
	if err != nil {
		return nil, translate(b.path, err)
	}
	defer rows.Close()
	jobs := []Job{}
	for rows.Next() {
		var body, hash [2]string
		if err := rows.Scan(&body[0], &hash[0], &body[1], &hash[1]); err != nil {
			return nil, translate(b.path, err)
		}
		var e [2]chain.Entry
		for i := range e {
			var faults []chain.Fault
			if e[i], faults = chain.CheckBody([]byte(body[i]), hash[i]); len(faults) > 0 {
				return nil, b.damaged(faults[0])
			}
		}
		opening, err := chain.ReadOpening(e[0])
		if err != nil {
			return nil, b.damaged(chain.Fault{Job: e[0].Job, Seq: 1, What: err.Error()})
		}
		jobs = append(jobs, Job{ID: id(e[0]), Hash: e[0].Hash, Title: opening.Title, Opened: e[0].At, Entries: e[1].Seq,
			HeadHash: e[1].Hash, Last: e[1].At, PlanHash: opening.PlanHash})
	}
	return jobs, translate(b.path, rows.Err())
}

// Plan gives the bytes of a plan as they were when the job was opened.
//
// Errors: ErrNoPlan; ErrDamaged when the bytes no longer have this hash.
func (b *Book) Plan(ctx context.Context, hash string) ([]byte, error) {
	var plan []byte
	err := b.db.QueryRowContext(ctx, "SELECT body FROM plans WHERE hash = ?", hash).Scan(&plan)
	if errors.Is(err, sql.ErrNoRows) {
		return nil, fmt.Errorf("%w: %q in %s", ErrNoPlan, hash, b.path)
	}
	if err != nil {
		return nil, translate(b.path, err)
	}
	if chain.HashPlan(plan) != hash {
		return nil, b.damaged(chain.Fault{What: fmt.Sprintf("plan %s does not match its hash", hash)})
	}
	return plan, nil
}
