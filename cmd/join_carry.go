package cmd

import (
	"errors"
	"fmt"

	"handback/cmd/session"
	"handback/records/chain"
	"handback/report"
)

// What an engineer signed on the other side names the entry that it accepts by its hash. Where
// both sides have that entry, and it still is what counts here, the same signature shows the
// same acceptance here too: join records it behind itself, as accept --signature would.

// carried is the entry that records an acceptance of the other side here, with what it says;
// or why it does not hold here.
func (j *joiner) carried(is chain.Entry) (chain.Draft, chain.Acceptance, string, error) {
	var signed *report.Signed
	if is.Kind == report.EntryConcede {
		d, err := report.Decode[report.Conceded](is)
		if err != nil {
			return chain.Draft{}, chain.Acceptance{}, "", err
		}
		signed = d.Signed
	} else {
		d, err := report.Decode[report.AcceptedPlan](is)
		if err != nil {
			return chain.Draft{}, chain.Acceptance{}, "", err
		}
		signed = d.Signed
	}
	if signed == nil {
		return chain.Draft{}, chain.Acceptance{}, "", errors.New("it is not signed")
	}
	a, err := chain.ParseAcceptance([]byte(signed.Statement))
	if err != nil {
		return chain.Draft{}, a, "", err
	}
	draft, want, words, err := j.accepting(a, signed)
	if err != nil {
		return draft, a, "", err
	}
	if a.Hash != want.Hash {
		return draft, a, "", fmt.Errorf("entry %d counts here, and entry %d was accepted", want.Entry, a.Entry)
	}
	proof := j.Job.Prove(signed, want)
	if doubt := proof.Doubt(); doubt != "" {
		return draft, a, "", errors.New(doubt)
	}
	return draft, a, words + "; " + proof.Words(), nil
}

// accepting is the entry that accepts here what was accepted there, and what would be signed
// for it here.
func (j *joiner) accepting(a chain.Acceptance, signed *report.Signed) (chain.Draft, chain.Acceptance, string, error) {
	if a.Accepts == chain.AcceptsPlan {
		want := j.Job.AcceptingPlan(a.Person, a.Reason)
		draft := chain.Draft{Kind: report.EntryAccept, Data: report.AcceptedPlan{PlanHash: want.PlanHash, Reason: a.Reason, Signed: signed}}
		return draft, want, fmt.Sprintf("the plan as amended: accepted by %s: %s", j.Job.PersonName(a.Person), a.Reason), j.Job.MayAcceptPlan(a.Person, a.Reason)
	}
	want, data, err := j.Acceptance(a.Of, a.Person, a.Reason)
	if err != nil {
		return chain.Draft{}, want, "", err
	}
	data.Signed = signed
	return session.AcceptanceDraft(want, data), want, j.AcceptedWords(want, data), nil
}

// carriable tells whether an entry of the other side accepts something.
func carriable(kind string) bool { return kind == report.EntryConcede || kind == report.EntryAccept }

// holdsHere says why what an entry of the other side accepts does not hold here, nil where it
// does; ok is false for an entry that accepts nothing.
func (j *joiner) holdsHere(e chain.Entry) (why error, ok bool) {
	is := j.line[e.Seq-1]
	if !carriable(is.Kind) {
		return nil, false
	}
	_, _, _, why = j.carried(is)
	return why, true
}

// carry records what the other side accepted and the person took over, behind the join, each
// as made by who signed it.
func (j *joiner) carry() ([]string, error) {
	by := j.By
	defer func() { j.By = by }()
	var out []string
	for i, e := range j.open {
		if !j.made[i].carry {
			continue
		}
		draft, a, words, err := j.carried(j.line[e.Seq-1])
		if err == nil {
			j.By = a.Person
			err = j.Stage(draft)
		}
		if err != nil {
			return nil, fmt.Errorf("entry %d there: what it accepts does not hold here: %w; nothing was stored", e.Seq, err)
		}
		out = append(out, words)
	}
	return out, nil
}
