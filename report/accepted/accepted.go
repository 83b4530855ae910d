// Package accepted lists what was accepted in a job: every acceptance, with what it is of,
// who gave it and what shows that.
package accepted

import (
	"fmt"
	"slices"

	"handback/records/chain"
	"handback/report"
)

// Acceptance is one entry that accepts something.
type Acceptance struct {
	Entry   int
	Accepts string // finding, skipped, found or plan
	Of      string // id of the check, the device or the plan
	Attempt int    // of a finding
	Thing   string // what is accepted, in words: several acceptances may be of one thing
	Person  string // id of who gave it
	Role    string // by the plan in force
	Reason  string
	Counts  bool // the record takes it for an acceptance

	Signed    *report.Signed     // nil when nobody signed it
	Telephone *report.Telephoned // how it was given by telephone, nil when it was not
	Proof     report.Proof
}

// All are the acceptances of a job, in order. An engineer's own word is one where nothing
// has to be signed: what they found, or changed in the plan.
func All(j *report.Job) []Acceptance {
	var out []Acceptance
	for _, e := range j.Entries {
		var x Acceptance
		switch e.Kind {
		case report.EntryConcede:
			c, err := report.Decode[report.Conceded](e)
			if err != nil {
				continue
			}
			x = conceded(j, e, c)
		case report.EntryFound:
			f := foundAt(j, e.Seq)
			if f == nil || f.Accepted == nil || f.Accepted.Seq != e.Seq {
				continue
			}
			x = Acceptance{Accepts: chain.AcceptsFound, Of: f.Device, Thing: Found(*f), Person: e.By, Reason: f.Why, Counts: true}
		case report.EntryAccept:
			d, err := report.Decode[report.AcceptedPlan](e)
			if err != nil {
				continue
			}
			x = Acceptance{Accepts: chain.AcceptsPlan, Of: j.Plan.ID, Thing: Plan(d.PlanHash), Person: e.By, Reason: d.Reason, Signed: d.Signed, Counts: acceptedPlan(j, e.Seq)}
		case report.EntryAmend:
			d, err := report.Decode[report.Amended](e)
			if err != nil || !acceptedPlan(j, e.Seq) {
				continue
			}
			x = Acceptance{Accepts: chain.AcceptsPlan, Of: j.Plan.ID, Thing: Plan(d.PlanHash), Person: e.By, Reason: d.Why, Counts: true}
		default:
			continue
		}
		x.Entry, x.Proof = e.Seq, j.Proof(e.Seq)
		if q := j.Plan.Person(x.Person); q != nil {
			x.Role = q.Role
		}
		out = append(out, x)
	}
	return out
}

// conceded is the acceptance of a finding, of what was left out, or of what was found.
func conceded(j *report.Job, e chain.Entry, c report.Conceded) Acceptance {
	x := Acceptance{Accepts: chain.AcceptsFinding, Of: e.Check, Attempt: c.Attempt, Person: c.Engineer, Reason: c.Reason, Signed: c.Signed, Telephone: c.Telephone}
	for _, s := range slices.Concat(j.States, j.TakenOut) {
		for _, is := range s.Concessions {
			x.Counts = x.Counts || is.Seq == e.Seq && is.Void == ""
		}
	}
	switch {
	case c.Found > 0:
		x.Accepts, x.Thing = chain.AcceptsFound, fmt.Sprintf("what entry %d found", c.Found)
		if f := foundAt(j, c.Found); f != nil {
			x.Of, x.Thing, x.Counts = f.Device, Found(*f), f.Accepted != nil && f.Accepted.Seq == e.Seq
		}
	case c.Skip > 0:
		x.Accepts, x.Thing = chain.AcceptsSkipped, fmt.Sprintf("%s, skipped (entry %d)", e.Check, c.Skip)
	default:
		x.Thing = fmt.Sprintf("%s, attempt %d (%s)", e.Check, c.Attempt, c.Verdict)
	}
	return x
}

func foundAt(j *report.Job, entry int) *report.Found {
	if i := slices.IndexFunc(j.Found, func(f report.Found) bool { return f.Seq == entry }); i >= 0 {
		return &j.Found[i]
	}
	return nil
}

// Found is how a device that was found otherwise is called, as a thing to accept.
func Found(f report.Found) string {
	return fmt.Sprintf("%s, found otherwise (entry %d)", f.Device, f.Seq)
}

// Plan is likewise how a version of the plan is called, by its hash.
func Plan(hash string) string { return fmt.Sprintf("the plan as amended (SHA-256 %.12s…)", hash) }

// acceptedPlan tells whether an entry accepted an amendment of the plan.
func acceptedPlan(j *report.Job, entry int) bool {
	return slices.ContainsFunc(j.Amendments, func(a *report.Amendment) bool { return a.Accepted != nil && a.Accepted.Seq == entry })
}
