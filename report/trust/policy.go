package trust

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"go.yaml.in/yaml/v3"

	"handback/records/chain"
	"handback/records/stamp"
)

// MaxPolicy bounds a policy file.
const MaxPolicy = 1 << 20

// Policy is what is asked of a record. The zero value asks nothing.
type Policy struct {
	Require []string           // roles that must have signed the record as it stands, RequireAcceptances, RequireReady
	Revoked []RevokedKey       // from a time on
	Known   []Known            // of records, by job
	Must    []string           // of Musts
	Ahead   time.Duration      // how far an entry may be ahead of the clock here
	Lost    chain.Revoked      // keys that count for no time
	Stamps  *stamp.Authorities // who is believed about times; nil for nobody
	Bound   bool               // the list of keys is not the plan's, and may say roles
}

// RevokedKey is a key that counts no more from a time on.
type RevokedKey struct {
	Key  string    // fingerprint, SHA256:…
	From time.Time // zero: it never counts
	Why  string
}

// Known is what a copy from elsewhere tells of a record. Job is "" for the one that is
// verified, Entries 0 and Head "" where it does not tell them.
type Known struct {
	Job     string `yaml:"job"`
	Entries int    `yaml:"entries"`
	Head    string `yaml:"head"`
}

// Musts are what a policy may demand to be known of each record.
var Musts = []string{MustHead, MustEntries, MustStamp}

const (
	MustHead    = "head"    // its head hash, from a copy elsewhere
	MustEntries = "entries" // its number of entries, likewise
	MustStamp   = "stamp"   // a time that an authority vouches for, of what was signed
)

// File is a policy as it is written. Names of files are from its own folder on.
type File struct {
	Require        []string `yaml:"require"`
	AllowedSigners string   `yaml:"allowed_signers"`
	RevokedKeys    string   `yaml:"revoked_keys"`
	Revoked        []struct {
		Key  string    `yaml:"key"`
		From time.Time `yaml:"from"`
		Why  string    `yaml:"why"`
	} `yaml:"revoked"`
	ClockAhead string   `yaml:"clock_ahead"`
	StampCA    string   `yaml:"tsa_ca"`
	Must       []string `yaml:"must"`
	Known      []Known  `yaml:"known"`
}

// ParseFile reads a policy file. A member that is not known is refused: what somebody
// asked for must not go unasked.
func ParseFile(data []byte) (File, error) {
	var f File
	d := yaml.NewDecoder(bytes.NewReader(data))
	d.KnownFields(true)
	if err := d.Decode(&f); err != nil {
		if errors.Is(err, io.EOF) {
			err = errors.New("it asks for nothing")
		}
		return File{}, err
	}
	if err := d.Decode(new(File)); !errors.Is(err, io.EOF) {
		return File{}, errors.New("one document is wanted")
	}
	_, err := f.Policy()
	return f, err
}

// Policy is what the file itself says; what its files say is added by who reads them.
func (f File) Policy() (Policy, error) {
	p := Policy{Require: f.Require, Must: f.Must, Known: f.Known}
	if _, err := CheckRequired(f.Require); err != nil {
		return Policy{}, fmt.Errorf("require: %w", err)
	}
	if len(f.Require) > 0 && f.AllowedSigners == "" {
		return Policy{}, errors.New("require: name the file of keys that you trust, with allowed_signers")
	}
	for _, m := range f.Must {
		if !slices.Contains(Musts, m) {
			return Policy{}, fmt.Errorf("must: %.40q is not one of %s", m, strings.Join(Musts, ", "))
		}
	}
	for i, k := range f.Known {
		if err := k.valid(); err != nil || k.Job == "" {
			return Policy{}, fmt.Errorf("known[%d]: %w", i, cmpErr(err, "say of which job"))
		}
	}
	for i, r := range f.Revoked {
		key := r.Key
		if public, _, err := chain.ParseKey(key); err == nil {
			key = chain.Fingerprint(public)
		}
		if !strings.HasPrefix(key, "SHA256:") || len(key) != len("SHA256:")+43 {
			return Policy{}, fmt.Errorf("revoked[%d]: key %.60q: a fingerprint, SHA256:…, or the line of a public key is wanted", i, r.Key)
		}
		p.Revoked = append(p.Revoked, RevokedKey{key, r.From, r.Why})
	}
	if f.ClockAhead != "" {
		var err error
		if p.Ahead, err = time.ParseDuration(f.ClockAhead); err != nil || p.Ahead < 0 {
			return Policy{}, fmt.Errorf("clock_ahead: %.40q: a time such as 10m or 1h is wanted", f.ClockAhead)
		}
	}
	return p, nil
}

func cmpErr(err error, otherwise string) error {
	if err != nil {
		return err
	}
	return errors.New(otherwise)
}

// What may be required beside the signatures of roles: that what had to be accepted was,
// with a signature; that the job is ready, with concessions or without.
const (
	RequireAcceptances = "acceptances"
	RequireReady       = "ready"
)

// Required are what may be required of a record.
var Required = append(slices.Clone(chain.Roles), RequireAcceptances, RequireReady)

// CheckRequired says why a list of them cannot be asked for, and by which word of it.
func CheckRequired(list []string) (word string, err error) {
	for i, r := range list {
		if !slices.Contains(Required, r) {
			return r, fmt.Errorf("%.40q is not one of %s", r, strings.Join(Required, ", "))
		}
		if slices.Contains(list[:i], r) {
			return r, fmt.Errorf("%s stands twice", r)
		}
	}
	return "", nil
}

// of tells whether it is about a job: by the id it was opened under, or, where two jobs were
// opened under one, that id with the first digits of the identifier, as a book tells it that
// holds both.
func (k Known) of(first chain.Entry) bool {
	digits, beside := strings.CutPrefix(k.Job, first.Job+".")
	return k.Job == "" || k.Job == first.Job || beside && len(digits) >= 12 && strings.HasPrefix(first.Hash, digits)
}

func (k Known) valid() error {
	switch {
	case k.Entries < 0:
		return fmt.Errorf("%d entries: 1 at least is wanted", k.Entries)
	case k.Entries == 0 && k.Head == "":
		return errors.New("tell head, entries or both")
	case k.Head != "" && !chain.IsHash(k.Head):
		return fmt.Errorf("head %.70q: 64 lower-case hex digits are wanted", k.Head)
	}
	return nil
}

// CheckKnown says why what is known cannot be.
func CheckKnown(k Known) error { return k.valid() }
