package records

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"slices"
	"strings"

	"handback/records/chain"
)

// idBeside is the id in this book of a job whose own id another job has here. A job that
// is opened never has such an id, for its last part is no number behind a dash.
func idBeside(first chain.Entry) string { return first.Job + "." + chain.ShortHash(first.Hash) }

// cutID takes an id of this book apart; short is "" for a job that has its own.
func cutID(id string) (job, short string) {
	if _, _, err := chain.SplitJob(id); err == nil {
		return id, ""
	}
	at := strings.LastIndexByte(id, '.')
	if at < 0 || len(id)-at-1 != len(chain.ShortHash(strings.Repeat("0", 64))) {
		return id, ""
	}
	return id[:at], id[at+1:]
}

// IDOf is the id in this book of the job that begins with this entry.
//
// Errors: ErrNoJob.
func (b *Book) IDOf(ctx context.Context, first chain.Entry) (string, error) {
	var there bool
	err := b.db.QueryRowContext(ctx, "SELECT EXISTS (SELECT 1 FROM entries WHERE hash = ? AND seq = 1)", first.Hash).Scan(&there)
	if err == nil && there {
		return first.Job, nil
	}
	if err == nil && !b.old.Load() {
		err = b.db.QueryRowContext(ctx, "SELECT EXISTS (SELECT 1 FROM beside WHERE hash = ? AND seq = 1)", first.Hash).Scan(&there)
	}
	switch {
	case err != nil:
		return "", translate(b.path, err)
	case !there:
		return "", fmt.Errorf("%w: %s with identifier %s in %s", ErrNoJob, first.Job, chain.ShortHash(first.Hash), b.path)
	}
	return idBeside(first), nil
}

// end is where a job ends: its newest entry, of which job, seq and hash are given, and its
// root where it stands beside.
//
// Errors: sql.ErrNoRows where the book has no such job.
func (b *Book) end(ctx context.Context, tx *sql.Tx, id string) (last chain.Entry, root string, err error) {
	job, short := cutID(id)
	last.Job = job
	if short == "" {
		err = tx.StmtContext(ctx, b.newest).QueryRowContext(ctx, job).Scan(&last.Seq, &last.Hash)
		return last, "", err
	}
	err = tx.QueryRowContext(ctx, "SELECT seq, hash, root FROM beside WHERE job = ? AND substr(root, 1, length(?)) = ? ORDER BY seq DESC LIMIT 1", job, short, short).
		Scan(&last.Seq, &last.Hash, &root)
	return last, root, err
}

// put puts an entry behind the others of its job: beside where a root is given.
func (b *Book) put(ctx context.Context, tx *sql.Tx, e chain.Entry, root string) error {
	if root != "" {
		_, err := tx.ExecContext(ctx, "INSERT INTO beside (root, body, hash) VALUES (?, ?, ?)", root, string(e.Body), e.Hash)
		return err
	}
	_, err := tx.StmtContext(ctx, b.insert).ExecContext(ctx, string(e.Body), e.Hash)
	return err
}

// Parcel is entries of one job that come from elsewhere. What they say was verified.
type Parcel struct {
	First   chain.Entry   // of the job
	Entries []chain.Entry // that follow what the book has, oldest first
	Plan    []byte        // what the job was opened with, where its first entry is among them
	Files   func(hash string) ([]byte, error)
}

// Take adds the entries of a parcel to the book with their plan and attachments, in one
// transaction: all or none, on the disk when it returns. It gives the id of the job here:
// its own, or that with the beginning of its identifier where another job has it.
//
// Errors: ErrParts when the job does not end where the parcel begins; ErrReadOnly,
// ErrBusy, ErrFull; or what is wrong with the parcel. Then nothing was written.
func (b *Book) Take(ctx context.Context, p Parcel) (id string, err error) {
	if len(p.Entries) == 0 {
		return "", errors.New("nothing to take")
	}
	err = b.write(ctx, func(tx *sql.Tx) error {
		var root string
		if id, root, err = b.room(ctx, tx, p); err != nil {
			return err
		}
		for _, e := range p.Entries {
			if err := b.takeOne(ctx, tx, p, e, root); err != nil {
				return fmt.Errorf("job %s, entry %d: %w", e.Job, e.Seq, err)
			}
		}
		return nil
	})
	return id, err
}

// room finds where the entries of a parcel go: the id of the job here, and its root where
// that is beside.
func (b *Book) room(ctx context.Context, tx *sql.Tx, p Parcel) (id, root string, err error) {
	first, e := p.First, p.Entries[0]
	for _, id := range []string{first.Job, idBeside(first)} {
		var there bool
		table := map[bool]string{true: "entries", false: "beside"}[id == first.Job]
		if err := tx.QueryRowContext(ctx, "SELECT EXISTS (SELECT 1 FROM "+table+" WHERE hash = ? AND seq = 1)", first.Hash).Scan(&there); err != nil {
			return "", "", err
		}
		if !there {
			continue
		}
		last, root, err := b.end(ctx, tx, id)
		if err == nil && (e.Prev != last.Hash || e.Seq != last.Seq+1) {
			err = fmt.Errorf("job %s: %w: it ends at entry %d here, and what was brought begins with entry %d", id, ErrParts, last.Seq, e.Seq)
		}
		return id, root, err
	}
	if e.Hash != first.Hash {
		return "", "", fmt.Errorf("%w: %s, whose first entry was not brought", ErrNoJob, first.Job)
	}
	var taken bool // upper and lower case are one, because some file systems take them so
	err = tx.QueryRowContext(ctx, "SELECT EXISTS (SELECT 1 FROM entries WHERE seq = 1 AND job = ? COLLATE NOCASE)", first.Job).Scan(&taken)
	if taken {
		return idBeside(first), first.Hash, err
	}
	return first.Job, "", err
}

// takeOne puts down one entry of a parcel with what belongs to it.
func (b *Book) takeOne(ctx context.Context, tx *sql.Tx, p Parcel, e chain.Entry, root string) error {
	if e.Seq == 1 {
		o, err := chain.ReadOpening(e)
		if err == nil && chain.HashPlan(p.Plan) != o.PlanHash {
			err = errors.New("its plan does not come with it")
		}
		if err == nil {
			err = storePlan(ctx, tx, o.PlanHash, p.Plan)
		}
		if err != nil {
			return err
		}
	}
	if err := b.put(ctx, tx, e, root); err != nil || e.Kind != chain.KindAttach {
		return err
	}
	a, err := chain.ReadAttached(e)
	if err != nil {
		return err
	}
	content, err := p.Files(a.SHA256)
	if err == nil && chain.HashFile(content) != a.SHA256 {
		err = fmt.Errorf("attachment %s is another file", a.Name)
	}
	if err != nil {
		return err
	}
	return b.storeFile(ctx, tx, chain.Draft{Kind: e.Kind, File: content})
}

// besideLacked names what stands beside here and is nowhere in another book.
func (b *Book) besideLacked(ctx context.Context, to *Book) ([]string, error) {
	if b.old.Load() {
		return nil, nil // it has nothing beside
	}
	rows, err := b.db.QueryContext(ctx, "SELECT job, hash FROM beside ORDER BY job, line")
	if err != nil {
		return nil, translate(b.path, err)
	}
	defer rows.Close()
	var out []string
	for rows.Next() {
		var job, hash string
		if err := rows.Scan(&job, &hash); err != nil {
			return nil, translate(b.path, err)
		}
		var there bool
		if err := to.db.QueryRowContext(ctx, "SELECT EXISTS (SELECT 1 FROM "+allEntries(to)+" WHERE hash = ?)", hash).Scan(&there); err != nil {
			return nil, translate(to.path, err)
		}
		if words := fmt.Sprintf("of job %s, entries that came from elsewhere are not in the copy", job); !there && !slices.Contains(out, words) {
			out = append(out, words)
		}
	}
	return out, translate(b.path, rows.Err())
}

// allEntries are the entries of a book wherever they stand, for a query.
func allEntries(b *Book) string {
	if b.old.Load() {
		return "entries"
	}
	return "(SELECT seq, hash FROM entries UNION ALL SELECT seq, hash FROM beside)"
}
