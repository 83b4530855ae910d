package records

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
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
}

// Entries reads the whole chain of a job, oldest first, and checks every link of it. job
// is its id in this book: the one it was opened with, or that with the beginning of its
// identifier where another job has it here.
//
// Errors: ErrNoJob; ErrDamaged with the first fault.
func (b *Book) Entries(ctx context.Context, job string) ([]chain.Entry, error) {
	opened, short := cutID(job)
	query, args := "SELECT body, hash FROM entries WHERE job = ? ORDER BY seq", []any{opened}
	if short != "" {
		if b.old.Load() {
			return nil, b.noJob(job) // nothing stands beside in it
		}
		query, args = "SELECT body, hash FROM beside WHERE job = ? AND substr(root, 1, length(?)) = ? ORDER BY seq", []any{opened, short, short}
	}
	rows, err := b.db.QueryContext(ctx, query, args...)
	if err != nil {
		return nil, translate(b.path, err)
	}
	defer rows.Close()
	var entries []chain.Entry
	c := chain.Chain{Job: opened}
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
	if err := rows.Err(); err != nil {
		return nil, translate(b.path, err)
	}
	if len(entries) == 0 {
		return nil, b.noJob(job)
	}
	return entries, nil
}

func (b *Book) damaged(f chain.Fault) error {
	return fmt.Errorf("record book %s: %w: %s; keep the file as it is, and let doctor examine it", b.path, ErrDamaged, f)
}

// Jobs lists the jobs in the order they were opened or taken here, those whose id another
// job has here at the end; none gives an empty list.
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
	return append(jobs, beside...), err
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
