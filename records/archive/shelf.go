package archive

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"iter"
	"os"
	"strings"
	"sync"
	"time"
)

// store is where the bags of an archive lie.
type store interface {
	// room is the folder of copies on their way.
	room() (string, error)
	// keep moves copies to their places. They are there for good when it returns, or when
	// the transaction ends.
	keep(ctx context.Context, tx *txn, all ...placed) error
	// get gives a file to read a bag from, until it is released.
	//
	// Errors: ErrDamaged where it is not there, if that is seen.
	get(ctx context.Context, in, hash string) (path string, err error)
	release(path string)
	// remove takes a whole bag away of which a reduced one is kept, if it is there.
	remove(ctx context.Context, hash string) (was bool, err error)
	// all are the files of a place: their hashes, and what they are called.
	all(ctx context.Context, in string) iter.Seq2[filed, error]
	sweep(now time.Time) error
	close() error
}

// placed is a copy and where it is to be kept.
type placed struct {
	*Incoming
	in string
}

// filed is a file that a store holds.
type filed struct{ hash, called string }

// shelved is a bag in a table.
type shelved struct {
	Place  string `json:"place" title:"bags or quarantine"`
	SHA256 string `json:"sha256" title:"of its bytes"`
	Bytes  int64  `json:"bytes" title:"length"`
	Body   []byte `json:"body" title:"the bag"`
}

// scratch is a folder of this process, for copies on their way and for reading.
type scratch struct {
	lock sync.Mutex
	dir  string
}

func (s *scratch) room() (string, error) {
	s.lock.Lock()
	defer s.lock.Unlock()
	var err error
	if s.dir == "" {
		s.dir, err = os.MkdirTemp("", "handback-archive-*")
	}
	return s.dir, err
}

// copy makes a file of what write gives, until it is released.
func (s *scratch) copy(write func(io.Writer) error) (path string, err error) {
	dir, err := s.room()
	if err != nil {
		return "", err
	}
	f, err := os.CreateTemp(dir, "*.zip")
	if err != nil {
		return "", err
	}
	if err = errors.Join(write(f), f.Close()); err != nil {
		os.Remove(f.Name()) // the error that led here says more
		return "", err
	}
	return f.Name(), nil
}

func (s *scratch) release(path string) { os.Remove(path) }

// sweep has nothing to do: what killed programs left lies in folders of their own, which
// the system clears.
func (s *scratch) sweep(time.Time) error { return nil }

func (s *scratch) close() error {
	s.lock.Lock()
	defer s.lock.Unlock()
	if s.dir == "" {
		return nil
	}
	err := os.RemoveAll(s.dir)
	if errors.Is(err, fs.ErrNotExist) {
		err = nil
	}
	s.dir = ""
	return err
}

// shelf keeps bags in a table, with the rows that tell of them: whatever copies the data
// base copies them too.
type shelf struct {
	scratch
	archive *Archive
}

func (s *shelf) keep(ctx context.Context, tx *txn, all ...placed) error {
	if len(all) == 0 {
		return nil
	}
	hashes := make([]any, len(all))
	for i, c := range all {
		hashes[i] = c.SHA256
	}
	rows, err := tx.QueryContext(ctx, "SELECT place, sha256 FROM files WHERE sha256 IN "+marks(1, len(all)), hashes...)
	if err != nil {
		return err
	}
	defer rows.Close()
	there := map[[2]string]bool{} // quarantine may hold a bag for other reasons
	for rows.Next() {
		var in, hash string
		if err := rows.Scan(&in, &hash); err != nil {
			return err
		}
		there[[2]string{in, hash}] = true
	}
	if err := rows.Err(); err != nil {
		return err
	}
	var unread error
	err = tx.archive.server.Copy(ctx, tx.conn, files.Name, strings.Split(names(files.Columns), ", "), func(yield func([]any) bool) {
		for _, c := range all {
			at := [2]string{c.in, c.SHA256}
			if there[at] {
				continue
			}
			there[at] = true
			var body []byte
			if body, unread = os.ReadFile(c.Path); unread != nil || !yield([]any{c.in, c.SHA256, c.Bytes, body}) {
				return
			}
		}
	})
	return errors.Join(err, unread)
}

func (s *shelf) get(ctx context.Context, in, hash string) (string, error) {
	found, err := list[shelved](ctx, s.archive.db, files, "WHERE place = $1 AND sha256 = $2", in, hash)
	if err == nil && len(found) == 0 {
		err = fmt.Errorf("%w: the bag with the SHA-256 %s is not there", ErrDamaged, hash)
	}
	if err != nil {
		return "", err
	}
	return s.copy(func(w io.Writer) error {
		_, err := w.Write(found[0].Body)
		return err
	})
}

func (s *shelf) remove(ctx context.Context, hash string) (bool, error) {
	done, err := s.archive.db.ExecContext(ctx, "DELETE FROM files WHERE place = $1 AND sha256 = $2", takenIn, hash)
	if err != nil {
		return false, err
	}
	n, err := done.RowsAffected()
	return n > 0, err
}

func (s *shelf) all(ctx context.Context, in string) iter.Seq2[filed, error] {
	return func(yield func(filed, error) bool) {
		rows, err := s.archive.db.QueryContext(ctx, "SELECT sha256 FROM files WHERE place = $1 ORDER BY sha256", in)
		if err != nil {
			yield(filed{}, err)
			return
		}
		defer rows.Close()
		for rows.Next() {
			var f filed
			err := rows.Scan(&f.hash)
			f.called = "table files: " + in + "/" + f.hash
			if !yield(f, err) || err != nil {
				return
			}
		}
		if err := rows.Err(); err != nil {
			yield(filed{}, err)
		}
	}
}
