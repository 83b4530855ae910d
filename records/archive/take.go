package archive

import (
	"context"
	"encoding/hex"
	"fmt"
	"reflect"
	"slices"
	"strings"
	"time"

	"handback/records/archive/tree"
)

// Taking is a bag that was looked at: either Rows tell what is in it, or Reasons why it is
// refused.
type Taking struct {
	*Incoming
	Rows    *Rows
	Hashes  []string // of its entries, in their order
	List    string   // SHA-256 of the list that leads to every file of it
	Policy  int      // number of the policy it was held against
	Partly  bool
	Reasons []string
	Job     string // of one refused, as far as its record could be followed
	ID      string
	Head    string
}

// What became of a bag. These words are printed.
const (
	New     = "new"     // the first state of its job here
	Follows = "follows" // goes on from a state that is here
	Earlier = "earlier" // a state here goes on from it
	Fork    = "fork"    // neither goes on from the other
	Known   = "known"   // that state was here
	Barred  = "refused" // it went into quarantine
)

// Take keeps bags, all of them or none, on the disk when it returns, and tells what became
// of each. What comes of it hangs only on which bags there are, never on their order.
//
// Errors: ErrReadOnly, ErrBusy, ErrFull, ErrDamaged. Then nothing was taken.
func (a *Archive) Take(ctx context.Context, now time.Time, bags ...Taking) ([]string, error) {
	out := make([]string, len(bags))
	err := a.write(ctx, func(tx *txn) error {
		p, err := newPortion(ctx, tx, now, bags)
		if err != nil {
			return err
		}
		for i, t := range bags {
			one := p.take
			if t.Rows == nil {
				one = p.bar
			}
			var err error
			if out[i], err = one(t); err != nil {
				return fmt.Errorf("%s: %w", t.Name, err)
			}
		}
		return p.end()
	})
	if err != nil {
		return nil, err
	}
	return out, nil
}

// portion is what is taken in one transaction. What must be known for it is asked at once,
// and what comes of it is written at once: a server is asked seldom.
type portion struct {
	ctx   context.Context
	tx    *txn
	now   time.Time
	known map[string][]Bag // bags of the jobs that come, by job; those of the portion are added
	count int              // of all bags
	log   *growing
	files []placed // to keep at the end, and
	bags  []Bag    // to add, and
	rows  []*Rows
}

func newPortion(ctx context.Context, tx *txn, now time.Time, all []Taking) (*portion, error) {
	p := &portion{ctx: ctx, tx: tx, now: now, known: map[string][]Bag{}}
	var jobs []any
	for _, t := range all {
		if t.Rows == nil {
			continue
		}
		if id := t.Rows.States[0].Job; p.known[id] == nil {
			p.known[id] = []Bag{}
			jobs = append(jobs, id)
		}
	}
	for some := range slices.Chunk(jobs, atOnce) {
		for b, err := range each[Bag](ctx, tx, bags, "WHERE job IN "+marks(1, len(some)), some...) {
			if err != nil {
				return nil, err
			}
			p.known[b.Job] = append(p.known[b.Job], b)
		}
	}
	err := tx.QueryRowContext(ctx, "SELECT coalesce(max(number), 0) FROM bags").Scan(&p.count)
	if err == nil {
		p.log, err = growLog(ctx, tx)
	}
	return p, err
}

func (p *portion) end() error {
	err := addRows(p.ctx, p.tx, p.rows...)
	if err == nil {
		err = insert(p.ctx, p.tx, bags, p.bags)
	}
	if err == nil {
		err = p.log.end(p.ctx, p.tx)
	}
	if err == nil {
		err = p.tx.archive.bags.keep(p.ctx, p.tx, p.files...)
	}
	return err
}

// bar keeps a bag in quarantine, unless it is there for the same reasons.
func (p *portion) bar(t Taking) (became string, err error) {
	reasons := legible(strings.Join(t.Reasons, "\n"))
	var there, number int
	if err := p.tx.QueryRowContext(p.ctx, "SELECT count(*), (SELECT coalesce(max(number), 0) + 1 FROM quarantine) FROM quarantine WHERE sha256 = $1 AND reasons = $2", t.SHA256, reasons).Scan(&there, &number); err != nil || there > 0 {
		return Barred, err
	}
	p.files = append(p.files, placed{t.Incoming, refusedIn})
	row := Refused{number, t.SHA256, t.Bytes, Moment(p.now), t.Name, t.Policy, legible(t.Job), legible(t.ID), legible(t.Head), reasons}
	return Barred, insert(p.ctx, p.tx, quarantine, []Refused{row})
}

// take keeps one bag and its rows.
func (p *portion) take(t Taking) (became string, err error) {
	s := &t.Rows.States[0]
	b := Bag{Number: p.count + 1, Job: s.Job, Head: s.Head, Entries: s.Entries, SHA256: t.SHA256, Bytes: t.Bytes, Taken: Moment(p.now), Name: t.Name, Policy: t.Policy, Partly: t.Partly}
	if b.Hashes, err = hex.DecodeString(strings.Join(t.Hashes, "")); err != nil {
		return "", err
	}
	if len(b.Hashes) != b.Entries*hashSize || hex.EncodeToString(b.Hashes[len(b.Hashes)-hashSize:]) != b.Head {
		return "", fmt.Errorf("the hashes of its entries do not end with its head")
	}
	others := p.known[s.Job]
	if slices.ContainsFunc(others, func(o Bag) bool { return o.Head == b.Head }) {
		return Known, nil
	}
	if became, err = p.place(b, others); err != nil {
		return "", err
	}
	p.count++
	p.known[s.Job] = append(others, b)
	s.settle(b, p.known[s.Job])
	if became == Fork {
		if err := p.forked(*s); err != nil {
			return "", err
		}
	}
	p.files, p.bags, p.rows = append(p.files, placed{t.Incoming, takenIn}), append(p.bags, b), append(p.rows, t.Rows)
	return became, p.log.add(b.Number, tree.Leaf{Job: b.Job, Entries: b.Entries, Head: b.Head, Bag: b.SHA256, List: t.List, Taken: p.now})
}

// settle sets what of a state hangs on the other bags of its job.
func (s *State) settle(b Bag, all []Bag) {
	s.Newest, s.Newests = true, 0
	for _, x := range all {
		overtaken := slices.ContainsFunc(all, func(o Bag) bool { return o.goesOnFrom(x) })
		if !overtaken {
			s.Newests++
		}
		if x.Head == b.Head {
			s.Newest = !overtaken
		}
	}
}

// forked tells the other states of a job that one more is the newest.
func (p *portion) forked(s State) error {
	for _, r := range p.rows {
		if r.States[0].Job == s.Job {
			r.States[0].Newests = s.Newests
		}
	}
	_, err := p.tx.ExecContext(p.ctx, "UPDATE states SET newests = $1 WHERE job = $2", s.Newests, s.Job)
	return err
}

// place finds the place of a state among the others of its job, and takes away the rows of
// those it goes on from.
func (p *portion) place(b Bag, others []Bag) (string, error) {
	became := New
	if len(others) > 0 {
		became = Fork
	}
	for _, o := range others {
		overtaken := slices.ContainsFunc(others, func(x Bag) bool { return x.goesOnFrom(o) })
		switch {
		case o.goesOnFrom(b):
			became = Earlier
		case b.goesOnFrom(o) && !overtaken:
			became = Follows
			if err := p.overtake(o); err != nil {
				return "", err
			}
		}
	}
	return became, nil
}

const hashSize = 32

// goesOnFrom tells whether the entries of a state begin with all those of another.
func (b Bag) goesOnFrom(o Bag) bool {
	return b.Entries > o.Entries && hex.EncodeToString(b.Hashes[(o.Entries-1)*hashSize:o.Entries*hashSize]) == o.Head
}

// overtake takes away the rows of a state that another goes on from, but for the state
// itself: all of them are in its bag, and as a rule in the rows of the other.
func (p *portion) overtake(b Bag) error {
	for _, r := range p.rows { // taken a moment ago, and not added yet
		if r.States[0].Head == b.Head {
			r.States[0].Newest = false
			return nil
		}
	}
	for _, t := range Tables[1:] {
		if _, err := p.tx.ExecContext(p.ctx, "DELETE FROM "+t.Name+" WHERE job = $1 AND head = $2", b.Job, b.Head); err != nil {
			return err
		}
	}
	_, err := p.tx.ExecContext(p.ctx, "UPDATE states SET newest = 0 WHERE job = $1 AND head = $2", b.Job, b.Head)
	return err
}

// addRows adds the rows of states; of one that is not the newest the state alone.
func addRows(ctx context.Context, tx *txn, rows ...*Rows) error {
	for _, r := range rows {
		r.Legible()
	}
	for i, t := range Tables {
		var lists []reflect.Value
		for _, r := range rows {
			if i == 0 || r.States[0].Newest {
				lists = append(lists, t.Of(r))
			}
		}
		if err := insertAll(ctx, tx, t, lists...); err != nil {
			return fmt.Errorf("table %s: %w", t.Name, err)
		}
	}
	return nil
}

// ByHash finds a bag that was taken by the SHA-256 of its bytes.
func (a *Archive) ByHash(ctx context.Context, hash string) (b Bag, found bool, err error) {
	got, err := list[Bag](ctx, a.db, bags, "WHERE sha256 = $1", hash)
	if err != nil || len(got) == 0 {
		return Bag{}, false, translate(a.path, err)
	}
	return got[0], true, nil
}

// Renew puts rows made anew in the place of those of the state of a bag.
func (a *Archive) Renew(ctx context.Context, b Bag, r *Rows) error {
	return a.write(ctx, func(tx *txn) (err error) {
		if err := settle(ctx, tx, b, &r.States[0]); err != nil {
			return err
		}
		for _, t := range Tables {
			if _, err := tx.ExecContext(ctx, "DELETE FROM "+t.Name+" WHERE job = $1 AND head = $2", b.Job, b.Head); err != nil {
				return err
			}
		}
		return addRows(ctx, tx, r)
	})
}
