package chain

import (
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
	return encodeSigned("acceptance", a)
}

// ParseAcceptance reads the bytes of an acceptance. It accepts only what Encode writes.
//
// Errors: ErrNewer for a version this program does not know; otherwise what is
// wrong and where.
func ParseAcceptance(b []byte) (Acceptance, error) {
	return parseSigned[Acceptance]("acceptance", acceptanceVersion, b)
}

func (a Acceptance) version() int { return a.V }

func (a Acceptance) valid() error {
	if err := validSigned("acceptance", a.Job, a.Role, a.At, map[string]string{"hash": a.Hash, "plan_hash": a.PlanHash}); err != nil {
		return err
	}
	if a.Entry < 1 || a.Attempt < 0 {
		return fmt.Errorf("acceptance: entry %d, attempt %d: counted from 1", a.Entry, a.Attempt)
	}
	if !slices.Contains(accepts, a.Accepts) {
		return fmt.Errorf("acceptance: it accepts %.40q, not one of %s", a.Accepts, strings.Join(accepts, ", "))
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
