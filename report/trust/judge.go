package trust

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"golang.org/x/crypto/ssh"

	"handback/records/chain"
	"handback/report"
)

// Record is what is held against a policy.
type Record struct {
	Job     *report.Job
	Checked []report.Checked // its signatures, by the keys that are trusted
	Signers chain.Signers    // those keys
	Now     time.Time        // of the clock here

	vouching []Vouched // times that are believed
}

// Vouched is a time by which the record up to an entry was there, as somebody else
// vouches for it.
type Vouched struct {
	Entry int
	At    time.Time
}

// Answer is what judging a record showed.
type Answer struct {
	Refused []string
	Notes   []string
	Shown   []string
	Faults  []string // time stamps of the record that are none
	Stamps  []Stamp  // its time stamps
	Missed  []string // what was signed by a key that nothing trusted tells of

	Unknown map[int]bool // by the entry of a signature or an acceptance: nothing tells whose key it was

	Acceptances []Acceptance   // of the record
	Roles       map[int]bool   // by the entry of a signature: its role is one that the list of keys gives
	Doubts      map[int]string // by the entry of a signature: why it counts for nothing here
}

func (a *Answer) refuse(format string, args ...any) {
	a.Refused = append(a.Refused, fmt.Sprintf(format, args...))
}

func (a *Answer) note(format string, args ...any) {
	a.Notes = append(a.Notes, fmt.Sprintf(format, args...))
}

func (a *Answer) show(format string, args ...any) {
	a.Shown = append(a.Shown, fmt.Sprintf(format, args...))
}

// Judge holds a record against the policy. That nobody signed it is always said.
func (p Policy) Judge(r Record) Answer {
	a := Answer{Roles: map[int]bool{}, Doubts: map[int]string{}, Unknown: map[int]bool{}, Stamps: []Stamp{}}
	p.stamps(&a, &r)
	if len(r.Checked) == 0 {
		a.note("no signature: nobody signed this record")
	}
	for _, c := range r.Checked {
		p.signature(&a, r, c)
	}
	if o := r.Job.Overall(r.Job.Head().At); !o.Ready && slices.Contains(p.Require, RequireReady) {
		a.refuse("%s", o.Words)
	} else if !o.Ready {
		a.note("%s", o.Words) // a signature may cover that, too
	}
	a.Acceptances = acceptances(r.Job)
	for i := range a.Acceptances {
		p.accepted(&a, r, &a.Acceptances[i])
	}
	for _, what := range p.Require {
		switch what {
		case RequireReady:
		case RequireAcceptances:
			p.allAccepted(&a, r)
		default:
			p.required(&a, r, what)
		}
	}
	for _, f := range r.Job.Forks() {
		if len(p.Require) > 0 {
			a.refuse("what is signed is not all of the job: it %s", r.Job.ForkWords(f))
		}
	}
	p.known(&a, r.Job.Entries)
	p.clock(&a, r, r.Job.Entries)
	return a
}

// JudgeLeft holds what is left of a record against the policy, from which something was
// removed since: its entries in their order, of those that are gone number and hash alone.
// What hangs on judging the record nobody can tell of it, so whoever asks for that does not
// get it.
func (p Policy) JudgeLeft(left []chain.Entry, now time.Time) Answer {
	var a Answer
	for _, what := range p.Require {
		if what != RequireReady && what != RequireAcceptances {
			what = "a signature as " + what
		}
		a.refuse("%s: nobody can tell that of what is left, for something was removed from the record", what)
	}
	if len(left) > 0 {
		p.known(&a, left)
		p.clock(&a, Record{Now: now}, left)
	}
	return a
}

// signature looks at what the list of keys alone does not tell of one: the role it was
// given in, and whether the key is revoked.
func (p Policy) signature(a *Answer, r Record, c report.Checked) {
	key, err := chain.CheckSignature([]byte(c.Text), c.Armoured)
	if err != nil || c.Unread != "" {
		return // its faults are told already
	}
	st := c.Statement
	who := c.Who()
	if why := p.revoked(r, c.Seq, st.At, key); why != "" {
		a.Doubts[c.Seq] = why
		a.refuse("%s%s", who, why)
	}
	if c.Unlisted != "" {
		p.unlisted(a, r, c.Seq, who, key, c.Unlisted)
		a.Unknown[c.Seq] = a.Unknown[c.Seq] && len(c.Faults) == 0
	}
	if !p.Bound || c.Doubt() != "" {
		return
	}
	if bound, err := r.Signers.AllowRole(st.Person, key, st.Role); err == nil && bound {
		a.Roles[c.Seq] = true
	} else if err == nil {
		a.note("%sthe role is the plan's word alone: no line of the trusted list has the namespace %s for this key", who, chain.RoleNamespace(st.Role))
	}
	if at, ok := r.vouched(c.Seq); ok {
		a.note("%sit was there on %s, as the stamp of an authority tells; its own clock said %s", who, report.Stamp(at), report.Stamp(st.At))
	} else if r.Signers.Timed(st.Person, key) {
		a.note("%sthat its key was valid then is by the signer's own clock (%s)", who, report.Stamp(st.At))
	}
}

// revoked says why a key counts for nothing in what an entry holds, signed at a time by its
// own clock. A key lost at some time signs what its finder likes, with the time they like:
// only a time that somebody else vouches for shows that a signature is older.
func (p Policy) revoked(r Record, entry int, own time.Time, key ssh.PublicKey) string {
	print := chain.Fingerprint(key)
	if p.Lost.Holds(key) {
		return fmt.Sprintf("key %s is revoked", print)
	}
	for _, k := range p.Revoked {
		if k.Key != print {
			continue
		}
		why := fmt.Sprintf("key %s is revoked", print)
		if k.Why != "" {
			why += " (" + report.OneLine(k.Why) + ")"
		}
		if k.From.IsZero() {
			return why
		}
		why += " from " + report.Stamp(k.From) + " on"
		switch at, ok := r.vouched(entry); {
		case ok && at.Before(k.From):
			continue
		case own.Before(k.From):
			return why + ", and only its own clock says that the signature is older: no stamp of an authority does"
		}
		return why
	}
	return ""
}

// vouched is the earliest time that somebody vouches for an entry to have been there.
func (r Record) vouched(entry int) (at time.Time, ok bool) {
	for _, v := range r.vouching {
		if v.Entry >= entry && (!ok || v.At.Before(at)) {
			at, ok = v.At, true
		}
	}
	return at, ok
}

// required looks for a signature in a role that covers the record as it stands.
func (p Policy) required(a *Answer, r Record, role string) {
	var why []string
	for _, c := range slices.Backward(r.Checked) {
		if c.Statement.Role != role {
			continue
		}
		at := fmt.Sprintf("entry %d, ", c.Seq)
		after := r.Job.After(c.Signature)
		if role == "technician" { // their word is for what they recorded
			after = r.Job.AfterBy(c.Signature)
		}
		switch {
		case c.Doubt() != "":
			why = append(why, at+"not good: "+c.Doubt())
		case c.Untold != "" || !p.Bound:
			why = append(why, at+"by a key that no list you trust tells of")
		case a.Doubts[c.Seq] != "":
			why = append(why, at+a.Doubts[c.Seq])
		case !a.Roles[c.Seq]:
			why = append(why, at+"by "+c.Statement.Person+", whom the plan alone makes "+role+": the trusted list gives their key no namespace "+chain.RoleNamespace(role))
		case after > 0:
			why = append(why, at+report.Count(after, "entry", "entries")+" came after it")
		default:
			if _, ok := r.vouched(c.Seq); !ok && slices.Contains(p.Must, MustStamp) {
				why = append(why, at+"no stamp of an authority that you trust vouches for its time")
				continue
			}
			a.show("signed as %s by %s, entry %d, by a key that the trusted list gives that role", role, c.Statement.Name, c.Seq)
			return
		}
	}
	if len(why) == 0 {
		why = append(why, "nobody signed as "+role)
	}
	a.refuse("no signature as %s that counts: %s", role, strings.Join(why, "; "))
}

// known holds the record against what a copy from elsewhere tells of it.
func (p Policy) known(a *Answer, entries []chain.Entry) {
	told := map[string]bool{}
	for _, k := range p.Known {
		if !k.of(entries[0]) {
			continue
		}
		told[MustHead], told[MustEntries] = told[MustHead] || k.Head != "", told[MustEntries] || k.Entries > 0
		at := k.Entries
		if k.Head != "" {
			at = 1 + slices.IndexFunc(entries, func(e chain.Entry) bool { return e.Hash == k.Head })
		}
		switch n := len(entries); {
		case k.Head != "" && at == 0:
			a.refuse("no entry of the record has the head hash %s: it was cut short, or is another one", k.Head)
		case k.Head != "" && k.Entries > 0 && at != k.Entries:
			a.refuse("the head hash %s is that of entry %d, not of entry %d", k.Head, at, k.Entries)
		case at > n:
			a.refuse("the record has %s, %d are wanted: it was cut short, or is another one", report.Count(n, "entry", "entries"), at)
		default:
			what := "number of entries"
			if k.Head != "" {
				what = "head hash"
			}
			a.show("it holds the %s with the %s that was known from elsewhere", report.Count(at, "entry", "entries"), what)
			if n > at {
				a.note("it has gone on since: %s came after what was known from elsewhere", report.Count(n-at, "entry", "entries"))
			}
		}
	}
	for _, m := range []string{MustHead, MustEntries} {
		if slices.Contains(p.Must, m) && !told[m] {
			a.refuse("the policy wants %s of each record to be known from elsewhere: nothing tells that of %s", m, entries[0].Job)
		}
	}
}

// clock looks for entries from a time that had not come, by the clock here or by the
// time that somebody vouches for.
func (p Policy) clock(a *Answer, r Record, entries []chain.Entry) {
	ahead := cmp.Or(p.Ahead, report.ClockSlack)
	var late, against []chain.Entry
	for _, e := range entries {
		if e.At.After(r.Now.Add(ahead)) {
			late = append(late, e)
		}
		if at, ok := r.vouched(e.Seq); ok && e.At.After(at.Add(ahead)) {
			against = append(against, e)
		}
	}
	if len(late) > 0 {
		words := fmt.Sprintf("entry %d is of %s, which has not come (it is %s here)", late[0].Seq, report.Stamp(late[0].At), report.Stamp(r.Now))
		if len(late) > 1 {
			words += fmt.Sprintf(", and %s after it", report.Count(len(late)-1, "entry", "entries"))
		}
		if p.asks() {
			a.refuse("%s", words)
		} else {
			a.note("%s: its clock or the one here is wrong", words)
		}
	}
	if len(against) > 0 {
		at, _ := r.vouched(against[0].Seq)
		a.refuse("entry %d says %s, but was there on %s as the stamp of an authority tells: its clock was wrong", against[0].Seq, report.Stamp(against[0].At), report.Stamp(at))
	}
}

// asks tells whether anything is asked.
func (p Policy) asks() bool {
	return len(p.Require) > 0 || len(p.Must) > 0 || len(p.Known) > 0 || p.Ahead > 0 || len(p.Revoked) > 0
}
