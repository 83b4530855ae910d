package report

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"golang.org/x/crypto/ssh"

	"handback/checks/plan"
	"handback/records/chain"
)

// Checked is what checking a signature showed.
type Checked struct {
	Signature
	Key      string   // fingerprint; "" when the signature is none
	Faults   []string // what is wrong with signature or statement
	Unlisted string   // why the key is not trusted, "" when it is
	Untold   string   // why nothing here can tell whose key it is, "" when something does
	key      ssh.PublicKey
}

// trusted keeps why the key is not trusted: by a list, or by the plan where it is nil.
func (c *Checked) trusted(list chain.Signers, byPlan func(ssh.PublicKey) error) {
	if c.key == nil || c.Unread != "" {
		return
	}
	err := error(nil)
	if list == nil {
		err = byPlan(c.key)
	} else {
		err = list.Allow(c.Statement.Person, c.key, c.Statement.At)
		if err == nil {
			_, err = list.AllowRole(c.Statement.Person, c.key, c.Statement.Role)
		}
	}
	if err != nil {
		c.Unlisted = err.Error()
	}
}

// CheckedWords are SignedWords with what checking could not tell.
func (j *Job) CheckedWords(c Checked) string {
	return JoinWords(j.SignedWords(c.Signature), c.Untold)
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
func (c Checked) untold(p *plan.Plan, byPlan bool) Checked {
	if q := p.Person(c.Statement.Person); byPlan && c.Unlisted != "" && q != nil && len(q.Keys) == 0 && len(q.Revoked) == 0 {
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
func (j *Job) CheckSignatures(trust chain.Signers) ([]Checked, error) {
	out := []Checked{}
	if len(j.Signatures) == 0 {
		return out, nil
	}
	byPlan := trust == nil
	users := map[string]string{} // key → whose it was first
	then := newJob(j.opened())   // the job as it stood when each was given
	for _, s := range j.Signatures {
		if err := then.Add(j.Entries[len(then.Entries):s.Covers()]...); err != nil {
			return nil, err
		}
		c := then.check(s, users)
		c.trusted(trust, func(k ssh.PublicKey) error {
			return j.trusts(then.Decided(), chain.StatementNamespace, s.Statement.Person, k, s.Statement.At)
		})
		out = append(out, c.untold(j.Plan, byPlan))
	}
	return out, nil
}

// CheckNext checks a signature that is to follow its documents as the next entries,
// made by a person of the plan, as CheckSignatures will once it is recorded.
func (j *Job) CheckNext(by string, docs []chain.Draft, s Signed) (Checked, error) {
	earlier, err := j.CheckSignatures(nil)
	if err != nil {
		return Checked{}, err
	}
	users := map[string]string{}
	for _, c := range slices.Backward(earlier) {
		users[c.Key] = c.Statement.Person
	}
	head := j.Head()
	next := newSignature(chain.Entry{Head: chain.Head{Seq: head.Seq + 1 + len(docs), By: by}}, s)
	for i, d := range docs {
		a, ok := d.Data.(chain.Attached)
		if !ok {
			return Checked{}, fmt.Errorf("%s is no document of a signature", d.Kind)
		}
		next.Kept = append(next.Kept, Attachment{Seq: head.Seq + 1 + i, By: by, Attached: a})
	}
	c := j.check(next, users)
	c.trusted(nil, func(k ssh.PublicKey) error {
		return j.trusts(j.Decided(), chain.StatementNamespace, next.Statement.Person, k, next.Statement.At)
	})
	return c.untold(j.Plan, true), nil
}

// SignedData are the handover data of the job as it stood when it was signed: what
// the digest in the statement was made of.
func (j *Job) SignedData(s Signature) ([]byte, error) {
	then, err := j.Upto(s.Covers())
	if err != nil {
		return nil, err
	}
	return then.HandoverData(then.Head().At)
}

func (j *Job) signatureLines() ([]SignatureLine, error) {
	checked, err := j.CheckSignatures(nil)
	if err != nil {
		return nil, err
	}
	var out []SignatureLine
	for _, c := range checked {
		s := c.Statement
		out = append(out, SignatureLine{Entry: c.Seq, Person: s.Person, Name: s.Name, Role: s.Role, When: Stamp(s.At), Words: j.CheckedWords(c), Key: c.Key, Doubt: c.Doubt(), Untold: c.Untold})
	}
	return out, nil
}

// check holds a signature against the job as it stood before it.
func (j *Job) check(s Signature, users map[string]string) Checked {
	c := Checked{Signature: s}
	found := func(format string, args ...any) { c.Faults = append(c.Faults, fmt.Sprintf(format, args...)) }
	key, err := chain.CheckSignature([]byte(s.Text), s.Armoured)
	if err != nil {
		found("%v", err)
	} else {
		c.Key, c.key = chain.Fingerprint(key), key
	}
	if s.Unread != "" {
		found("%s", s.Unread)
		return c
	}
	if key != nil {
		who := s.Statement.Person
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
		{"job", is.Job, want.Job}, {"hash of the plan", is.PlanHash, want.PlanHash}, {"number of entries", strconv.Itoa(is.Entries), strconv.Itoa(want.Entries)},
		{"head hash", is.Head, want.Head}, {"name", is.Name, want.Name}, {"verdict", is.Verdict, want.Verdict},
		{"list of stops", stopsNamed(is.Stops), stopsNamed(want.Stops)}, {"digest of the handover data", is.Handover, want.Handover},
	} {
		if m.is != m.want {
			found("the statement gives as %s %q, the record gives %q", m.what, m.is, m.want)
		}
	}
	return append(out, s.keptFaults()...)
}

// keptFaults says where the documents that are kept with a signature are not those its
// statement names.
func (s Signature) keptFaults() []string {
	var out []string
	named := map[string]string{chain.DocumentWorkbook: s.Statement.Workbook, chain.DocumentPage: s.Statement.Page}
	for _, a := range s.Kept {
		hash, ok := named[a.Document]
		switch {
		case !ok:
			out = append(out, fmt.Sprintf("entry %d keeps a second %s with it", a.Seq, a.Document))
		case a.SHA256 != hash:
			out = append(out, fmt.Sprintf("the %s that entry %d keeps with it is not the one that was signed: SHA-256 %s there, %s in the statement", a.Document, a.Seq, a.SHA256, hash))
		case a.By != s.By:
			out = append(out, fmt.Sprintf("entry %d, which keeps its %s, was made by %s", a.Seq, a.Document, a.By))
		}
		delete(named, a.Document)
	}
	for _, what := range chain.Documents {
		if _, missing := named[what]; missing {
			out = append(out, fmt.Sprintf("the %s that was signed is not stored with it: no entry right before it holds one", what))
		}
	}
	return out
}

// stopsNamed lists stops by what is compared: check, attempt and code. What they are
// told with is no part of it.
func stopsNamed(stops []chain.Stop) string {
	var out []string
	for _, s := range stops {
		out = append(out, fmt.Sprintf("%s, attempt %d, %s", s.Check, s.Attempt, s.Code))
	}
	if len(out) == 0 {
		return "none"
	}
	return strings.Join(out, "; ")
}

// Proof is what shows that a person gave an acceptance.
type Proof struct {
	Key      string // fingerprint of the key that signed it, "" when it is unsigned
	Fault    string // why the signature is none, or one of something else
	Unlisted string // why nothing tells whose key it is, "" when the plan does
	Demanded bool   // nothing is accepted unsigned in this job
	Person   string // who signed it, by the signature
	At       time.Time
	Public   string // the key's line

	Telephone string // how it was given by telephone, "" when it was not
	NotSo     string // why it could not be given by telephone
}

// SignsAcceptances tells whether nothing is accepted unsigned: the plan does not allow it,
// and the job was opened since acceptances are signed. An older job goes on as it was.
func (j *Job) SignsAcceptances() bool {
	return !j.Decided().UnsignedAcceptance && (j.Opened.Acceptances == AcceptancesSigned || j.opened().UnsignedAcceptance)
}

// Doubt says why it is not shown who gave an acceptance, "" when it is.
func (p Proof) Doubt() string {
	switch {
	case p.Fault != "":
		return "its signature does not hold: " + p.Fault
	case p.NotSo != "":
		return p.NotSo
	case p.Telephone != "":
		return "it was given by telephone, and the signature has not followed"
	case p.Key == "":
		return "it is not signed"
	case p.Unlisted != "":
		return "by a key not known: " + p.Unlisted
	}
	return ""
}

// Void says why an acceptance accepts nothing, "" when it does.
func (p Proof) Void() string {
	if p.Fault != "" || p.NotSo != "" || p.Demanded && p.Telephone == "" {
		return p.Doubt()
	}
	return ""
}

// Words tell what shows who gave an acceptance.
func (p Proof) Words() string {
	switch {
	case p.Fault != "":
		return "THE SIGNATURE DOES NOT HOLD: " + p.Fault
	case p.Telephone != "":
		return "BY TELEPHONE: " + p.Telephone
	case p.Key == "":
		return "unsigned"
	case p.Unlisted != "":
		return "signed by a key not known, " + p.Key
	}
	return "signed with key " + p.Key
}

// Proof is what shows who gave the acceptance of an entry.
func (j *Job) Proof(entry int) Proof { return j.proofs[entry] }

// Prove holds a signature against the acceptance that is wanted. Time and text are the
// signer's own.
func (j *Job) Prove(signed *Signed, want chain.Acceptance) Proof {
	p := Proof{Demanded: j.SignsAcceptances()}
	if signed == nil {
		return p
	}
	is, err := chain.ParseAcceptance([]byte(signed.Statement))
	if err != nil {
		p.Fault = err.Error()
		return p
	}
	key, err := chain.CheckIn(chain.AcceptanceNamespace, []byte(signed.Statement), signed.Signature)
	if err != nil {
		p.Fault = err.Error()
		return p
	}
	p.Key, p.Person, p.At, p.Public = chain.Fingerprint(key), is.Person, is.At, chain.KeyLine(key)
	p.Fault = otherAcceptance(is, want)
	if err := j.trusts(j.Decided(), chain.AcceptanceNamespace, is.Person, key, is.At); err != nil {
		p.Unlisted = err.Error()
	} else if want.Accepts == chain.AcceptsPlan { // not by the key that this very version takes away
		p.Unlisted = lost(j.Plan, p.Person, p.Key, p.Public, p.At)
	}
	return p
}

// lost says that a version of the plan has a key of a person revoked at a time, "" when not.
func lost(v *plan.Plan, person, key, public string, at time.Time) string {
	if r := revoked(v, person, public); r != nil && !at.Before(r.From) {
		return fmt.Sprintf("key %s of %s is revoked from %s on: %s", key, person, Stamp(r.From), r.Why)
	}
	return ""
}

// otherAcceptance says where an acceptance that was signed is not the one wanted.
func otherAcceptance(is, want chain.Acceptance) string {
	for _, m := range []struct{ what, is, want string }{
		{"job", is.Job, want.Job}, {"entry", strconv.Itoa(is.Entry), strconv.Itoa(want.Entry)}, {"hash of the entry", is.Hash, want.Hash},
		{"hash of the plan", is.PlanHash, want.PlanHash}, {"what it accepts", is.Accepts + " " + is.Of, want.Accepts + " " + want.Of},
		{"attempt", strconv.Itoa(is.Attempt), strconv.Itoa(want.Attempt)}, {"verdict", is.Verdict, want.Verdict}, {"stop", is.Stop, want.Stop},
		{"reason", is.Reason, want.Reason}, {"role", is.Role, want.Role}, {"person", is.Person, want.Person}, {"name", is.Name, want.Name},
	} {
		if m.is != m.want {
			return fmt.Sprintf("it was signed with %s %q, the record gives %q", m.what, m.is, m.want)
		}
	}
	return ""
}

// prove keeps what shows who gave the acceptance of an entry.
func (j *Job) prove(e chain.Entry, c Conceded, want chain.Acceptance) Proof {
	if j.proofs == nil {
		j.proofs = map[int]Proof{}
	}
	p := j.Prove(c.Signed, want)
	if t := c.Telephone; t != nil {
		called, err := time.Parse(time.RFC3339, t.Called)
		p.Telephone = fmt.Sprintf("%s called %s on %s, %s, and read back %q; %s listened", j.PersonName(e.By), j.PersonName(c.Engineer), t.Number, Stamp(called), t.Words, j.PersonName(t.Listened))
		if err == nil {
			err = j.MayTelephone(want, e.By, *t, called, e.At)
		}
		if err == nil && c.Signed != nil {
			err = errors.New("it is signed: what is signed is not given by telephone")
		}
		if err != nil {
			p.NotSo = err.Error()
		}
	}
	j.proofs[e.Seq] = p
	return p
}

// proved holds a concession to its signature, or to the call by telephone.
func (r *ruleBook) proved(e chain.Entry) {
	c, err := Decode[Conceded](e)
	if err != nil {
		return
	}
	switch proof := r.job.Proof(e.Seq); {
	case proof.Fault != "":
		r.found(e, "a concession by %.60q whose signature does not hold: %s", c.Engineer, proof.Fault)
	case proof.NotSo != "":
		r.found(e, "a concession by telephone that no command takes: %s", proof.NotSo)
	case proof.Demanded && proof.Key == "" && proof.Telephone == "":
		r.found(e, "a concession by %.60q that is not signed, and the plan allows none unsigned", c.Engineer)
	}
}
