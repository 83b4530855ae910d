package chain

import (
	"bytes"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"
)

// toSign is what a person signs: a statement or an acceptance.
type toSign interface {
	valid() error
	version() int
	Encode() ([]byte, error)
}

// encodeSigned gives the bytes that are signed of what is called so.
func encodeSigned(what string, v toSign) ([]byte, error) {
	if err := v.valid(); err != nil {
		return nil, err
	}
	b, err := CanonicalObject(v)
	if err == nil && len(b) > maxStatement {
		err = fmt.Errorf("%s of %d bytes: at most %d are signed", what, len(b), maxStatement)
	}
	return b, err
}

// parseSigned reads such bytes, of the version that is known: only what Encode writes.
func parseSigned[T toSign](what string, known int, b []byte) (T, error) {
	var v, none T
	if len(b) > maxStatement {
		return none, fmt.Errorf("%s of %d bytes: at most %d are read", what, len(b), maxStatement)
	}
	if err := DecodeStrict(b, &v); err != nil {
		return none, fmt.Errorf("%s: %w", what, err)
	}
	if is := v.version(); is != known {
		return none, fmt.Errorf("%s: version %d, this program knows %d: %w", what, is, known, ErrNewer)
	}
	again, err := v.Encode()
	if err == nil && !bytes.Equal(again, b) {
		err = fmt.Errorf("%s: %w", what, errNotCanonical)
	}
	if err != nil {
		return none, err
	}
	return v, nil
}

// validSigned holds what all that is signed has: a job, hashes, a role and a time.
func validSigned(what, job, role string, at time.Time, hashes map[string]string) error {
	if _, _, err := SplitJob(job); err != nil {
		return fmt.Errorf("%s: %w", what, err)
	}
	for name, hash := range hashes {
		if !IsHash(hash) {
			return fmt.Errorf("%s: %s %.70q, 64 lower-case hex digits are wanted", what, name, hash)
		}
	}
	if !slices.Contains(Roles, role) {
		return fmt.Errorf("%s: role %.40q is not one of %s", what, role, strings.Join(Roles, ", "))
	}
	if at.IsZero() {
		return errors.New(what + ": it has no time")
	}
	if back, err := parseTime(at.Format(time.RFC3339Nano)); err != nil || !back.Equal(at) {
		return fmt.Errorf("%s: time %s cannot be written as RFC 3339; years 0 to 9999 and offsets of whole minutes can", what, at)
	}
	return nil
}
