package records

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"time"
)

// Job is what the book knows of one job without judging anything.
type Job struct {
	ID       string    `json:"id"`
	Title    string    `json:"title"` // from the data of the first entry, may be empty
	Opened   time.Time `json:"opened"`
	Entries  int       `json:"entries"`
	HeadHash string    `json:"head_hash"`
	Last     time.Time `json:"last"` // time of the newest entry, as its writer's clock had it
	PlanHash string    `json:"plan_hash"`
}

// Entries reads the whole chain of a job, oldest first, and checks every link of it.
//
// Errors: ErrNoJob; ErrDamaged with the first fault.
func (b *Book) Entries(ctx context.Context, job string) ([]Entry, error) {
	rows, err := b.db.QueryContext(ctx, "SELECT body, hash FROM entries WHERE job = ? ORDER BY seq", job)
	if err != nil {
		return nil, translate(b.path, err)
	}
	defer rows.Close()
	var entries []Entry
	c := chain{job: job}
	for rows.Next() {
		var body sql.RawBytes
		var hash string
		if err := rows.Scan(&body, &hash); err != nil {
			return nil, translate(b.path, err)
		}
		e, faults := c.next(append([]byte(nil), body...), hash)
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

func (b *Book) damaged(f Fault) error {
	return fmt.Errorf("record book %s: %w: %s; keep the file as it is, and let doctor examine it", b.path, ErrDamaged, f)
}

// Jobs lists the jobs in the order they were opened; none gives an empty list.
//
// Errors: ErrDamaged when a first or newest entry is not what was written.
func (b *Book) Jobs(ctx context.Context) ([]Job, error) {
	rows, err := b.db.QueryContext(ctx, `SELECT first.body, first.hash, newest.body, newest.hash
  FROM entries AS first
  JOIN entries AS newest ON newest.job = first.job AND newest.seq = (SELECT max(seq) FROM entries WHERE job = first.job)
 WHERE first.seq = 1 ORDER BY first.line`)
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
		var e [2]Entry
		for i := range e {
			var faults []Fault
			if e[i], faults = checkBody([]byte(body[i]), hash[i]); len(faults) > 0 {
				return nil, b.damaged(faults[0])
			}
		}
		opening, err := readOpening(e[0])
		if err != nil {
			return nil, b.damaged(Fault{e[0].Job, 1, err.Error()})
		}
		jobs = append(jobs, Job{ID: e[0].Job, Title: opening.Title, Opened: e[0].At, Entries: e[1].Seq,
			HeadHash: e[1].Hash, Last: e[1].At, PlanHash: opening.PlanHash})
	}
	return jobs, translate(b.path, rows.Err())
}

// opening is what the book itself reads from the data of a first entry.
type opening struct{ Nonce, PlanHash, Title string }

func readOpening(first Entry) (opening, error) {
	var members map[string]json.RawMessage
	if err := json.Unmarshal(first.Data, &members); err != nil {
		return opening{}, err
	}
	var o opening
	for key, into := range map[string]*string{"nonce": &o.Nonce, "plan_hash": &o.PlanHash} {
		if err := json.Unmarshal(members[key], into); err != nil || *into == "" {
			return opening{}, fmt.Errorf("data: %s is missing or not a text", key)
		}
	}
	if title, ok := members["title"]; ok {
		if err := json.Unmarshal(title, &o.Title); err != nil {
			return opening{}, errors.New("data: title is not a text")
		}
	}
	return o, nil
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
	if HashPlan(plan) != hash {
		return nil, b.damaged(Fault{What: fmt.Sprintf("plan %s does not match its hash", hash)})
	}
	return plan, nil
}
