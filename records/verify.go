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

// Verify looks at everything in the book, in one read transaction, and names every
// fault it finds: settings, marks and schema with its triggers; SQLite's own
// integrity_check and foreign keys; every entry (canonical form, known version,
// hash over the stored bytes) and every chain (genesis, seq without gaps, prev);
// what stands beside, likewise; every plan and every attachment by its hash. No fault gives an empty list.
//
// Errors: only when looking was not possible, as for ErrBusy or a cancelled ctx.
// Damage is a fault, not an error. What Verify cannot see is in the package comment.
func (b *Book) Verify(ctx context.Context) ([]chain.Fault, error) {
	tx, err := b.db.BeginTx(ctx, &sql.TxOptions{ReadOnly: true})
	if err != nil {
		return nil, translate(b.path, err)
	}
	defer tx.Rollback() // it only read
	v := verifier{ctx: ctx, tx: tx, faults: []chain.Fault{}, chains: map[string]*chain.Chain{}, plans: map[string]string{}, files: map[string][]chain.Fault{}}
	steps := []struct {
		name string
		run  func() error
	}{
		{"settings", func() error { return settings(ctx, tx, b.path, b.how) }},
		{"schema", v.schema},
		{"integrity_check", v.integrity},
		{"entries", v.entries},
		{"entries that cannot be read", v.nameLost},
		{"entries beside", v.beside},
		{"plans", v.storedPlans},
		{"foreign keys", v.foreignKeys},
		{"attachments", v.storedFiles},
	}
	for _, s := range steps {
		err := translate(b.path, s.run())
		if ctx.Err() != nil || errors.Is(err, ErrBusy) || errors.Is(err, ErrIO) {
			return nil, errors.Join(ctx.Err(), err)
		}
		if err != nil {
			v.found("", 0, "%s: looking stopped early: %v", s.name, err)
		}
	}
	slices.SortStableFunc(v.faults, func(a, b chain.Fault) int {
		if n := strings.Compare(a.Job, b.Job); n != 0 {
			return n
		}
		return a.Seq - b.Seq
	})
	return v.faults, nil
}

type verifier struct {
	ctx    context.Context
	tx     *sql.Tx
	faults []chain.Fault
	chains map[string]*chain.Chain
	plans  map[string]string        // plan hash → a job that was opened with it
	files  map[string][]chain.Fault // hash of an attachment → entries that name it; What is its name
	gaps   []chain.Fault            // Job and Seq of entries that no readable line holds
	lost   map[int64]string         // line → why its body could not be read
}

func (v *verifier) found(job string, seq int, what string, args ...any) {
	v.faults = append(v.faults, chain.Fault{Job: job, Seq: seq, What: fmt.Sprintf(what, args...)})
}

// each runs a query and calls row for every line of the answer.
func (v *verifier) each(query string, row func(*sql.Rows) error) error {
	rows, err := v.tx.QueryContext(v.ctx, query)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		if err := row(rows); err != nil {
			return err
		}
	}
	return rows.Err()
}

// schema compares what the file says with what this package wrote, letter by letter:
// an altered trigger or table is found even where all entries are good.
func (v *verifier) schema() error {
	version, err := versionOf(v.ctx, v.tx)
	if err != nil {
		return err
	}
	written := slices.Concat(migrations[:min(max(version, 0), schemaVersion)]...)
	want := map[string]object{}
	for _, o := range written {
		want[o.name] = o
	}
	err = v.each("SELECT type, name, tbl_name, coalesce(sql, '') FROM sqlite_schema", func(rows *sql.Rows) error {
		var o object
		var table string
		if err := rows.Scan(&o.kind, &o.name, &table, &o.sql); err != nil {
			return err
		}
		known, ok := want[o.name]
		of, _, _ := strings.Cut(o.name, "_") // every name begins with its table's
		switch {
		case !ok:
			v.found("", 0, "schema: %s %q was added", o.kind, o.name)
		case known != o, table != of:
			v.found("", 0, "schema: %s %s was altered", known.kind, o.name)
		}
		delete(want, o.name)
		return nil
	})
	if err != nil {
		return err
	}
	for _, o := range written {
		if _, gone := want[o.name]; gone {
			v.found("", 0, "schema: %s %s was removed", o.kind, o.name)
		}
	}
	return nil
}

func (v *verifier) integrity() error {
	return v.each("PRAGMA integrity_check", func(rows *sql.Rows) error {
		var line string
		if err := rows.Scan(&line); err != nil {
			return err
		}
		switch {
		case unread(line):
			return fmt.Errorf("%w: a page could not be read; repeat, and when it stays make a backup and look at the disk (%s)", ErrIO, errorCode().FindString(line))
		case line != "ok":
			v.found("", 0, "integrity_check: %s", line)
		}
		return nil
	})
}

// foreignKeys has SQLite tell which entries refer to a plan that is not there. The entries
// were held against the plans by now: where nothing is wrong it has nothing to tell, and
// it reads every body twice.
func (v *verifier) foreignKeys() error {
	if len(v.faults) == 0 {
		return nil
	}
	return v.each("PRAGMA foreign_key_check", func(rows *sql.Rows) error {
		var table, parent string
		var line, key sql.NullInt64
		if err := rows.Scan(&table, &line, &parent, &key); err != nil {
			return err
		}
		v.found("", 0, "line %d of %s refers to what is not in %s", line.Int64, table, parent)
		return nil
	})
}

func (v *verifier) entries() error {
	v.lost = map[int64]string{}
	return v.each("SELECT line, body, hash FROM entries ORDER BY line", func(rows *sql.Rows) error {
		var line int64
		var body sql.RawBytes // valid until the next row; nothing below keeps it
		var hash string
		if err := rows.Scan(&line, &body, &hash); err != nil {
			return err
		}
		e, faults := chain.CheckBody(body, hash)
		if e.V == 0 {
			v.lost[line] = faults[0].What
			return nil
		}
		c := v.chains[e.Job]
		if c == nil {
			c = &chain.Chain{Job: e.Job}
			v.chains[e.Job] = c
		}
		for seq := c.Seq + 1; seq < e.Seq && len(v.gaps) < 1000; seq++ {
			v.gaps = append(v.gaps, chain.Fault{Job: e.Job, Seq: seq})
		}
		v.faults = append(v.faults, append(faults, c.Link(e)...)...)
		if e.Seq == 1 {
			if o, err := chain.ReadOpening(e); err == nil { // otherwise link has said so
				v.plans[o.PlanHash] = e.Job
			}
		}
		v.named(e)
		return nil
	})
}

// beside looks at the jobs and continuations that stand beside, as entries does at the others.
func (v *verifier) beside() error {
	version, err := versionOf(v.ctx, v.tx)
	if err != nil || version < 3 {
		return err
	}
	chains := map[string]*chain.Chain{} // by root
	before := map[string]chain.Entry{}  // by hash: what a continuation may follow
	err = v.each("SELECT body, hash FROM entries WHERE hash IN (SELECT prev FROM beside) UNION ALL SELECT body, hash FROM beside WHERE hash IN (SELECT prev FROM beside)", func(rows *sql.Rows) error {
		var body, hash string
		err := rows.Scan(&body, &hash)
		if e, faults := chain.CheckBody([]byte(body), hash); len(faults) == 0 {
			before[hash] = e
		}
		return err
	})
	if err != nil {
		return err
	}
	return v.each("SELECT line, root, body, hash FROM beside ORDER BY line", func(rows *sql.Rows) error {
		var line int64
		var root, body, hash string
		if err := rows.Scan(&line, &root, &body, &hash); err != nil {
			return err
		}
		e, faults := chain.CheckBody([]byte(body), hash)
		if e.V == 0 {
			v.found("", 0, "line %d of beside cannot be read: %s", line, faults[0].What)
			return nil
		}
		c := chains[root]
		if c == nil {
			c = &chain.Chain{Job: e.Job}
			if p, ok := before[e.Prev]; ok {
				*c = chain.After(p)
			}
			chains[root] = c
			if hash != root {
				v.found(e.Job, e.Seq, "it is not the entry %s that it stands under beside", root)
			}
		}
		v.faults = append(v.faults, append(faults, c.Link(e)...)...)
		if o, err := chain.ReadOpening(e); err == nil && e.Seq == 1 {
			v.plans[o.PlanHash] = e.Job
		}
		v.named(e)
		return nil
	})
}

// nameLost finds job and seq of lines whose body cannot be read, from the index.
func (v *verifier) nameLost() error {
	if len(v.lost) == 0 {
		return nil
	}
	at := func(job string, seq int) bool {
		var line int64
		if err := v.tx.QueryRowContext(v.ctx, "SELECT line FROM entries WHERE job = ? AND seq = ?", job, seq).Scan(&line); err != nil {
			return false // then the line is named by its number below
		}
		what, ok := v.lost[line]
		if ok {
			v.found(job, seq, "it cannot be read: %s", what)
			delete(v.lost, line)
		}
		return ok
	}
	for _, gap := range v.gaps {
		if at(gap.Job, gap.Seq) {
			v.faults = slices.DeleteFunc(v.faults, func(f chain.Fault) bool { return f == chain.Missing(gap.Job, gap.Seq, gap.Seq) })
		}
	}
	for job, c := range v.chains {
		for seq := c.Seq + 1; at(job, seq); seq++ {
		}
	}
	for line, what := range v.lost {
		v.found("", 0, "line %d of entries cannot be read: %s", line, what)
	}
	return nil
}

func (v *verifier) storedPlans() error {
	err := v.each("SELECT hash, body FROM plans", func(rows *sql.Rows) error {
		var hash string
		var plan sql.RawBytes
		if err := rows.Scan(&hash, &plan); err != nil {
			return err
		}
		if chain.HashPlan(plan) != hash {
			v.found(v.plans[hash], 0, "plan %s does not match its hash", hash)
		} else if v.plans[hash] == "" {
			v.found("", 0, "plan %s belongs to no job", hash)
		}
		delete(v.plans, hash)
		return nil
	})
	if err != nil {
		return err
	}
	for hash, job := range v.plans {
		v.found(job, 1, "its plan %s is not in the book", hash)
	}
	return nil
}

// named takes note of the file that an entry names.
func (v *verifier) named(e chain.Entry) {
	if e.Kind != chain.KindAttach {
		return
	}
	a, err := chain.ReadAttached(e)
	if err != nil {
		v.found(e.Job, e.Seq, "%v", err)
		return
	}
	v.files[a.SHA256] = append(v.files[a.SHA256], chain.Fault{Job: e.Job, Seq: e.Seq, What: a.Name})
}

// storedFiles holds the attachments against the entries that name them: the content
// of each, its presence, and whether anything names it.
func (v *verifier) storedFiles() error {
	version, err := versionOf(v.ctx, v.tx)
	if err == nil && version > 1 { // the first books had no attachments
		err = v.each("SELECT hash, body FROM attachments ORDER BY line", func(rows *sql.Rows) error {
			var hash string
			var body sql.RawBytes
			if err := rows.Scan(&hash, &body); err != nil {
				return err
			}
			if got := chain.HashFile(body); got != hash {
				at := chain.Fault{}
				if by := v.files[hash]; len(by) > 0 {
					at = by[0]
				}
				v.found(at.Job, at.Seq, "attachment %s %s does not match its hash: its content has %s", hash, at.What, got)
			}
			if len(v.files[hash]) == 0 {
				v.found("", 0, "attachment %s is named by no entry", hash)
			}
			delete(v.files, hash)
			return nil
		})
	}
	if err != nil {
		return err
	}
	for hash, by := range v.files {
		for _, at := range by {
			v.found(at.Job, at.Seq, "its attachment %s, %s, is not in the book", at.What, hash)
		}
	}
	return nil
}
