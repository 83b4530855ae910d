package trust

import (
	"fmt"
	"slices"
	"strings"

	"golang.org/x/crypto/ssh"

	"handback/checks"
	"handback/records/chain"
	"handback/report"
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

// acceptances are those of a record, in order, as the record itself has them.
func acceptances(j *report.Job) []Acceptance {
	out := []Acceptance{}
	add := func(e chain.Entry, person, accepts, of, thing string, counts bool) {
		x := Acceptance{Entry: e.Seq, Accepts: accepts, Of: of, Person: person, Name: j.PersonName(person), thing: thing, counts: counts}
		if q := j.Plan.Person(person); q != nil {
			x.Role = q.Role
		}
		proof := j.Proof(e.Seq)
		x.Key, x.Doubt = proof.Key, proof.Doubt()
		x.Good = x.Doubt == ""
		x.Words = fmt.Sprintf("%s: accepted by %s", thing, x.Name)
		if x.Key == "" {
			x.Words += "; " + proof.Words()
		}
		out = append(out, x)
	}
	for _, e := range j.Entries {
		switch e.Kind {
		case report.EntryConcede:
			if c, err := report.Decode[report.Conceded](e); err == nil {
				accepts, of, thing, counts := conceded(j, e, c)
				add(e, c.Engineer, accepts, of, thing, counts)
			}
		case report.EntryFound: // an engineer's own word
			if f := foundAt(j, e.Seq); f != nil && f.Accepted != nil && f.Accepted.Seq == e.Seq {
				add(e, e.By, chain.AcceptsFound, f.Device, foundThing(f), true)
			}
		case report.EntryAccept:
			if d, err := report.Decode[report.AcceptedPlan](e); err == nil {
				add(e, e.By, chain.AcceptsPlan, j.Plan.ID, planThing(d.PlanHash), planBy(j, e.Seq))
			}
		case report.EntryAmend: // likewise
			if d, err := report.Decode[report.Amended](e); err == nil && planBy(j, e.Seq) {
				add(e, e.By, chain.AcceptsPlan, j.Plan.ID, planThing(d.PlanHash), true)
			}
		}
	}
	return out
}

// conceded tells what a concession accepts, and whether the record takes it for one.
func conceded(j *report.Job, e chain.Entry, c report.Conceded) (accepts, of, thing string, counts bool) {
	if c.Found > 0 {
		f := foundAt(j, c.Found)
		if f == nil {
			return chain.AcceptsFound, "", fmt.Sprintf("what entry %d found", c.Found), false
		}
		return chain.AcceptsFound, f.Device, foundThing(f), f.Accepted != nil && f.Accepted.Seq == e.Seq
	}
	for _, s := range slices.Concat(j.States, j.TakenOut) {
		for _, x := range s.Concessions {
			counts = counts || x.Seq == e.Seq && x.Void == ""
		}
	}
	if c.Skip > 0 {
		return chain.AcceptsSkipped, e.Check, fmt.Sprintf("%s, skipped (entry %d)", e.Check, c.Skip), counts
	}
	return chain.AcceptsFinding, e.Check, fmt.Sprintf("%s, attempt %d (%s)", e.Check, c.Attempt, c.Verdict), counts
}

func foundAt(j *report.Job, entry int) *report.Found {
	if i := slices.IndexFunc(j.Found, func(f report.Found) bool { return f.Seq == entry }); i >= 0 {
		return &j.Found[i]
	}
	return nil
}

func foundThing(f *report.Found) string {
	return fmt.Sprintf("%s, found otherwise (entry %d)", f.Device, f.Seq)
}

func planThing(hash string) string {
	return fmt.Sprintf("the plan as amended (SHA-256 %.12s…)", hash)
}

// planBy tells whether an entry accepted an amendment of the plan.
func planBy(j *report.Job, entry int) bool {
	return slices.ContainsFunc(j.Amendments, func(a *report.Amendment) bool { return a.Accepted != nil && a.Accepted.Seq == entry })
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
			out = append(out, foundThing(&f))
		}
	}
	for _, m := range j.Amendments {
		if m.Accepted == nil {
			out = append(out, planThing(m.PlanHash))
		}
	}
	return out
}
