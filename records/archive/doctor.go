package archive

import (
	"context"
	"fmt"
)

// Check looks at the archive but for what is in its bags: the pages of the data base, its
// schema, rows that no bag stands behind, and the names of the files. warnings are
// files that nothing tells of: a killed program left them.
//
// Errors: those of Open, where it could not be looked at.
func (a *Archive) Check(ctx context.Context) (faults, warnings []string, err error) {
	if faults, warnings, err = a.dialect.pages(ctx, a.db); err != nil || len(faults) > 0 {
		return faults, nil, translate(a.path, err)
	}
	if faults, err = a.dialect.schemaFaults(ctx, a.db, *a.dialect); err != nil {
		return nil, nil, translate(a.path, err)
	}
	more, err := a.checkRows(ctx)
	if err != nil {
		return nil, nil, translate(a.path, err)
	}
	for in, t := range map[string]*Table{takenIn: bags, refusedIn: quarantine} {
		strays, err := a.strays(ctx, in, t)
		if err != nil {
			return nil, nil, translate(a.path, err)
		}
		warnings = append(warnings, strays...)
	}
	log, err := a.CheckLog(ctx)
	return append(append(faults, more...), log...), warnings, err
}

// checkRows looks for rows of states that no bag holds.
func (a *Archive) checkRows(ctx context.Context) ([]string, error) {
	var out []string
	for _, t := range Tables {
		var n int
		err := a.db.QueryRowContext(ctx, "SELECT coalesce(sum(r.n), 0) FROM (SELECT job, head, count(*) AS n FROM "+t.Name+" GROUP BY job, head) r WHERE NOT EXISTS (SELECT 1 FROM bags b WHERE b.job = r.job AND b.head = r.head)").Scan(&n)
		if err != nil {
			return nil, err
		}
		if n > 0 {
			out = append(out, fmt.Sprintf("table %s: %d rows of states that no bag holds", t.Name, n))
		}
	}
	return out, nil
}

// Settle sets what of a state hangs on the other bags of its job, by the bags alone:
// whether it is the newest, and how many are.
func (a *Archive) Settle(ctx context.Context, b Bag, s *State) error {
	return translate(a.path, settle(ctx, a.db, b, s))
}

func settle(ctx context.Context, q querier, b Bag, s *State) error {
	all, err := list[Bag](ctx, q, bags, "WHERE job = $1", b.Job)
	if err == nil {
		s.settle(b, all)
	}
	return err
}

// toldOf counts the bags that are kept as a file with a hash: as they were taken, or as
// they were reduced last.
const toldOf = `SELECT (SELECT count(*) FROM bags WHERE sha256 = $1 AND number NOT IN (SELECT bag FROM removals))
 + (SELECT count(*) FROM removals r WHERE sha256 = $1 AND number = (SELECT max(number) FROM removals x WHERE x.bag = r.bag))`

// strays are files among the bags that no row of a table tells of.
func (a *Archive) strays(ctx context.Context, in string, t *Table) ([]string, error) {
	which := "SELECT count(*) FROM " + t.Name + " WHERE sha256 = $1"
	if in == takenIn {
		which = toldOf
	}
	var out []string
	for f, err := range a.bags.all(ctx, in) {
		var n int
		if err == nil {
			err = a.db.QueryRowContext(ctx, which, f.hash).Scan(&n)
		}
		if err != nil {
			return nil, err
		}
		if n == 0 {
			out = append(out, f.called+": nothing tells of this file")
		}
	}
	return out, nil
}
