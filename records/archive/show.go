package archive

import (
	"context"
	"fmt"
	"iter"
	"slices"
	"strings"
)

// Job is a job with all its states, the shortest first.
type Job struct {
	Job    string
	States []State
	Bags   []Bag // of the states, in their order
}

// Newest are the newest states.
func (j Job) Newest() []State {
	var out []State
	for _, s := range j.States {
		if s.Newest {
			out = append(out, s)
		}
	}
	return out
}

// least is how many digits of a hash name something (our choice).
const least = 8

// Jobs are the jobs that a text means: an identifier or a head, or its beginning of eight
// digits at least, or the id that jobs call themselves by, which several may share.
//
// Errors: ErrNoJob.
func (a *Archive) Jobs(ctx context.Context, name string) ([]string, error) {
	which, args := "id = $1", []any{key(name)}
	if len(name) >= least && strings.Trim(name, "0123456789abcdef") == "" {
		which, args = "id = $1 OR job >= $1 AND job < $2 OR head >= $1 AND head < $2", append(args, name+"g")
	}
	rows, err := a.db.QueryContext(ctx, "SELECT DISTINCT job FROM states WHERE "+which+" ORDER BY job", args...)
	if err != nil {
		return nil, translate(a.path, err)
	}
	defer rows.Close()
	var out []string
	for rows.Next() {
		var job string
		if err := rows.Scan(&job); err != nil {
			return nil, translate(a.path, err)
		}
		out = append(out, job)
	}
	if err := rows.Err(); err != nil {
		return nil, translate(a.path, err)
	}
	if len(out) == 0 {
		return nil, fmt.Errorf("%w: %.80q", ErrNoJob, name)
	}
	return out, nil
}

// Job gives all states of a job by its identifier.
func (a *Archive) Job(ctx context.Context, job string) (Job, error) {
	states, err := list[State](ctx, a.db, Tables[0], "WHERE job = $1 ORDER BY entries, head", job)
	if err != nil {
		return Job{}, translate(a.path, err)
	}
	kept, err := list[Bag](ctx, a.db, bags, "WHERE job = $1 ORDER BY entries, head", job)
	if err != nil {
		return Job{}, translate(a.path, err)
	}
	if len(states) != len(kept) {
		return Job{}, fmt.Errorf("archive %s: %w: job %s has %d bags and rows of %d states", a.path, ErrDamaged, job, len(kept), len(states))
	}
	return Job{job, states, kept}, nil
}

// Quarantine gives the bags that were refused, in their order. A name narrows them to
// those of a job, by its identifier or what it calls itself, or of a file.
func (a *Archive) Quarantine(ctx context.Context, name string) iter.Seq2[Refused, error] {
	which, args := "ORDER BY number", []any(nil)
	if name != "" {
		which, args = "WHERE job = $1 OR id = $1 OR sha256 = $1 ORDER BY number", []any{legible(name)}
	}
	return told(a, each[Refused](ctx, a.db, quarantine, which, args...))
}

// Bags gives the bags in the order they were taken, from a number on.
func (a *Archive) Bags(ctx context.Context, from int) iter.Seq2[Bag, error] {
	return told(a, each[Bag](ctx, a.db, bags, "WHERE number >= $1 ORDER BY number", from))
}

// told translates the errors of a list.
func told[R any](a *Archive, of iter.Seq2[R, error]) iter.Seq2[R, error] {
	return func(yield func(R, error) bool) {
		for row, err := range of {
			if !yield(row, translate(a.path, err)) {
				return
			}
		}
	}
}

// State finds the bag of a state: a head, or what names a job that has one newest state.
//
// Errors: ErrNoJob; ErrSeveral, which names them.
func (a *Archive) State(ctx context.Context, name string) (Bag, error) {
	jobs, err := a.Jobs(ctx, name)
	if err != nil {
		return Bag{}, err
	}
	var out []Bag
	var heads []string
	for _, id := range jobs {
		j, err := a.Job(ctx, id)
		if err != nil {
			return Bag{}, err
		}
		for i, s := range j.States {
			byHead := len(name) >= least && strings.HasPrefix(s.Head, name)
			byJob := s.Newest && (s.ID == name || strings.HasPrefix(s.Job, name))
			if byHead || byJob && !slices.ContainsFunc(j.States, func(x State) bool { return strings.HasPrefix(x.Head, name) }) {
				out, heads = append(out, j.Bags[i]), append(heads, s.Head[:12])
			}
		}
	}
	if len(out) != 1 {
		return Bag{}, fmt.Errorf("%.80q: %w: say which by its head: %s", name, ErrSeveral, strings.Join(heads, ", "))
	}
	return out[0], nil
}

// RowsOf gives all rows of a state, sorted.
func (a *Archive) RowsOf(ctx context.Context, job, head string) (*Rows, error) {
	var out Rows
	for _, t := range Tables {
		rows, err := a.db.QueryContext(ctx, "SELECT "+names(t.Columns)+" FROM "+t.Name+" WHERE job = $1 AND head = $2", job, head)
		if err == nil {
			err = t.scan(rows, t.Of(&out))
		}
		if err != nil {
			return nil, translate(a.path, err)
		}
	}
	out.Sort()
	return &out, nil
}
