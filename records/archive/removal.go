package archive

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"time"

	"handback/records/archive/tree"
)

// Removal is one time that something was removed from a bag. The bag is kept reduced from
// then on; what it was before is deleted.
type Removal struct {
	Number  int    `json:"number" title:"in the order they were made, from 1"`
	Bag     int    `json:"bag" title:"number of the bag"`
	SHA256  string `json:"sha256" title:"of the bytes of the reduced bag, and name of its file"`
	Bytes   int64  `json:"bytes" title:"length of the reduced bag"`
	Removed string `json:"removed" title:"when"`
	Person  string `json:"person" title:"who removed it"`
	Why     string `json:"why" title:"why"`
	Body    []byte `json:"body" title:"what the reduced bag says of all that was removed from it"`
}

var removals = keptTable("removals", Removal{}, "number")

// Reduced is a bag without something, in the place of one that is here.
type Reduced struct {
	*Incoming
	Of      Bag
	List    string // as in Taking
	Person  string
	Why     string
	Body    []byte // what it says of all that was removed, and
	Digest  string // its SHA-256
	Entries []int  // of which the rows go too
	Plan    bool   // the plan was removed: what the rows have of it goes too
}

// Reduce puts reduced bags in the place of whole ones, all of them or none, adds a leaf for
// each to the log, and takes away the rows of what is gone. Then it deletes the files of
// the whole ones; where it is stopped before, Purge does.
func (a *Archive) Reduce(ctx context.Context, now time.Time, all ...Reduced) error {
	// What is deleted from the data base must not stay readable in its free pages.
	if a.dialect.forget != "" {
		if _, err := a.db.ExecContext(ctx, a.dialect.forget); err != nil {
			return translate(a.path, err)
		}
	}
	err := a.write(ctx, func(tx *txn) error {
		for _, r := range all {
			if err := a.reduce(ctx, tx, now, r); err != nil {
				return fmt.Errorf("bag %d: %w", r.Of.Number, err)
			}
		}
		return nil
	})
	if err != nil {
		return err
	}
	return a.Purge(ctx)
}

func (a *Archive) reduce(ctx context.Context, tx *txn, now time.Time, r Reduced) error {
	if err := a.bags.keep(ctx, tx, placed{r.Incoming, takenIn}); err != nil {
		return err
	}
	row := Removal{Bag: r.Of.Number, SHA256: r.SHA256, Bytes: r.Bytes, Removed: Moment(now), Person: r.Person, Why: r.Why, Body: r.Body}
	if err := tx.QueryRowContext(ctx, "SELECT coalesce(max(number), 0) + 1 FROM removals").Scan(&row.Number); err != nil {
		return err
	}
	if err := insert(ctx, tx, removals, []Removal{row}); err != nil {
		return err
	}
	log, err := growLog(ctx, tx)
	if err == nil {
		err = log.add(r.Of.Number, tree.Leaf{Job: r.Of.Job, Entries: r.Of.Entries, Head: r.Of.Head, Bag: r.SHA256, List: r.List, Taken: now, Removed: r.Digest})
	}
	if err == nil {
		err = log.end(ctx, tx)
	}
	if err != nil {
		return err
	}
	if _, err := tx.ExecContext(ctx, "UPDATE states SET removed = 1 WHERE job = $1 AND head = $2", r.Of.Job, r.Of.Head); err != nil {
		return err
	}
	for _, t := range Tables {
		for _, entry := range r.Entries {
			if !t.has("entry") {
				break
			}
			if _, err := tx.ExecContext(ctx, "DELETE FROM "+t.Name+" WHERE job = $1 AND head = $2 AND entry = $3", r.Of.Job, r.Of.Head, entry); err != nil {
				return err
			}
		}
	}
	if r.Plan {
		return forgetPlan(ctx, tx, r.Of)
	}
	return nil
}

func (t *Table) has(column string) bool {
	for _, c := range t.Columns {
		if c.Name == column {
			return true
		}
	}
	return false
}

// forgetPlan takes away what the rows of a state have of its plan: the state stays with
// what it came to, and checks with their kinds and verdicts.
func forgetPlan(ctx context.Context, tx *txn, b Bag) error {
	for _, sql := range []string{
		"DELETE FROM plants WHERE job = $1 AND head = $2",
		"DELETE FROM people WHERE job = $1 AND head = $2",
		"DELETE FROM searched WHERE job = $1 AND head = $2",
		"DELETE FROM texts WHERE job = $1 AND head = $2 AND entry = 0",
		"UPDATE checks SET title = '', place = '' WHERE job = $1 AND head = $2",
		"UPDATE signatures SET name = '', plain = '' WHERE job = $1 AND head = $2",
		"UPDATE concessions SET engineer = '' WHERE job = $1 AND head = $2",
		"UPDATE states SET title = '', site = '', work = '', permit = '', client = '', firm = '', client_order = '', document = '' WHERE job = $1 AND head = $2",
	} {
		if _, err := tx.ExecContext(ctx, sql, b.Job, b.Head); err != nil {
			return err
		}
	}
	return nil
}

// Removals are what was removed from a bag, the oldest first.
func (a *Archive) Removals(ctx context.Context, bag int) ([]Removal, error) {
	out, err := list[Removal](ctx, a.db, removals, "WHERE bag = $1 ORDER BY number", bag)
	return out, translate(a.path, err)
}

// File is a file to read a bag from, as it is now, until it is released, and its SHA-256.
func (a *Archive) File(ctx context.Context, b Bag) (path, sha256 string, err error) {
	all, err := a.Removals(ctx, b.Number)
	sha256 = b.SHA256
	if n := len(all); n > 0 {
		sha256 = all[n-1].SHA256
	}
	if err == nil {
		path, err = a.bags.get(ctx, takenIn, sha256)
	}
	return path, sha256, translate(a.path, err)
}

// Purge deletes the files of what reduced bags were before, and what the data base wrote
// before they were reduced.
func (a *Archive) Purge(ctx context.Context) error {
	type step struct {
		bag  int
		hash string
	}
	var all []step
	rows, err := a.db.QueryContext(ctx, `SELECT number, 0, sha256 FROM bags WHERE number IN (SELECT bag FROM removals)
 UNION ALL SELECT bag, number, sha256 FROM removals ORDER BY 1, 2`)
	if err != nil {
		return translate(a.path, err)
	}
	for rows.Next() {
		var s step
		var order int
		if err := rows.Scan(&s.bag, &order, &s.hash); err != nil {
			rows.Close()
			return translate(a.path, err)
		}
		all = append(all, s)
	}
	if err := errors.Join(rows.Err(), rows.Close()); err != nil {
		return translate(a.path, err)
	}
	gone, now := 0, map[string]bool{}
	for i, s := range all {
		if i+1 == len(all) || all[i+1].bag != s.bag {
			now[s.hash] = true
		}
	}
	for _, s := range all {
		if now[s.hash] {
			continue
		}
		was, err := a.bags.remove(ctx, s.hash)
		if err != nil {
			return translate(a.path, err)
		}
		if was {
			gone++
		}
	}
	if gone == 0 || a.dialect.purge == "" {
		return nil
	}
	_, err = a.db.ExecContext(ctx, a.dialect.purge)
	return translate(a.path, err)
}

// Unreduced are the bags of jobs from which something was removed that hold all they held
// when they were taken: a state that came later, or earlier ones that had nothing to lose.
func (a *Archive) Unreduced(ctx context.Context) ([]Bag, error) {
	out, err := list[Bag](ctx, a.db, bags, strings.TrimSpace(`
WHERE job IN (SELECT b.job FROM bags b JOIN removals r ON r.bag = b.number) AND number NOT IN (SELECT bag FROM removals) ORDER BY number`))
	return out, translate(a.path, err)
}

// RemovalsOf are what was removed from any bag of a job, the oldest first.
func (a *Archive) RemovalsOf(ctx context.Context, job string) ([]Removal, error) {
	out, err := list[Removal](ctx, a.db, removals, "WHERE bag IN (SELECT number FROM bags WHERE job = $1) ORDER BY number", job)
	return out, translate(a.path, err)
}
