package cmd

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"

	"handback/cmd/session"
	"handback/records/bag"
)

// openBag opens a bag, or one as a file ending in .zip from stdin where it is called -: the end of such a
// file is read first, so it stands in a folder of its own for as long as the bag is open.
func openBag(env *session.Env, file string) (*bag.Bag, func() error, error) {
	if file != "-" {
		b, err := bag.OpenBag(file)
		if err != nil {
			return nil, nil, err
		}
		return b, b.Close, nil
	}
	dir, err := os.MkdirTemp("", "handback-stdin-*")
	if err != nil {
		return nil, nil, err
	}
	gone := func() error { return os.RemoveAll(dir) }
	path := filepath.Join(dir, "stdin.zip")
	if err := spool(env.In, path, maxBagFile); err != nil {
		return nil, nil, errors.Join(fmt.Errorf("stdin: %w", err), gone())
	}
	b, err := bag.OpenBag(path)
	if err != nil {
		return nil, nil, errors.Join(err, gone())
	}
	return b, func() error { return errors.Join(b.Close(), gone()) }, nil
}

// spool writes at most limit bytes into a new file that nobody else reads.
func spool(in io.Reader, path string, limit int64) error {
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return err
	}
	n, err := io.Copy(f, io.LimitReader(in, limit+1))
	if err == nil && n > limit {
		err = tooLong{0, limit}
	}
	return errors.Join(err, f.Close())
}
