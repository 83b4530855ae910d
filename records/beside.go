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

// idBeside is the id in this book of what stands beside under a root: of a job whose own id
// another job has here, or of a second continuation of one. A job that is opened never has
// such an id, for its last part is no number behind a dash.
func idBeside(root chain.Entry) string { return root.Job + "." + chain.ShortHash(root.Hash) }

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

// Lines gives all continuations of a job, the one with this id first, then the others in
// the order in which they came to this book. Every link of them is checked.
//
// Errors: those of Entries.
func (b *Book) Lines(ctx context.Context, id string) ([]chain.Line, error) {
	job, short := cutID(id)
	var main []chain.Entry
	var err error
	if short == "" {
		if main, err = b.Entries(ctx, id); err != nil {
			return nil, err
		}
		beside, err := b.Beside(ctx, id, main)
		return append([]chain.Line{{ID: id, Entries: main}}, beside...), err
	}
	lines, err := b.standing(ctx, job)
	at := slices.IndexFunc(lines, func(l chain.Line) bool { return l.ID == id })
	if err == nil && at < 0 {
		err = b.noJob(id)
	}
	if err != nil {
		return nil, err
	}
	first := lines[at].Entries[0].Hash
	out := []chain.Line{lines[at]}
	for i, l := range lines {
		if i != at && l.Entries[0].Hash == first {
			out = append(out, l)
		}
	}
	return out, nil
}

// Beside gives the other continuations of a job, none for one that nobody else went on with;
// own are its entries, nil where they were not read.
func (b *Book) Beside(ctx context.Context, id string, own []chain.Entry) ([]chain.Line, error) {
	if b.old.Load() {
		return nil, nil // nothing stands beside in it
	}
	job, short := cutID(id)
	var some bool
	err := b.db.QueryRowContext(ctx, "SELECT EXISTS (SELECT 1 FROM beside WHERE root = hash AND job = ? AND seq > 1)", job).Scan(&some)
	if err != nil || !some {
		return nil, translate(b.path, err)
	}
	if short != "" {
		lines, err := b.Lines(ctx, id)
		return lines[min(1, len(lines)):], err
	}
	if own == nil {
		if own, err = b.Entries(ctx, id); err != nil {
			return nil, err
		}
	}
	lines, err := b.standing(ctx, job)
	return slices.DeleteFunc(lines, func(l chain.Line) bool {
		return l.Entries[0].Hash != own[0].Hash || l.ID == id
	}), err
}

// standing are the lines of all jobs that were opened under an id, where one of them stands
// beside; among them that which does not.
func (b *Book) standing(ctx context.Context, job string) ([]chain.Line, error) {
	if b.old.Load() {
		return nil, nil
	}
	var out []chain.Line
	place := map[string][]chain.Entry{} // by hash of an entry: it and all before it
	add := func(id string, entries []chain.Entry) {
		out = append(out, chain.Line{ID: id, Entries: entries})
		for i, e := range entries {
			place[e.Hash] = entries[: i+1 : i+1]
		}
	}
	if main, err := b.Entries(ctx, job); err == nil {
		add(job, main)
	} else if !errors.Is(err, ErrNoJob) {
		return nil, err
	}
	roots, err := b.roots(ctx, job)
	if err != nil {
		return nil, err
	}
	for _, root := range roots {
		before := place[root.Prev] // of a job that begins here there is none
		c := chain.Chain{Job: job}
		if len(before) > 0 {
			c = chain.After(before[len(before)-1])
		}
		rest, err := b.linked(ctx, &c, "SELECT body, hash FROM beside WHERE root = ? ORDER BY seq", root.Hash)
		if err != nil {
			return nil, err
		}
		add(idBeside(root), append(before, rest...))
	}
	slices.SortFunc(out, func(a, b chain.Line) int { return strings.Compare(a.ID, b.ID) }) // in each book alike, whenever they came
	return out, nil
}

// roots are the entries that begin what stands beside of an id, in the order they came: an
// entry that another follows came before it.
func (b *Book) roots(ctx context.Context, job string) ([]chain.Entry, error) {
	rows, err := b.db.QueryContext(ctx, "SELECT body, hash FROM beside WHERE root = hash AND job = ? ORDER BY line", job)
	if err != nil {
		return nil, translate(b.path, err)
	}
	defer rows.Close()
	var out []chain.Entry
	for rows.Next() {
		var body, hash string
		if err := rows.Scan(&body, &hash); err != nil {
			return nil, translate(b.path, err)
		}
		e, faults := chain.CheckBody([]byte(body), hash)
		if len(faults) > 0 {
			return nil, b.damaged(faults[0])
		}
		out = append(out, e)
	}
	return out, translate(b.path, rows.Err())
}

// Parcel is entries of one job that come from elsewhere, of one continuation or several,
// each behind the one that it follows. What they say was verified.
type Parcel struct {
	Entries []chain.Entry
	Plan    []byte // what the job was opened with, where its first entry is among them
	Files   func(hash string) ([]byte, error)
}

// Take adds those entries of a parcel to the book that it lacks, with their plan and
// attachments, in one transaction: all or none, on the disk when it returns. An entry goes
// behind the one that it follows; where another does so already, it begins a continuation
// of its own, which stands beside.
//
// Errors: ErrNoJob when what an entry follows is not here; ErrReadOnly, ErrBusy, ErrFull; or
// what is wrong with the parcel. Then nothing was written.
func (b *Book) Take(ctx context.Context, p Parcel) error {
	if len(p.Entries) == 0 {
		return errors.New("nothing to take")
	}
	return b.write(ctx, func(tx *sql.Tx) error {
		for _, e := range p.Entries {
			if err := b.takeOne(ctx, tx, p, e); err != nil {
				return fmt.Errorf("job %s, entry %d: %w", e.Job, e.Seq, err)
			}
		}
		return nil
	})
}

// room finds where an entry goes: its root where that is beside, and whether it is there
// already.
func (b *Book) room(ctx context.Context, tx *sql.Tx, e chain.Entry) (root string, there bool, err error) {
	ask := func(query string, args ...any) (is bool) {
		if err == nil {
			err = tx.QueryRowContext(ctx, "SELECT EXISTS ("+query+")", args...).Scan(&is)
		}
		return is
	}
	if ask("SELECT 1 FROM entries WHERE hash = ? UNION ALL SELECT 1 FROM beside WHERE hash = ?", e.Hash, e.Hash) || err != nil {
		return "", true, err
	}
	if e.Seq == 1 { // upper and lower case are one, because some file systems take them so
		if ask("SELECT 1 FROM entries WHERE seq = 1 AND job = ? COLLATE NOCASE", e.Job) {
			root = e.Hash
		}
		return root, false, err
	}
	err = tx.QueryRowContext(ctx, `SELECT '' FROM entries WHERE hash = ?1 AND job = ?2
  UNION ALL SELECT root FROM beside WHERE hash = ?1 AND job = ?2`, e.Prev, e.Job).Scan(&root)
	if errors.Is(err, sql.ErrNoRows) {
		return "", false, fmt.Errorf("%w: the entry that it follows is not here", ErrNoJob)
	}
	followed := "SELECT 1 FROM entries WHERE job = ? AND seq = ?"
	of := e.Job
	if root != "" {
		followed, of = "SELECT 1 FROM beside WHERE root = ? AND seq = ?", root
	}
	if ask(followed, of, e.Seq) {
		root = e.Hash
	}
	return root, false, err
}

// takeOne puts down one entry of a parcel with what belongs to it, unless it is there.
func (b *Book) takeOne(ctx context.Context, tx *sql.Tx, p Parcel, e chain.Entry) error {
	root, there, err := b.room(ctx, tx, e)
	if err != nil || there {
		return err
	}
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
