package trust

import (
	"fmt"
	"slices"
	"strings"

	"golang.org/x/crypto/ssh"

	"handback/checks"
	"handback/records/chain"
	"handback/report"
	"handback/report/accepted"
)

// Acceptance is an acceptance that a record keeps, held against the keys that are trusted.
type Acceptance struct {
	Entry   int    `json:"entry"`
	Accepts string `json:"accepts"` // finding, skipped, found or plan
	Of      string `json:"of"`      // id of the check, the device or the plan
	Person  string `json:"person"`
	Name    string `json:"name"`
	Role    string `json:"role"` // by the plan in force
	Key     string `json:"key"`  // fingerprint, "" when nobody signed it
	Good    bool   `json:"good"`

	RoleTrusted bool `json:"role_trusted"` // the trusted list gives the key this role

	Doubt string `json:"doubt,omitempty"` // why it is not shown who gave it
	Words string `json:"words"`

	thing  string // what is accepted: of several acceptances of it one must count
	counts bool   // the record takes it for one
}

// acceptances are those of a record, as the record itself has them.
func acceptances(j *report.Job) []Acceptance {
	out := []Acceptance{}
	for _, is := range accepted.All(j) {
		x := Acceptance{Entry: is.Entry, Accepts: is.Accepts, Of: is.Of, Person: is.Person, Name: j.PersonName(is.Person), Role: is.Role,
			Key: is.Proof.Key, Doubt: is.Proof.Doubt(), thing: is.Thing, counts: is.Counts}
		x.Good = x.Doubt == ""
		x.Words = fmt.Sprintf("%s: accepted by %s", is.Thing, x.Name)
		if x.Key == "" {
			x.Words += "; " + is.Proof.Words()
		}
		out = append(out, x)
	}
	return out
}

// accepted holds an acceptance against the list of keys that is trusted, and those that
// are revoked. One that the record takes for none is not made one by a list.
func (p Policy) accepted(a *Answer, r Record, x *Acceptance) {
	proof := r.Job.Proof(x.Entry)
	if proof.Key == "" || proof.Fault != "" {
		return // said with it, or told as a fault already
	}
	key, _, err := chain.ParseKey(proof.Public)
	if err != nil {
		return
	}
	who := fmt.Sprintf("entry %d, acceptance of %s by %s: ", x.Entry, x.Of, x.Person)
	if why := p.revoked(r, x.Entry, proof.At, key); why != "" {
		x.Good, x.Doubt = false, why
		a.refuse("%s%s", who, why)
		return
	}
	if !p.Bound {
		if proof.Unlisted != "" {
			p.unlisted(a, r, x.Entry, who, key, proof.Unlisted)
		}
		return
	}
	err = r.Signers.AllowIn(chain.AcceptanceNamespace, x.Person, key, proof.At)
	if err == nil {
		x.RoleTrusted, err = r.Signers.AllowRole(x.Person, key, x.Role)
	}
	switch {
	case err != nil:
		x.Good, x.Doubt = false, err.Error()
		p.unlisted(a, r, x.Entry, who, key, err.Error())
	case !x.counts && proof.Unlisted != "":
		p.unlistedInPlan(a, who, proof.Unlisted)
	case !x.RoleTrusted:
		a.note("%sthe role is the plan's word alone: no line of the trusted list has the namespace %s for this key", who, chain.RoleNamespace(x.Role))
	}
}

// unlisted says of what was signed that its key is not that person's by what is trusted. A
// key that the list does not know at all shows nothing; one that it knows as another's, for
// another role or another time is against it.
func (p Policy) unlisted(a *Answer, r Record, entry int, who string, key ssh.PublicKey, why string) {
	if p.Bound && r.Signers.Knows(key) {
		a.refuse("%s%s, by the list that you trust", who, why)
		return
	}
	a.Unknown[entry] = true
	switch {
	case !p.Bound:
		p.unlistedInPlan(a, who, why)
	case len(p.Require) > 0: // whoever had to sign is asked for one by one
		a.note("%sby a key not known: %s in the list that you trust", who, why)
	default:
		a.Missed = append(a.Missed, who+"by a key not known: "+why+" in the list that you trust")
	}
}

// unlistedInPlan says it of a key that the plan does not list: the record is as whole as it was.
func (p Policy) unlistedInPlan(a *Answer, who, why string) {
	more := ""
	if !p.Bound {
		more = "; a list you trust is given with --allowed-signers FILE"
	}
	a.note("%sby a key not known: %s in the plan%s", who, why, more)
}

// allAccepted demands that whatever had to be accepted was, by keys that the trusted list
// gives that role.
func (p Policy) allAccepted(a *Answer, r Record) {
	good, why := map[string]bool{}, map[string][]string{}
	var things []string
	for _, x := range a.Acceptances {
		if !x.counts {
			continue
		}
		if !slices.Contains(things, x.thing) {
			things = append(things, x.thing)
		}
		switch at := fmt.Sprintf("entry %d, ", x.Entry); {
		case !p.Bound && x.Good:
			why[x.thing] = append(why[x.thing], at+"by a key that no list you trust tells of")
		case x.Doubt != "":
			why[x.thing] = append(why[x.thing], at+x.Doubt)
		case !x.RoleTrusted:
			why[x.thing] = append(why[x.thing], at+"by "+x.Person+", whom the plan alone makes "+x.Role+": the trusted list gives their key no namespace "+chain.RoleNamespace(x.Role))
		default:
			good[x.thing] = true
		}
	}
	all := true
	for _, t := range things {
		if !good[t] {
			all = false
			a.refuse("no acceptance of %s that counts: %s", t, strings.Join(why[t], "; "))
		}
	}
	for _, what := range unaccepted(r.Job) {
		all = false
		a.refuse("nobody accepted %s", what)
	}
	switch {
	case all && len(things) > 0:
		a.show("%s signed by keys that the trusted list gives that role, and nothing else had to be accepted", report.Count(len(things), "acceptance is", "acceptances are"))
	case all:
		a.show("nothing had to be accepted")
	}
}

// unaccepted is what an engineer would have to accept, and nobody has.
func unaccepted(j *report.Job) []string {
	var out []string
	for _, s := range j.States {
		switch last := s.LastJudged(); {
		case s.Skip != nil && !s.AcceptedSkip():
			out = append(out, fmt.Sprintf("%s, skipped (entry %d)", s.Check.ID, s.Skip.Seq))
		case s.Skip == nil && last != nil && last.Finding.Verdict != checks.Pass && !s.IsConceded():
			out = append(out, fmt.Sprintf("%s, attempt %d (%s)", s.Check.ID, last.Number, last.Finding.Verdict))
		}
	}
	for _, f := range j.Found {
		if f.Accepted == nil {
			out = append(out, accepted.Found(f))
		}
	}
	for _, m := range j.Amendments {
		if m.Accepted == nil {
			out = append(out, accepted.Plan(m.PlanHash))
		}
	}
	return out
}
