package report

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"golang.org/x/crypto/ssh"

	"handback/checks"
	"handback/checks/plan"
	"handback/records/chain"
)

// Signature is a person's signature of the job up to an entry.
type Signature struct {
	Seq       int // entry that holds it
	At        time.Time
	By        string
	Text      string          // the exact bytes that were signed
	Armoured  string          // the SSHSIG
	Statement chain.Statement // what Text says
	Unread    string          // why Text cannot be read; then Statement is empty
	Kept      []Attachment    // the documents that were signed with it, kept right before it
}

func newSignature(e chain.Entry, s Signed) Signature {
	out := Signature{Seq: e.Seq, At: e.At, By: e.By, Text: s.Statement, Armoured: s.Signature}
	st, err := chain.ParseStatement([]byte(s.Statement))
	if err != nil {
		out.Unread = err.Error() // verify says so; the rest of the job is as good as it was
	}
	out.Statement = st
	return out
}

// Covers is how many entries there were when it was signed: those before the documents
// that are kept with it.
func (s Signature) Covers() int { return s.Seq - 1 - len(s.Kept) }

// documentsBefore are the documents of a signature that stand right before an entry.
func (j *Job) documentsBefore(seq int) []Attachment {
	first := len(j.Attachments)
	for first > 0 && j.Attachments[first-1].Document != "" && j.Attachments[first-1].Seq == seq-1 {
		first, seq = first-1, seq-1
	}
	return j.Attachments[first:len(j.Attachments):len(j.Attachments)]
}

// KeptWords name the entries that keep what was signed, "" for none.
func (s Signature) KeptWords() string {
	var at []string
	for _, a := range s.Kept {
		at = append(at, a.Document+" in entry "+strconv.Itoa(a.Seq))
	}
	if len(at) == 0 {
		return ""
	}
	return "signed with " + strings.Join(at, ", ")
}

// After counts the entries after a signature, other signatures, their documents and time
// stamps left out: nobody who signed there has seen them.
func (j *Job) After(s Signature) int { return j.after(s, "") }

// AfterBy counts those that its own signer made.
func (j *Job) AfterBy(s Signature) int { return j.after(s, s.By) }

// after counts the entries of a person after a signature, of anybody for "".
func (j *Job) after(s Signature, by string) int {
	n := 0
	for _, e := range j.Entries {
		if e.Seq > s.Seq && e.Kind != EntrySign && (by == "" || e.By == by) {
			n++
		}
	}
	for _, a := range j.Attachments {
		if a.Seq > s.Seq && a.Beside() && (by == "" || a.By == by) {
			n--
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
	return fmt.Sprintf("signed by %s as %s, %s: covers entries 1–%d", s.Statement.Name, s.Statement.Role, Stamp(s.Statement.At), s.Statement.Entries)
}

// StandingStops are the stops that stand now, in plan order.
func (j *Job) StandingStops() []chain.Stop {
	out := []chain.Stop{}
	for _, s := range j.States {
		if a := s.LastJudged(); a != nil && a.Told.Stop != nil {
			out = append(out, chain.Stop{Check: s.Check.ID, Attempt: a.Number, Code: a.Told.Stop.Code, Text: OneLine(a.Told.Stopping())})
		}
	}
	return out
}

// OneLine takes out line ends and what stands twice of blanks.
func OneLine(s string) string { return strings.Join(strings.Fields(s), " ") }

// MaySign says why a person cannot sign in a role as the job stands, nil when they can:
//
//   - the role is theirs in the plan;
//   - who recorded readings signs as engineer or owner only where the plan says so;
//   - while a stop stands an engineer or owner signs only what names it;
//   - an owner signs after an engineer, and nothing came in between.
func (j *Job) MaySign(person *plan.Person, role string, namesStops bool) error {
	if !slices.Contains(chain.Roles, role) {
		return fmt.Errorf("role %.40q does not sign: accepted are %s", role, strings.Join(chain.Roles, ", "))
	}
	if person.Role != role {
		return fmt.Errorf("%s is %s in the plan, and signs as nothing else", person.Name, person.Role)
	}
	if role == "technician" {
		return nil
	}
	if q := j.Decided().Person(person.ID); q == nil || q.Role != role {
		return fmt.Errorf("%s is %s only by an amendment of the plan that nobody has accepted", person.Name, role)
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
	for _, e := range j.Counted() {
		if (e.By == person || sameName(j.PersonName(e.By), j.PersonName(person))) && (e.Kind == EntryRead || e.Kind == EntryCorrect) {
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

// PlanSigners are the keys that the plan lists for its people, good for statements and acceptances alone.
func PlanSigners(p *plan.Plan) (chain.Signers, error) {
	var out chain.Signers
	for _, q := range p.People {
		for _, line := range q.Keys {
			key, _, err := chain.ParseKey(line)
			if err != nil {
				return nil, fmt.Errorf("plan: key of %s: %w", q.ID, err)
			}
			out = append(out, chain.Signer{People: q.ID, Namespaces: chain.StatementNamespace + "," + chain.AcceptanceNamespace, Key: key})
		}
	}
	return out, nil
}

// Signers are the keys of the job's people: those of the plan as it was decided last, and
// those of its versions before, up to the time from which they are revoked or were taken out.
func (j *Job) Signers() (chain.Signers, error) {
	last := j.Decided()
	out, err := PlanSigners(last)
	if err != nil {
		return nil, err
	}
	known := func(s chain.Signer) bool {
		return slices.ContainsFunc(out, func(o chain.Signer) bool { return o.People == s.People && chain.KeyLine(o.Key) == chain.KeyLine(s.Key) })
	}
	versions := j.versions()
	for i, p := range versions {
		if p == last {
			break
		}
		earlier, err := PlanSigners(p)
		if err != nil {
			return nil, err
		}
		for _, s := range earlier {
			if known(s) {
				continue
			}
			s.Before = j.Amendments[i].At
			if r := revoked(last, s.People, chain.KeyLine(s.Key)); r != nil {
				s.Before = r.From.Add(-time.Second) // the bound is inclusive
			}
			out = append(out, s)
		}
	}
	return out, nil
}

// revoked finds what a plan says of a person's key that is trusted no more, nil when it
// says nothing.
func revoked(p *plan.Plan, person, line string) *plan.Revoked {
	q := p.Person(person)
	if q == nil {
		return nil
	}
	for i, r := range q.Revoked {
		if k, _, err := chain.ParseKey(r.Key); err == nil && chain.KeyLine(k) == line {
			return &q.Revoked[i]
		}
	}
	return nil
}

// trusts says why the plan does not tell that a key was a person's when they signed, nil
// when it does: it was listed when the signature was recorded, and is not revoked since for
// the time of it.
func (j *Job) trusts(then *plan.Plan, namespace, person string, key ssh.PublicKey, at time.Time) error {
	if why := lost(j.Decided(), person, chain.Fingerprint(key), chain.KeyLine(key), at); why != "" {
		return fmt.Errorf("%s", why)
	}
	trust, err := PlanSigners(then)
	if err != nil {
		return err
	}
	return trust.AllowIn(namespace, person, key, at)
}

// revoke takes the acceptances back that were signed with keys since they are revoked.
func (j *Job) revoke() {
	for seq, p := range j.proofs {
		if why := lost(j.Decided(), p.Person, p.Key, p.Public, p.At); why != "" {
			p.Unlisted = why
			j.proofs[seq] = p
		}
	}
	for _, s := range j.all() {
		for _, c := range s.Concessions {
			if why := j.proofs[c.Seq].Void(); c.Void == "" {
				c.Void = why
			}
		}
	}
	for i := range j.Found {
		if a := j.Found[i].Accepted; a != nil && j.proofs[a.Seq].Void() != "" {
			j.Found[i].Accepted = nil
		}
	}
}

// NewStatement is what a person of the plan would sign about the job as it stands at
// its last entry, but for the documents that show it. The time is kept to the second.
func (j *Job) NewStatement(person *plan.Person, role string, at time.Time) (chain.Statement, error) {
	data, err := j.HandoverData(j.Head().At)
	if err != nil {
		return chain.Statement{}, err
	}
	head := j.Head()
	return chain.Statement{V: 1, Job: j.ID, Entries: head.Seq, Head: head.Hash, PlanHash: j.PlanHash, Role: role, Person: person.ID,
		Name: OneLine(person.Name), At: at.Truncate(time.Second), Verdict: j.Overall(head.At).Code, Stops: j.StandingStops(), Handover: chain.HashFile(data)}, nil
}

// StatementWords are what a statement of the job says, in lines for its signer.
func (j *Job) StatementWords(s chain.Statement) []string {
	out := []string{
		fmt.Sprintf("I, %s, %s of job %s, sign its record as it stands at entry %d.", s.Name, s.Role, s.Job, s.Entries),
		"verdict: " + s.Verdict + " (" + j.Overall(j.Head().At).Words + ")",
		"stops that stand: " + stopWords(s.Stops),
		"signed: " + Stamp(s.At),
		"head hash of entry " + strconv.Itoa(s.Entries) + ": " + s.Head,
		"plan, SHA-256: " + s.PlanHash,
		"handover data, SHA-256: " + s.Handover,
		"workbook that shows it, SHA-256: " + s.Workbook,
		"page that shows it, SHA-256: " + s.Page,
	}
	switch s.Role {
	case "technician":
		return append(out, "As technician I say that the readings recorded in my name are those I took.")
	case "engineer":
		return append(out, "As engineer I say that I have looked at the findings, the flags and the concessions.")
	}
	return append(out, "As owner I say that I have received this record.")
}

// stopWords tell stops to a signer.
func stopWords(stops []chain.Stop) string {
	var out []string
	for _, s := range stops {
		out = append(out, fmt.Sprintf("%s, attempt %d: %s", s.Check, s.Attempt, s.Text))
	}
	if len(out) == 0 {
		return "none"
	}
	return strings.Join(out, "; ")
}

// NewAcceptance is what an engineer would sign who accepts a check as it stands, its
// finding or that it was left out, or a device found otherwise; and the entry that
// records it. The time is for the signer to set.
//
// Errors: why they cannot.
func (j *Job) NewAcceptance(of, engineer, reason string) (chain.Acceptance, Conceded, error) {
	c := Conceded{Engineer: engineer, Verdict: checks.Missing, Reason: reason}
	s := j.State(of)
	if s == nil {
		entry, err := j.MayAcceptFound(of, engineer, reason)
		c.Found = entry
		return j.accepting(nil, c), c, err
	}
	if err := j.MayAccept(s, engineer, reason); err != nil {
		return chain.Acceptance{}, c, err
	}
	if s.Skip != nil {
		c.Skip = s.Skip.Seq
	} else {
		a := s.LastJudged()
		c.Attempt, c.Verdict, c.Stop = a.Number, a.Finding.Verdict, a.Finding.Stop.Code
	}
	return j.accepting(s, c), c, nil
}

// accepting is what stands to be signed for a concession; s is nil for that of a device.
func (j *Job) accepting(s *State, c Conceded) chain.Acceptance {
	a := chain.Acceptance{V: 1, Job: j.ID, PlanHash: j.Force(), Verdict: c.Verdict.String(), Stop: c.Stop, Reason: OneLine(c.Reason), Person: c.Engineer}
	switch {
	case c.Found > 0:
		a.Accepts, a.Entry = chain.AcceptsFound, c.Found
		for _, f := range j.Found {
			if f.Seq == c.Found {
				a.Of = f.Device
				a.Text, _ = j.foundWords(f)
			}
		}
	case c.Skip > 0:
		a.Accepts, a.Entry, a.Of, a.Text = chain.AcceptsSkipped, c.Skip, s.Check.ID, "skipped: "+s.Skip.Why
	case s != nil:
		is := s.Attempts[c.Attempt-1]
		a.Accepts, a.Entry, a.Of, a.Attempt, a.Text = chain.AcceptsFinding, is.Seq, s.Check.ID, c.Attempt, is.Told.Why()
	}
	a.Text = cmp.Or(OneLine(a.Text), a.Verdict)
	if a.Entry > 0 && a.Entry <= len(j.Entries) {
		a.Hash = j.Entries[a.Entry-1].Hash
	}
	if q := j.Decided().Person(c.Engineer); q != nil {
		a.Role, a.Name = q.Role, OneLine(q.Name)
	}
	return a
}

// AcceptanceWords are what an acceptance says, in lines for its signer.
func AcceptanceWords(a chain.Acceptance) []string {
	out := []string{
		fmt.Sprintf("I, %s, %s of job %s, accept entry %d of its record: %s.", a.Name, a.Role, a.Job, a.Entry, a.Of),
		"accepted: " + a.Text,
		"reason: " + a.Reason,
		"signed: " + Stamp(a.At),
		"hash of entry " + strconv.Itoa(a.Entry) + ": " + a.Hash,
		"plan in force, SHA-256: " + a.PlanHash,
	}
	if a.Stop != "" {
		out = append(out, "THE STOP STANDS: no acceptance lifts it.")
	}
	return out
}

// AcceptingPlan is what a person would sign who accepts the plan as it was amended.
func (j *Job) AcceptingPlan(by, reason string) chain.Acceptance {
	a := chain.Acceptance{V: 1, Job: j.ID, PlanHash: j.Force(), Accepts: chain.AcceptsPlan, Of: j.Plan.ID, Reason: OneLine(reason), Person: by}
	if n := len(j.Amendments); n > 0 {
		newest := j.Amendments[n-1]
		a.Entry, a.Hash = newest.Seq, j.Entries[newest.Seq-1].Hash
		a.Text = CutRunes(OneLine(strings.Join(DiffersWords(plan.Differences(j.Decided(), j.Plan)), "; ")), 2000)
	}
	a.Text = cmp.Or(a.Text, "the plan as it was amended")
	if q := j.Decided().Person(by); q != nil {
		a.Role, a.Name = q.Role, OneLine(q.Name)
	}
	return a
}
