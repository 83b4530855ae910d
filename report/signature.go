package report

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"slices"
	"strings"
	"time"

	"handback/checks"
	"handback/records"
)

// Signature is a person's signature of the job up to an entry.
type Signature struct {
	Seq       int // entry that holds it
	At        time.Time
	By        string
	Text      string            // the exact bytes that were signed
	Armoured  string            // the SSHSIG
	Statement records.Statement // what Text says
	Unread    string            // why Text cannot be read; then Statement is empty
}

func newSignature(e records.Entry, s Signed) Signature {
	out := Signature{Seq: e.Seq, At: e.At, By: e.By, Text: s.Statement, Armoured: s.Signature}
	st, err := records.ParseStatement([]byte(s.Statement))
	if err != nil {
		out.Unread = err.Error() // verify says so; the rest of the job is as good as it was
	}
	out.Statement = st
	return out
}

// After counts the entries after a signature, other signatures left out: nobody who
// signed there has seen them.
func (j *Job) After(s Signature) int {
	n := 0
	for _, e := range j.Entries {
		if e.Seq > s.Seq && e.Kind != KindSign {
			n++
		}
	}
	return n
}

// SignedWords tell what a signature covers, and how much came after it.
func (j *Job) SignedWords(s Signature) string {
	words := s.words()
	if n := j.After(s); n > 0 {
		words += "; " + Count(n, "entry", "entries") + " after it"
	}
	return words
}

func (s Signature) words() string {
	if s.Unread != "" {
		return "a signature that cannot be read: " + s.Unread
	}
	return fmt.Sprintf("signed by %s as %s, %s: covers entries 1–%d", s.Statement.Name, s.Statement.Role, stamp(s.Statement.At), s.Statement.Entries)
}

// StandingStops are the stops that stand now, in plan order.
func (j *Job) StandingStops() []records.Stop {
	out := []records.Stop{}
	for _, s := range j.States {
		if a := s.Judged(); a != nil && a.Told.Stop != nil {
			out = append(out, records.Stop{Check: s.Check.ID, Attempt: a.Number, Text: oneLine(a.Told.Stopping())})
		}
	}
	return out
}

func oneLine(s string) string { return strings.Join(strings.Fields(s), " ") }

// NewStatement is what a person of the plan would sign about the job as it stands at
// its last entry. The time is kept to the second.
func (j *Job) NewStatement(person *checks.Person, role string, at time.Time) (records.Statement, error) {
	at = at.Truncate(time.Second)
	data, err := j.HandoverData(at)
	if err != nil {
		return records.Statement{}, err
	}
	sum := sha256.Sum256(data)
	head := j.Head()
	return records.Statement{V: 1, Job: j.ID, Entries: head.Seq, Head: head.Hash, PlanHash: j.PlanHash, Role: role, Person: person.ID,
		Name: oneLine(person.Name), At: at, Verdict: j.Overall(at).Words, Stops: j.StandingStops(), Handover: hex.EncodeToString(sum[:])}, nil
}

// MaySign says why a person cannot sign in a role as the job stands, nil when they can:
//
//   - the role is theirs in the plan;
//   - who recorded readings signs as engineer or owner only where the plan says so;
//   - while a stop stands an engineer or owner signs only what names it;
//   - an owner signs after an engineer, and nothing came in between.
func (j *Job) MaySign(person *checks.Person, role string, namesStops bool) error {
	if !slices.Contains(records.Roles, role) {
		return fmt.Errorf("role %.40q does not sign: accepted are %s", role, strings.Join(records.Roles, ", "))
	}
	if person.Role != role {
		return fmt.Errorf("%s is %s in the plan, and signs as nothing else", person.Name, person.Role)
	}
	if role == "technician" {
		return nil
	}
	if seq := j.tested(person.ID); seq > 0 && !j.Plan.TesterMayVerify {
		return fmt.Errorf("%s recorded readings of this job (entry %d): who tests does not sign as %s, unless the plan says tester_may_verify: yes", person.Name, seq, role)
	}
	if stops := j.StandingStops(); len(stops) > 0 && !namesStops {
		return fmt.Errorf("a stop stands at check %s: %s; take the check again, or sign a statement that names the stop with --name-stops", stops[0].Check, stops[0].Text)
	}
	if role == "owner" {
		return j.engineerSigned()
	}
	return nil
}

// tested is the first entry in which a person recorded or corrected a reading, 0 for none.
func (j *Job) tested(person string) int {
	for _, e := range j.Entries {
		if (e.By == person || sameName(j.PersonName(e.By), j.PersonName(person))) && (e.Kind == KindRead || e.Kind == KindCorrect) {
			return e.Seq
		}
	}
	return 0
}

func (j *Job) engineerSigned() error {
	for _, s := range slices.Backward(j.Signatures) {
		if s.Statement.Role != "engineer" {
			continue
		}
		if n := j.After(s); n > 0 {
			return fmt.Errorf("%s came after the engineer's signature (entry %d): the engineer signs again first", Count(n, "entry", "entries"), s.Seq)
		}
		return nil
	}
	return fmt.Errorf("no engineer has signed: an owner signs after an engineer")
}

// PlanSigners are the keys that the plan lists for its people, good for statements alone.
func PlanSigners(p *checks.Plan) (records.Signers, error) {
	var out records.Signers
	for _, q := range p.People {
		for _, line := range q.Keys {
			key, _, err := records.ParseKey(line)
			if err != nil {
				return nil, fmt.Errorf("plan: key of %s: %w", q.ID, err)
			}
			out = append(out, records.Signer{People: q.ID, Namespaces: records.StatementNamespace, Key: key})
		}
	}
	return out, nil
}

// Checked is what checking a signature showed.
type Checked struct {
	Signature
	Key      string   // fingerprint; "" when the signature is none
	Faults   []string // what is wrong with signature or statement
	Unlisted string   // why the key is not trusted, "" when it is
	Untold   string   // why nothing here can tell whose key it is, "" when something does
}

// CheckedWords are SignedWords with what checking could not tell.
func (j *Job) CheckedWords(c Checked) string {
	return joinWords(j.SignedWords(c.Signature), c.Untold)
}

// Doubt says why a signature is not shown to be good, "" when it is.
func (c Checked) Doubt() string {
	doubts := slices.Clone(c.Faults)
	if c.Unlisted != "" {
		doubts = append(doubts, c.Unlisted)
	}
	return strings.Join(doubts, "; ")
}

// untold turns the missing trust in a key into what it is where a plan lists no key for
// the person at all: nothing here tells whose it is.
func (c Checked) untold(p *checks.Plan, byPlan bool) Checked {
	if q := p.Person(c.Statement.Person); byPlan && c.Unlisted != "" && q != nil && len(q.Keys) == 0 {
		c.Unlisted, c.Untold = "", fmt.Sprintf("the plan lists no key for %s: whose key it is, is shown by a list that you trust alone", q.Name)
	}
	return c
}

// CheckSignatures checks every signature of the job: that it fits the bytes of its
// statement, that the statement says what the record says at that entry, that the
// person could sign so, that no two people use one key, and that trust lists the key
// for the person; nil trust is what the plan lists.
//
// Errors: the plan's keys cannot be read, or the entries not folded.
func (j *Job) CheckSignatures(trust records.Signers) ([]Checked, error) {
	out := []Checked{}
	if len(j.Signatures) == 0 {
		return out, nil
	}
	byPlan := trust == nil
	if byPlan {
		var err error
		if trust, err = PlanSigners(j.Plan); err != nil {
			return nil, err
		}
	}
	users := map[string]string{} // key → whose it was first
	then := newJob(j.Plan)       // the job as it stood at each entry
	for _, e := range j.Entries {
		if e.Kind == KindSign {
			s := j.Signatures[len(out)]
			out = append(out, then.check(s, trust, users).untold(j.Plan, byPlan))
		}
		if err := then.Add(e); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// CheckNext checks a signature that is to be the next entry, made by a person of the
// plan, as CheckSignatures will once it is recorded.
func (j *Job) CheckNext(by string, s Signed) (Checked, error) {
	earlier, err := j.CheckSignatures(nil)
	if err != nil {
		return Checked{}, err
	}
	trust, err := PlanSigners(j.Plan)
	if err != nil {
		return Checked{}, err
	}
	users := map[string]string{}
	for _, c := range slices.Backward(earlier) {
		users[c.Key] = c.Statement.Person
	}
	head := j.Head()
	next := newSignature(records.Entry{Head: records.Head{Seq: head.Seq + 1, By: by}}, s)
	return j.check(next, trust, users).untold(j.Plan, true), nil
}

// SignedData are the handover data of the job as it stood when it was signed: what
// the digest in the statement was made of.
func (j *Job) SignedData(s Signature) ([]byte, error) {
	then, err := Fold(j.Plan, j.Entries[:s.Seq-1])
	if err != nil {
		return nil, err
	}
	return then.HandoverData(s.Statement.At)
}

func (j *Job) signatureLines() ([]SignatureLine, error) {
	checked, err := j.CheckSignatures(nil)
	if err != nil {
		return nil, err
	}
	var out []SignatureLine
	for _, c := range checked {
		s := c.Statement
		out = append(out, SignatureLine{Entry: c.Seq, Person: s.Person, Name: s.Name, Role: s.Role, When: stamp(s.At), Words: j.CheckedWords(c), Key: c.Key, Doubt: c.Doubt(), Untold: c.Untold})
	}
	return out, nil
}

// check holds a signature against the job as it stood before it.
func (j *Job) check(s Signature, trust records.Signers, users map[string]string) Checked {
	c := Checked{Signature: s}
	found := func(format string, args ...any) { c.Faults = append(c.Faults, fmt.Sprintf(format, args...)) }
	key, err := records.CheckSignature([]byte(s.Text), s.Armoured)
	if err != nil {
		found("%v", err)
	} else {
		c.Key = records.Fingerprint(key)
	}
	if s.Unread != "" {
		found("%s", s.Unread)
		return c
	}
	if key != nil {
		who := s.Statement.Person
		if err := trust.Allow(who, key, s.Statement.At); err != nil {
			c.Unlisted = err.Error()
		}
		if first, used := users[c.Key]; used && first != who {
			found("key %s signed for %s before: a key is one person's", c.Key, first)
		} else {
			users[c.Key] = who
		}
	}
	c.Faults = append(c.Faults, j.statementFaults(s)...)
	return c
}

// statementFaults says where a statement differs from the one the job gives.
func (j *Job) statementFaults(s Signature) []string {
	var out []string
	found := func(format string, args ...any) { out = append(out, fmt.Sprintf(format, args...)) }
	is := s.Statement
	person := j.Plan.Person(is.Person)
	if person == nil {
		found("person %q is not in the plan", is.Person)
		return out
	}
	if s.By != is.Person {
		found("it was recorded by %s, but is the statement of %s", s.By, is.Person)
	}
	if err := j.MaySign(person, is.Role, true); err != nil {
		found("%v", err)
	}
	want, err := j.NewStatement(person, is.Role, is.At)
	if err != nil {
		found("%v", err)
		return out
	}
	for _, m := range []struct{ what, is, want string }{
		{"job", is.Job, want.Job}, {"hash of the plan", is.PlanHash, want.PlanHash}, {"number of entries", itoa(is.Entries), itoa(want.Entries)},
		{"head hash", is.Head, want.Head}, {"name", is.Name, want.Name}, {"verdict", is.Verdict, want.Verdict},
		{"list of stops", stopWords(is.Stops), stopWords(want.Stops)}, {"digest of the handover data", is.Handover, want.Handover},
	} {
		if m.is != m.want {
			found("the statement gives as %s %q, the record gives %q", m.what, m.is, m.want)
		}
	}
	return out
}

func stopWords(stops []records.Stop) string {
	if len(stops) == 0 {
		return "none"
	}
	var b bytes.Buffer
	for i, s := range stops {
		if i > 0 {
			b.WriteString("; ")
		}
		fmt.Fprintf(&b, "%s, attempt %d: %s", s.Check, s.Attempt, s.Text)
	}
	return b.String()
}

// StatementWords are what a statement says, in lines for its signer.
func StatementWords(s records.Statement) []string {
	out := []string{
		fmt.Sprintf("I, %s, %s of job %s, sign its record as it stands at entry %d.", s.Name, s.Role, s.Job, s.Entries),
		"verdict: " + s.Verdict,
		"stops that stand: " + stopWords(s.Stops),
		"signed: " + stamp(s.At),
		"head hash of entry " + itoa(s.Entries) + ": " + s.Head,
		"plan, SHA-256: " + s.PlanHash,
		"handover data, SHA-256: " + s.Handover,
	}
	switch s.Role {
	case "technician":
		return append(out, "As technician I say that the readings recorded in my name are those I took.")
	case "engineer":
		return append(out, "As engineer I say that I have looked at the findings, the flags and the concessions.")
	}
	return append(out, "As owner I say that I have received this record.")
}
