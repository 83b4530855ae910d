package archive

import (
	"bytes"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"iter"
	"strings"
	"time"

	"golang.org/x/mod/sumdb/tlog"

	"handback/records/archive/tree"
)

// LogKey is the key that signs the heads of the log. Earlier ones are kept.
type LogKey struct {
	Number int    `json:"number" title:"of the key, from 1"`
	Origin string `json:"origin" title:"name of the log"`
	Public string `json:"public_key" title:"public key, as OpenSSH writes it"`
	Since  string `json:"since" title:"when it came into force"`
}

// Leaf is a line of the log: what was taken.
type Leaf struct {
	Number int    `json:"number" title:"in the order they were added, from 1"`
	Bag    int    `json:"bag" title:"number of the bag it tells of"`
	Body   []byte `json:"body" title:"the line, as it was hashed"`
}

// logHash is a hash of the log at its place in the order of tlog.
type logHash struct {
	Place int64  `json:"place" title:"place in the order of RFC 6962 logs in storage"`
	Hash  []byte `json:"hash" title:"32 bytes"`
}

var (
	logKeys   = keptTable("log_keys", LogKey{}, "number")
	leaves    = keptTable("leaves", Leaf{}, "number")
	logHashes = keptTable("log_hashes", logHash{}, "place")
)

// ErrNoKey says that the log of an archive has no key.
var ErrNoKey = errors.New("the log of the archive has no key")

// SetLogKey puts a key in force that signs the heads of the log from now on.
func (a *Archive) SetLogKey(ctx context.Context, origin, public string, now time.Time) error {
	if err := tree.ValidOrigin(origin); err != nil {
		return err
	}
	return a.write(ctx, func(tx *txn) error {
		k := LogKey{1, origin, public, Moment(now)}
		if err := tx.QueryRowContext(ctx, "SELECT coalesce(max(number), 0) + 1 FROM log_keys").Scan(&k.Number); err != nil {
			return err
		}
		return insert(ctx, tx, logKeys, []LogKey{k})
	})
}

// LogKey gives the key in force.
//
// Errors: ErrNoKey.
func (a *Archive) LogKey(ctx context.Context) (LogKey, error) {
	all, err := list[LogKey](ctx, a.db, logKeys, "ORDER BY number DESC LIMIT 1")
	if err == nil && len(all) == 0 {
		err = fmt.Errorf("archive %s: %w", a.path, ErrNoKey)
	}
	if err != nil {
		return LogKey{}, translate(a.path, err)
	}
	return all[0], nil
}

// growing is the log in the transaction of what is added to it.
type growing struct {
	size   int64
	kept   tlog.HashReader     // of the leaves before
	read   map[int64]tlog.Hash // those asked for, and those that were added
	leaves []Leaf              // to add at the end, and
	hashes []logHash
}

func growLog(ctx context.Context, tx *txn) (*growing, error) {
	size, err := logSize(ctx, tx)
	return &growing{size: size, kept: keptHashes(ctx, tx), read: map[int64]tlog.Hash{}}, err
}

// ReadHashes gives hashes of the log as it is with what was added.
func (g *growing) ReadHashes(places []int64) ([]tlog.Hash, error) {
	var unread []int64
	for _, p := range places {
		if _, ok := g.read[p]; !ok {
			unread = append(unread, p)
		}
	}
	kept, err := g.kept.ReadHashes(unread)
	if err != nil {
		return nil, err
	}
	for i, p := range unread {
		g.read[p] = kept[i]
	}
	out := make([]tlog.Hash, len(places))
	for i, p := range places {
		out[i] = g.read[p]
	}
	return out, nil
}

// add adds a leaf that tells of a bag.
func (g *growing) add(bag int, l tree.Leaf) error {
	body, err := l.Encode()
	if err != nil {
		return err
	}
	at, added, err := tree.Grow(g.size, body, g)
	if err != nil {
		return err
	}
	g.size++
	g.leaves = append(g.leaves, Leaf{int(g.size), bag, body})
	for i, h := range added {
		g.read[at+int64(i)] = h
		g.hashes = append(g.hashes, logHash{at + int64(i), h[:]})
	}
	return nil
}

// end writes what was added.
func (g *growing) end(ctx context.Context, tx *txn) error {
	if err := insert(ctx, tx, leaves, g.leaves); err != nil {
		return err
	}
	return insert(ctx, tx, logHashes, g.hashes)
}

func logSize(ctx context.Context, q querier) (n int64, err error) {
	err = q.QueryRowContext(ctx, "SELECT coalesce(max(number), 0) FROM leaves").Scan(&n)
	return n, err
}

// keptHashes reads the hashes of the log.
func keptHashes(ctx context.Context, q querier) tlog.HashReader {
	return tlog.HashReaderFunc(func(places []int64) ([]tlog.Hash, error) {
		marks, args := make([]string, len(places)), make([]any, len(places))
		for i, p := range places {
			marks[i], args[i] = fmt.Sprintf("$%d", i+1), p
		}
		found := map[int64]tlog.Hash{}
		if len(places) > 0 {
			for h, err := range each[logHash](ctx, q, logHashes, "WHERE place IN ("+strings.Join(marks, ", ")+")", args...) {
				if err != nil {
					return nil, err
				}
				found[h.Place] = tlog.Hash(append(h.Hash, make([]byte, tlog.HashSize)...)[:tlog.HashSize])
			}
		}
		out := make([]tlog.Hash, len(places))
		for i, p := range places {
			h, ok := found[p]
			if !ok {
				return nil, fmt.Errorf("%w: the log has no hash at place %d", ErrDamaged, p)
			}
			out[i] = h
		}
		return out, nil
	})
}

// Log gives how many leaves the log has, and its hashes.
func (a *Archive) Log(ctx context.Context) (size int64, kept tlog.HashReader, err error) {
	size, err = logSize(ctx, a.db)
	return size, keptHashes(ctx, a.db), translate(a.path, err)
}

// Leaves gives the leaves that tell of a bag, by its number, the oldest first; of all bags
// for 0.
func (a *Archive) Leaves(ctx context.Context, bag int) iter.Seq2[Leaf, error] {
	which, args := "ORDER BY number", []any(nil)
	if bag > 0 {
		which, args = "WHERE bag = $1 ORDER BY number", []any{bag}
	}
	return told(a, each[Leaf](ctx, a.db, leaves, which, args...))
}

// CheckLog works the log out anew from its leaves, holds each against the bag it tells of,
// and names what differs.
func (a *Archive) CheckLog(ctx context.Context) ([]string, error) {
	c := logCheck{told: map[int]bool{}, now: map[string]int{}}
	reduced, err := list[Removal](ctx, a.db, removals, "")
	for _, r := range reduced {
		c.now[r.SHA256] = r.Bag
	}
	if err == nil {
		err = c.leaves(ctx, a.db)
	}
	if err == nil && len(c.faults) == 0 {
		err = c.hashes(ctx, a.db)
	}
	return c.faults, translate(a.path, err)
}

type logCheck struct {
	anew   []tlog.Hash    // what follows from the leaves
	told   map[int]bool   // numbers of bags
	now    map[string]int // numbers of bags by what they were reduced to
	faults []string
}

func (c *logCheck) found(format string, args ...any) {
	c.faults = append(c.faults, fmt.Sprintf("log: "+format, args...))
}

// ReadHashes gives the hashes worked out so far.
func (c *logCheck) ReadHashes(places []int64) ([]tlog.Hash, error) {
	out := make([]tlog.Hash, len(places))
	for i, p := range places {
		out[i] = c.anew[p]
	}
	return out, nil
}

// leaves goes through the leaves until one is out of place.
func (c *logCheck) leaves(ctx context.Context, q querier) error {
	rows, err := q.QueryContext(ctx, "SELECT l.number, l.bag, l.body, b.job, b.head, b.entries, b.sha256 FROM leaves l LEFT JOIN bags b ON b.number = l.bag ORDER BY l.number")
	if err != nil {
		return err
	}
	defer rows.Close()
	for n := 1; rows.Next(); n++ {
		var l Leaf
		var job, head, sha256 sql.NullString
		var entries sql.NullInt64
		if err := rows.Scan(&l.Number, &l.Bag, &l.Body, &job, &head, &entries, &sha256); err != nil {
			return err
		}
		if l.Number != n {
			c.found("leaf %d stands where %d is wanted", l.Number, n)
			return nil
		}
		_, added, err := tree.Grow(int64(n)-1, l.Body, c)
		if err != nil {
			return err
		}
		c.anew = append(c.anew, added...)
		if is, err := tree.ParseLeaf(l.Body); err != nil {
			c.found("leaf %d: %v", n, err)
		} else if is.Job != job.String || is.Head != head.String || int64(is.Entries) != entries.Int64 || is.Bag != sha256.String && (!c.told[l.Bag] || is.Removed == "" || c.now[is.Bag] != l.Bag) {
			c.found("leaf %d tells of another bag than bag %d", n, l.Bag)
		}
		c.told[l.Bag] = true
	}
	return rows.Err()
}

// hashes holds what is kept against what follows from the leaves.
func (c *logCheck) hashes(ctx context.Context, q querier) error {
	var n, at int
	if err := q.QueryRowContext(ctx, "SELECT count(*) FROM bags").Scan(&n); err != nil {
		return err
	}
	if len(c.told) != n {
		c.found("it tells of %d bags, there are %d", len(c.told), n)
	}
	for h, err := range each[logHash](ctx, q, logHashes, "ORDER BY place") {
		if err != nil {
			return err
		}
		if at >= len(c.anew) || h.Place != int64(at) || !bytes.Equal(h.Hash, c.anew[at][:]) {
			c.found("the hash at place %d does not follow from the leaves", h.Place)
			return nil
		}
		at++
	}
	if at < len(c.anew) {
		c.found("%d hashes are kept, %d follow from the leaves", at, len(c.anew))
	}
	return nil
}
