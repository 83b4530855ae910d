package records

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"strings"

	"handback/records/chain"
)

// NewJob opens a job: it stores the plan under its hash and writes the first entry,
// in one transaction. The id is "<stem>-<n>", n the next free for the stem, upper
// and lower case taken as equal because some file systems do. To the data of first
// it adds "nonce" and "plan_hash"; a "title" in it becomes the title of the job. Further
// drafts follow it in the same transaction.
//
// stem: 1 to 64 of a-z A-Z 0-9 . _ - beginning with a letter or digit. plan: 1 to
// MaxPlan bytes. nonce: 16 to 128 of a-z A-Z 0-9 _ - , freshly random for each job.
//
// Errors: ErrReadOnly, ErrBusy, ErrFull, or what is wrong with an argument; then
// nothing was written.
func (b *Book) NewJob(ctx context.Context, stem string, first chain.Draft, plan []byte, nonce string, further ...chain.Draft) (chain.Entry, error) {
	if err := chain.ValidStem(stem); err != nil {
		return chain.Entry{}, err
	}
	if err := validNonce(nonce); err != nil {
		return chain.Entry{}, err
	}
	if len(plan) == 0 || len(plan) > chain.MaxPlan {
		return chain.Entry{}, fmt.Errorf("plan of %d bytes: 1 to %d are accepted", len(plan), chain.MaxPlan)
	}
	planHash := chain.HashPlan(plan)
	data, err := firstData(first.Data, nonce, planHash)
	if err != nil {
		return chain.Entry{}, fmt.Errorf("job %s, first entry: data: %w", stem, err)
	}
	more, err := dataOf(stem, further)
	if err != nil {
		return chain.Entry{}, err
	}
	var e chain.Entry
	err = b.write(ctx, func(tx *sql.Tx) error {
		job, err := freeID(ctx, tx, stem)
		if err != nil {
			return err
		}
		if err := storePlan(ctx, tx, planHash, plan); err != nil {
			return err
		}
		if e, err = b.add(ctx, tx, chain.Head{Job: job, Seq: 1, Prev: chain.Genesis(job, nonce)}, "", first, data); err != nil {
			return err
		}
		if _, err = chain.ReadOpening(e); err != nil { // what Jobs could not read is refused now
			return err
		}
		_, err = b.addAll(ctx, tx, e.Head, e.Hash, "", further, more)
		return err
	})
	if err != nil {
		return chain.Entry{}, err
	}
	return e, nil
}

// Append adds the drafts to a job in the order given, in one transaction: all or
// none, on the disk when it returns. after is the seq the caller last saw, or -1
// when it does not matter.
//
// Errors: ErrNoJob; *MovedError when the job ends elsewhere; ErrReadOnly, ErrBusy,
// ErrFull; or what is wrong with a draft. Then nothing was written.
func (b *Book) Append(ctx context.Context, job string, after int, drafts ...chain.Draft) ([]chain.Entry, error) {
	if len(drafts) == 0 {
		return nil, fmt.Errorf("job %s: nothing to append", job)
	}
	data, err := dataOf(job, drafts)
	if err != nil {
		return nil, err
	}
	var entries []chain.Entry
	err = b.write(ctx, func(tx *sql.Tx) error {
		last, root, err := b.end(ctx, tx, job)
		if errors.Is(err, sql.ErrNoRows) {
			return b.noJob(job)
		}
		if err != nil {
			return err
		}
		if after >= 0 && after != last.Seq {
			return &MovedError{Job: job, Seen: after, Now: last.Seq}
		}
		entries, err = b.addAll(ctx, tx, last.Head, last.Hash, root, drafts, data)
		return err
	})
	if err != nil {
		return nil, err
	}
	return entries, nil
}

// dataOf is the data of drafts as it is stored, each held against its file.
func dataOf(job string, drafts []chain.Draft) ([][]byte, error) {
	data := make([][]byte, len(drafts))
	for i, d := range drafts {
		var err error
		if data[i], err = chain.CanonicalObject(d.Data); err == nil {
			err = d.Fits(data[i])
		}
		if err != nil {
			return nil, fmt.Errorf("job %s, draft %d (%s %s): data: %w", job, i+1, d.Kind, d.Check, err)
		}
	}
	return data, nil
}

// addAll adds drafts with their files behind an entry with its hash; beside, under a root,
// where one is given.
func (b *Book) addAll(ctx context.Context, tx *sql.Tx, last chain.Head, hash, root string, drafts []chain.Draft, data [][]byte) ([]chain.Entry, error) {
	entries := make([]chain.Entry, 0, len(drafts))
	for i, d := range drafts {
		e, err := b.add(ctx, tx, chain.Head{Job: last.Job, Seq: last.Seq + 1 + i, Prev: hash}, root, d, data[i])
		if err == nil {
			err = b.storeFile(ctx, tx, d)
		}
		if err != nil {
			return nil, fmt.Errorf("draft %d: %w", i+1, err)
		}
		entries, hash = append(entries, e), e.Hash
	}
	return entries, nil
}

// write runs do in one IMMEDIATE transaction, which also brings an old schema up.
func (b *Book) write(ctx context.Context, do func(*sql.Tx) error) error {
	if b.how.readOnly {
		return fmt.Errorf("record book %s: %w: it was opened for reading", b.path, ErrReadOnly)
	}
	tx, err := b.db.BeginTx(ctx, nil)
	if err != nil {
		return translate(b.path, err)
	}
	old := b.old.Load()
	if old {
		err = migrate(ctx, tx)
	}
	if err == nil {
		err = do(tx)
	}
	if err != nil {
		tx.Rollback() // the error that led here says more than one from undoing
		return translate(b.path, err)
	}
	if err = tx.Commit(); err == nil && old {
		b.old.Store(false)
	}
	return translate(b.path, err)
}

func (b *Book) noJob(job string) error {
	return fmt.Errorf("%w: %q in %s", ErrNoJob, job, b.path)
}

// add seals one draft under the link in h and inserts it.
func (b *Book) add(ctx context.Context, tx *sql.Tx, h chain.Head, root string, d chain.Draft, data []byte) (chain.Entry, error) {
	h.V, h.At, h.By, h.Kind, h.Check = chain.EntryVersion, d.At, d.By, d.Kind, d.Check
	e, err := chain.EncodeEntry(h, data)
	if err != nil {
		return chain.Entry{}, fmt.Errorf("job %s, entry %d: %w", h.Job, h.Seq, err)
	}
	return e, b.put(ctx, tx, e, root)
}

// firstData adds the nonce and the plan's hash to the data of a first entry.
func firstData(data any, nonce, planHash string) ([]byte, error) {
	given, err := chain.CanonicalObject(data)
	if err != nil {
		return nil, err
	}
	var members map[string]json.RawMessage
	if err := json.Unmarshal(given, &members); err != nil {
		return nil, err
	}
	for key, value := range map[string]string{"nonce": nonce, "plan_hash": planHash} {
		if _, taken := members[key]; taken {
			return nil, fmt.Errorf("it has %q already, which the book adds itself; leave it out", key)
		}
		members[key] = json.RawMessage(`"` + value + `"`)
	}
	return chain.CanonicalObject(members)
}

func validNonce(nonce string) error {
	bad := len(nonce) < 16 || len(nonce) > 128
	for i := range len(nonce) {
		c := nonce[i]
		bad = bad || !('a' <= c && c <= 'z' || 'A' <= c && c <= 'Z' || '0' <= c && c <= '9' || c == '_' || c == '-')
	}
	if bad {
		return fmt.Errorf("nonce of %d bytes: 16 to 128 of a-z A-Z 0-9 _ - are accepted", len(nonce))
	}
	return nil
}

// freeID finds the next id of a stem.
func freeID(ctx context.Context, tx *sql.Tx, stem string) (string, error) {
	rows, err := tx.QueryContext(ctx, "SELECT job FROM entries WHERE seq = 1")
	if err != nil {
		return "", err
	}
	defer rows.Close()
	last := 0
	for rows.Next() {
		var id string
		if err := rows.Scan(&id); err != nil {
			return "", err
		}
		s, n, err := chain.SplitJob(id)
		if err != nil {
			return "", fmt.Errorf("%w: %w", ErrDamaged, err)
		}
		if strings.EqualFold(s, stem) {
			last = max(last, n)
		}
	}
	return chain.JobID(stem, last+1), rows.Err()
}

// storePlan keeps the plan unless the book has it from an earlier job.
func storePlan(ctx context.Context, tx *sql.Tx, hash string, plan []byte) error {
	var there bool
	if err := tx.QueryRowContext(ctx, "SELECT EXISTS (SELECT 1 FROM plans WHERE hash = ?)", hash).Scan(&there); err != nil || there {
		return err
	}
	_, err := tx.ExecContext(ctx, "INSERT INTO plans (hash, body) VALUES (?, ?)", hash, plan)
	return err
}
