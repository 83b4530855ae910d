package rig

import (
	"time"

	"handback/records"
	"handback/records/chain"
	"handback/report"
	"handback/report/fork"
)

// Elsewhere lets somebody else go on with the job behind an entry, a second apart from now
// on, and takes what they made into the book. Data may be a function of what they made
// before.
func (r *Rig) Elsewhere(after int, drafts ...chain.Draft) []chain.Entry {
	r.Helper()
	e := r.Job().Entries[after-1]
	var out []chain.Entry
	for i, d := range drafts {
		if made, ok := d.Data.(func([]chain.Entry) any); ok {
			d.Data = made(out)
		}
		d.At, d.By = r.Now.Add(time.Duration(i+1)*time.Second), r.By
		var err error
		if e, err = chain.Seal(e, d); err != nil {
			r.Fatal(err)
		}
		out = append(out, e)
	}
	p := records.Parcel{Entries: out, Files: func(string) ([]byte, error) { return nil, records.ErrNoFile }}
	if err := r.Book.Take(Ctx, p); err != nil {
		r.Fatal(err)
	}
	return out
}

// Note is words to be recorded.
func Note(text string) chain.Draft {
	return chain.Draft{Kind: report.EntryNote, Data: report.Noted{Text: text}}
}

// engineer is the first engineer of the plan.
func (r *Rig) engineer() string {
	for _, p := range r.Plan.People {
		if p.Role == "engineer" {
			return p.ID
		}
	}
	return ""
}

// Adopts adopts an entry of another continuation, by the plan's engineer.
func (r *Rig) Adopts(e chain.Entry, number int) {
	r.Helper()
	r.putBy(r.engineer(), report.EntryAdopt, e.Check, fork.Adopted{Hash: e.Hash, Entry: string(e.Body), Number: number, Why: "as agreed"})
}

// Joins joins what parts behind an entry; adopted are the entries here that adopt those
// there, 0 for what is left.
func (r *Rig) Joins(by string, after int, there []chain.Entry, adopted ...int) {
	r.Helper()
	j := fork.Joined{After: after, Entries: []fork.Decision{}}
	for i, e := range there {
		d := fork.Decision{Entry: e.Seq, Hash: e.Hash}
		if i < len(adopted) {
			d.Adopted = adopted[i]
		}
		if d.Adopted == 0 {
			d.Why = "not wanted"
		}
		j.Head, j.Entries = e.Hash, append(j.Entries, d)
	}
	j.Lost = fork.LostOf(there, j.Entries)
	r.putBy(by, report.EntryJoin, "", j)
}

// parted is a job that somebody else went on with: what they made is in the book, and this
// side has an entry of its own.
func (r *Rig) parted(drafts ...chain.Draft) {
	r.Helper()
	after := len(r.Job().Entries)
	r.Put(report.EntryNote, "", report.Noted{Text: "on this side"})
	r.Elsewhere(after, drafts...)
}

// there is what somebody else made, and the last entry before.
func (r *Rig) there() (entries []chain.Entry, after int) {
	r.Helper()
	j := r.Job()
	after = chain.Parting(j.Entries, j.Lines[0].Entries)
	return j.Lines[0].Entries[after:], after
}

// joinForgeries break the rules of a join, one each.
func joinForgeries() []Forgery {
	notes := func(r *Rig) { r.parted(Note("one"), Note("two")) }
	joins := func(by string, change func(r *Rig, j *fork.Joined)) func(*Rig) {
		return func(r *Rig) {
			there, after := r.there()
			j := fork.Joined{After: after, Head: there[1].Hash, Entries: []fork.Decision{{Entry: there[0].Seq, Hash: there[0].Hash, Why: "known"}, {Entry: there[1].Seq, Hash: there[1].Hash, Why: "known"}}}
			change(r, &j)
			r.putBy(by, report.EntryJoin, "", j)
		}
	}
	return []Forgery{
		{Rule: "join-person", Words: `a join by "ada", who is no engineer of the plan`, Story: notes, Put: joins("ada", func(*Rig, *fork.Joined) {})},
		{Rule: "join-head", Words: "which no continuation of the job has", Story: notes, Put: joins("eva", func(r *Rig, j *fork.Joined) { j.Head = r.Job().Head().Hash })},
		{Rule: "join-head", Words: "and that parts behind entry", Story: notes, Put: joins("eva", func(r *Rig, j *fork.Joined) { j.After-- })},
		{Rule: "join-entries", Words: "it decides 1 entries of the other side, which are not the 2", Story: notes, Put: joins("eva", func(r *Rig, j *fork.Joined) { j.Entries = j.Entries[1:] })},
		{Rule: "join-entries", Words: "which it did not", Story: notes, Put: joins("eva", func(r *Rig, j *fork.Joined) { j.Entries[0].Adopted = r.Job().Head().Seq })},
		{Rule: "join-reason", Words: "was left, and it does not say why", Story: notes, Put: joins("eva", func(r *Rig, j *fork.Joined) { j.Entries[1].Why = " " })},
		{Rule: "join-reason", Words: `left as "judged-here", which it is not`, Story: notes, Put: joins("eva", func(r *Rig, j *fork.Joined) { j.Entries[1].Why, j.Entries[1].Code = "", fork.LeftJudged })},
		{Rule: "join-lost", Words: "it tells of 1 findings of the other side that did not pass and were left, where there are 0", Story: notes, Put: joins("eva", func(r *Rig, j *fork.Joined) { j.Lost = []fork.Lost{{Check: "volts", Attempt: 1, Verdict: "fail"}} })},
		{Rule: "adopt-entry", Words: "which no continuation of the job has", Story: notes, Put: func(r *Rig) {
			made, err := chain.Seal(r.Job().Head(), chain.Draft{At: r.Now, By: "ben", Kind: report.EntryNote, Data: report.Noted{Text: "made up"}})
			if err != nil {
				r.Fatal(err)
			}
			r.Adopts(made, 0)
			there, after := r.there()
			r.Joins(r.engineer(), after, there)
		}},
		{Rule: "adopt-twice", Words: "it adopts what stands here already", Story: func(r *Rig) {
			r.parted(Note("one"), chain.Draft{Kind: report.EntryAdopt, Data: func(made []chain.Entry) any {
				return fork.Adopted{Hash: made[0].Hash, Entry: string(made[0].Body)}
			}})
		}, Put: func(r *Rig) {
			there, after := r.there()
			r.Adopts(there[0], 0)
			r.Adopts(there[1], 0)
			n := len(r.Job().Entries)
			r.Joins(r.engineer(), after, there, n-1, n)
		}},
		{Rule: fork.RuleListed, Words: "an adoption that no join behind it lists", Story: notes, Put: func(r *Rig) {
			there, _ := r.there()
			r.Adopts(there[0], 0)
		}},
		{Rule: "adopt-late", Words: "changed the plant at", Plant: true, Story: func(r *Rig) {
			r.parted(chain.Draft{Kind: report.EntryLeft, Data: report.NotDone{Step: "earth", Why: "no earth at hand"}})
			r.did("open-q2", "")
		}, Put: func(r *Rig) {
			there, after := r.there()
			r.Adopts(there[0], 0)
			r.Joins(r.engineer(), after, there, len(r.Job().Entries))
		}},
	}
}
