package chain

import (
	"fmt"
	"slices"
	"strings"
	"time"
)

// StatementNamespace is the SSHSIG namespace of statements: a signature made with
// the same key for anything else is none of them.
const StatementNamespace = "handback-statement"

// Roles are those in which a person signs.
var Roles = []string{"technician", "engineer", "owner"}

// What a job comes to as a whole. These words stand in statements and are compared:
// there are no others, and none of them ever changes. How a verdict is told to people
// is no part of it.
const (
	Ready                = "ready"                  // every check passes, every step was taken
	ReadyWithConcessions = "ready-with-concessions" // the same, where an engineer accepted a finding
	NotReady             = "not-ready"              // a check or a hold point is open, or something stands against it
	Stopped              = "stop"                   // a stop stands: nobody may pass over it
)

// Verdicts are all of them.
var Verdicts = []string{Ready, ReadyWithConcessions, NotReady, Stopped}

const (
	statementVersion = 1
	maxStatement     = 256 << 10 // bytes
)

// Statement is what a person signs about a job: that its record up to an entry is
// what they saw, and what it came to. What is signed are the bytes of Encode, a JSON
// object in the form of RFC 8785 with these members and no others.
//
// Entries and Head name the state that was signed. The documents that show it are
// kept as the next entries of the job, followed by the entry of the signature itself:
// a statement cannot cover what is made of it.
type Statement struct {
	V        int       `json:"v"`
	Job      string    `json:"job"`
	Entries  int       `json:"entries"`   // covered: the first so many of the job
	Head     string    `json:"head"`      // hash of the last of them
	PlanHash string    `json:"plan_hash"` // of the plan the job was opened with
	Role     string    `json:"role"`      // one of Roles
	Person   string    `json:"person"`    // id in the plan
	Name     string    `json:"name"`
	At       time.Time `json:"at"`      // when it was signed, as the signer's clock had it
	Verdict  string    `json:"verdict"` // on the whole job, one of Verdicts
	Stops    []Stop    `json:"stops"`   // every stop that stands; none is []

	// SHA-256 of the handover data of that state, and of the documents that were signed.
	Handover string `json:"handover"`
	Workbook string `json:"workbook"`
	Page     string `json:"page"`
}

// Stop is a finding nobody may pass over, named in a statement. Text is how it was
// told to the signer; what is compared are the other members.
type Stop struct {
	Check   string `json:"check"`
	Attempt int    `json:"attempt"`
	Code    string `json:"code"`
	Text    string `json:"text"`
}

// Encode gives the bytes that are signed. The version is set here.
//
// Errors name the member that cannot stand so.
func (s Statement) Encode() ([]byte, error) {
	s.V = statementVersion
	if s.Stops == nil {
		s.Stops = []Stop{}
	}
	return encodeSigned("statement", s)
}

// ParseStatement reads the bytes of a statement. It accepts only what Encode writes.
//
// Errors: ErrNewer for a version this program does not know; otherwise what is
// wrong and where.
func ParseStatement(b []byte) (Statement, error) {
	return parseSigned[Statement]("statement", statementVersion, b)
}

func (s Statement) version() int { return s.V }

func (s Statement) valid() error {
	hashes := map[string]string{"head": s.Head, "plan_hash": s.PlanHash, "handover": s.Handover, "workbook": s.Workbook, "page": s.Page}
	if err := validSigned("statement", s.Job, s.Role, s.At, hashes); err != nil {
		return err
	}
	if s.Entries < 1 {
		return fmt.Errorf("statement: it covers %d entries, one at least is wanted", s.Entries)
	}
	if !slices.Contains(Verdicts, s.Verdict) {
		return fmt.Errorf("statement: verdict %.40q is not one of %s", s.Verdict, strings.Join(Verdicts, ", "))
	}
	texts := map[string]string{"person": s.Person, "name": s.Name}
	for i, stop := range s.Stops {
		if stop.Attempt < 1 {
			return fmt.Errorf("statement: stops[%d]: attempt %d, the first is 1", i, stop.Attempt)
		}
		for member, text := range map[string]string{"check": stop.Check, "code": stop.Code, "text": stop.Text} {
			texts[fmt.Sprintf("stops[%d].%s", i, member)] = text
		}
	}
	for name, text := range texts {
		if err := CheckOneLine("statement: "+name, text, true); err != nil {
			return err
		}
	}
	return nil
}

// Canonical marshals v, which must give a JSON object, into the form of RFC 8785: the
// bytes that a digest of it is made of. Texts that are not UTF-8 and numbers that a
// double does not hold digit for digit are errors.
func Canonical(v any) ([]byte, error) { return CanonicalObject(v) }
