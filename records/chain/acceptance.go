package chain

import (
	"bytes"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"
)

// AcceptanceNamespace is the SSHSIG namespace of acceptances: a signature under a
// statement accepts nothing, and one under an acceptance states nothing.
const AcceptanceNamespace = "handback-acceptance"

// What an acceptance may accept. These words stand in what is signed and never change.
const (
	AcceptsFinding = "finding" // of the newest attempt of a check
	AcceptsSkipped = "skipped" // a check that was left out
	AcceptsFound   = "found"   // a device that was found otherwise than recorded
	AcceptsPlan    = "plan"    // the plan as it was amended
)

var accepts = []string{AcceptsFinding, AcceptsSkipped, AcceptsFound, AcceptsPlan}

const acceptanceVersion = 1

// Acceptance is what a person signs who accepts something of a job. What is signed are
// the bytes of Encode, a JSON object in the form of RFC 8785 with these members and no
// others. The hash of the accepted entry stands for all before it, so that it fits one
// record alone, and is never older than what it accepts.
type Acceptance struct {
	V        int       `json:"v"`
	Job      string    `json:"job"`
	Entry    int       `json:"entry"`     // that is accepted: of the judgement, the skip, what was found, the amendment
	Hash     string    `json:"hash"`      // of that entry
	PlanHash string    `json:"plan_hash"` // of the plan in force
	Accepts  string    `json:"accepts"`   // finding, skipped, found or plan
	Of       string    `json:"of"`        // id of the check, the device or the plan
	Attempt  int       `json:"attempt,omitempty"`
	Verdict  string    `json:"verdict,omitempty"`
	Stop     string    `json:"stop,omitempty"` // code of the stop that stands all the same
	Text     string    `json:"text"`           // how it was told to the signer; not compared
	Reason   string    `json:"reason"`
	Role     string    `json:"role"`   // one of Roles
	Person   string    `json:"person"` // id in the plan
	Name     string    `json:"name"`
	At       time.Time `json:"at"` // as the signer's clock had it
}

// Encode gives the bytes that are signed. The version is set here.
//
// Errors name the member that cannot stand so.
func (a Acceptance) Encode() ([]byte, error) {
	a.V = acceptanceVersion
	if err := a.valid(); err != nil {
		return nil, err
	}
	b, err := CanonicalObject(a)
	if err == nil && len(b) > maxStatement {
		err = fmt.Errorf("acceptance of %d bytes: at most %d are signed", len(b), maxStatement)
	}
	return b, err
}

// ParseAcceptance reads the bytes of an acceptance. It accepts only what Encode writes.
//
// Errors: ErrNewer for a version this program does not know; otherwise what is
// wrong and where.
func ParseAcceptance(b []byte) (Acceptance, error) {
	if len(b) > maxStatement {
		return Acceptance{}, fmt.Errorf("acceptance of %d bytes: at most %d are read", len(b), maxStatement)
	}
	var a Acceptance
	if err := DecodeStrict(b, &a); err != nil {
		return Acceptance{}, fmt.Errorf("acceptance: %w", err)
	}
	if a.V != acceptanceVersion {
		return Acceptance{}, fmt.Errorf("acceptance: version %d, this program knows %d: %w", a.V, acceptanceVersion, ErrNewer)
	}
	again, err := a.Encode()
	if err == nil && !bytes.Equal(again, b) {
		err = fmt.Errorf("acceptance: %w", errNotCanonical)
	}
	if err != nil {
		return Acceptance{}, err
	}
	return a, nil
}

func (a Acceptance) valid() error {
	if _, _, err := SplitJob(a.Job); err != nil {
		return fmt.Errorf("acceptance: %w", err)
	}
	if a.Entry < 1 || a.Attempt < 0 {
		return fmt.Errorf("acceptance: entry %d, attempt %d: counted from 1", a.Entry, a.Attempt)
	}
	for name, hash := range map[string]string{"hash": a.Hash, "plan_hash": a.PlanHash} {
		if !isHash(hash) {
			return fmt.Errorf("acceptance: %s %.70q, 64 lower-case hex digits are wanted", name, hash)
		}
	}
	if !slices.Contains(accepts, a.Accepts) {
		return fmt.Errorf("acceptance: it accepts %.40q, not one of %s", a.Accepts, strings.Join(accepts, ", "))
	}
	if !slices.Contains(Roles, a.Role) {
		return fmt.Errorf("acceptance: role %.40q is not one of %s", a.Role, strings.Join(Roles, ", "))
	}
	if a.At.IsZero() {
		return errors.New("acceptance: it has no time")
	}
	if back, err := parseTime(a.At.Format(time.RFC3339Nano)); err != nil || !back.Equal(a.At) {
		return fmt.Errorf("acceptance: time %s cannot be written as RFC 3339; years 0 to 9999 and offsets of whole minutes can", a.At)
	}
	for name, text := range map[string]string{"of": a.Of, "text": a.Text, "reason": a.Reason, "person": a.Person, "name": a.Name} {
		if err := CheckOneLine("acceptance: "+name, text, true); err != nil {
			return err
		}
	}
	for name, text := range map[string]string{"verdict": a.Verdict, "stop": a.Stop} {
		if err := CheckOneLine("acceptance: "+name, text, false); err != nil {
			return err
		}
	}
	return nil
}
