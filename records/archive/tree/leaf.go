package tree

import (
	"bytes"
	"errors"
	"fmt"
	"time"

	"golang.org/x/mod/sumdb/tlog"

	"handback/records/chain"
)

const leafVersion = 1

// Leaf is one bag that was taken. Its JSON names are those of the package comment.
type Leaf struct {
	V       int       `json:"v"`
	Job     string    `json:"job"`
	Entries int       `json:"entries"`
	Head    string    `json:"head"`
	Bag     string    `json:"bag"`
	List    string    `json:"list"`
	Taken   time.Time `json:"taken"`
	Removed string    `json:"removed,omitempty"`
}

// Encode gives the bytes that are hashed. It sets V, and Taken to whole seconds of UTC.
func (l Leaf) Encode() ([]byte, error) {
	l.V, l.Taken = leafVersion, l.Taken.UTC().Truncate(time.Second)
	if err := l.valid(); err != nil {
		return nil, fmt.Errorf("leaf: %w", err)
	}
	return chain.CanonicalObject(l)
}

// ParseLeaf accepts only what Encode writes.
//
// Errors: chain.ErrNewer for a version this program does not know; otherwise what is wrong.
func ParseLeaf(data []byte) (Leaf, error) {
	var l Leaf
	if err := chain.DecodeStrict(data, &l); err != nil {
		return Leaf{}, fmt.Errorf("leaf: %w", err)
	}
	if l.V != leafVersion {
		return Leaf{}, fmt.Errorf("leaf: version %d, this program knows %d: %w", l.V, leafVersion, chain.ErrNewer)
	}
	again, err := l.Encode()
	if err == nil && !bytes.Equal(again, data) {
		err = errors.New("leaf: it is written in another way than a leaf is")
	}
	if err != nil {
		return Leaf{}, err
	}
	return l, nil
}

func (l Leaf) valid() error {
	for name, hash := range map[string]string{"job": l.Job, "head": l.Head, "bag": l.Bag, "list": l.List, "removed": l.Removed} {
		if !chain.IsHash(hash) && !(name == "removed" && hash == "") {
			return fmt.Errorf("%s %.70q, 64 lower-case hex digits are wanted", name, hash)
		}
	}
	if l.Entries < 1 {
		return fmt.Errorf("%d entries, 1 at least are wanted", l.Entries)
	}
	if year := l.Taken.Year(); year < 1970 || year > 9999 {
		return fmt.Errorf("taken in the year %d", year)
	}
	return nil
}

// maxLeaves bounds the size of a log: more than any archive takes, and far below where
// the arithmetic of its places ends.
const maxLeaves = 1 << 40

// Grow gives the hashes that a leaf adds to a log of size leaves; they belong at place at
// and behind it. Reading them takes one call for at most log₂ size hashes.
func Grow(size int64, leaf []byte, kept tlog.HashReader) (at int64, hashes []tlog.Hash, err error) {
	if size < 0 || size >= maxLeaves {
		return 0, nil, fmt.Errorf("log: %d leaves: 0 to %d are accepted", size, int64(maxLeaves)-1)
	}
	hashes, err = tlog.StoredHashes(size, leaf, kept)
	return tlog.StoredHashIndex(0, size), hashes, err
}
