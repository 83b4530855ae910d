package fork

import (
	"encoding/json"
	"fmt"
	"slices"

	"handback/records/chain"
)

// Adopted is the data of an entry that adopts one of another continuation: what that one
// says counts from here on, as of its own time and as made by its own person.
type Adopted struct {
	Hash   string `json:"hash"`             // of the entry there
	Entry  string `json:"entry"`            // the bytes of it that were hashed
	Number int    `json:"number,omitempty"` // that its attempt, defect or remark has here
	Why    string `json:"why,omitempty"`    // why it is adopted
}

// Joined is the data of an entry that closes a fork: what became of every entry of the other
// side that no join before it decided.
type Joined struct {
	After   int        `json:"after"`          // the last entry that both have
	Head    string     `json:"head"`           // hash of the newest entry there that is decided
	Entries []Decision `json:"entries"`        // oldest first
	Lost    []Lost     `json:"lost,omitempty"` // findings that did not pass and do not count here
}

// Decision is what became of one entry of the other side.
type Decision struct {
	Entry   int    `json:"entry"` // its number there
	Hash    string `json:"hash"`
	Adopted int    `json:"adopted,omitempty"` // the entry here that adopts it; it is left without
	Code    string `json:"code,omitempty"`    // one of the Left codes, where nobody had to say why it is left
	Same    int    `json:"same,omitempty"`    // the entry here that says the same, where it is left for that
	Why     string `json:"why,omitempty"`     // in the words of who decided
}

// Why an entry is left that nobody has to give a reason for.
const (
	LeftJudged    = "judged-here" // a finding: what is adopted is judged here
	LeftSigned    = "signed"      // a signature, a document of one or an acceptance: it stays with what it covers
	LeftPlan      = "plan"        // a version of the plan: this side has its own
	LeftSame      = "same"        // the same stands here
	LeftTogether  = "together"    // it belongs to entries that were left
	LeftBelonging = "belonging"   // a join or a review: it belongs to the line it stands in
)

// ReadAdopted reads the data of an entry that adopts another, and that entry, whose bytes
// must have its hash.
func ReadAdopted(e chain.Entry) (Adopted, chain.Entry, error) {
	var a Adopted
	if err := chain.DecodeStrict(e.Data, &a); err != nil {
		return a, chain.Entry{}, err
	}
	is, err := chain.ParseEntry([]byte(a.Entry))
	switch {
	case err != nil:
	case is.Hash != a.Hash:
		err = fmt.Errorf("the entry it holds has not the hash %.64s", a.Hash)
	case is.Job != e.Job:
		err = fmt.Errorf("the entry it holds is of job %.80s", is.Job)
	case is.Seq == 1:
		err = fmt.Errorf("the entry it holds opens a job")
	}
	return a, is, err
}

// ReadJoined reads the data of an entry that joins another continuation.
func ReadJoined(e chain.Entry) (Joined, error) {
	var j Joined
	err := chain.DecodeStrict(e.Data, &j)
	return j, err
}

// Inner is the entry that an entry adopts, whatever adopted it in between; any other is
// itself.
func Inner(e chain.Entry) (chain.Entry, error) {
	for e.Kind == Adopt {
		_, is, err := ReadAdopted(e)
		if err != nil {
			return e, err
		}
		e = is
	}
	return e, nil
}

// numbered are the members of data that number an attempt, a defect or a remark of the job,
// by the kinds that have one.
var numbered = map[string]string{"read": "attempt", "correct": "attempt", "defect": "defect", "close": "defect",
	"remark": "remark", "answer": "remark", "withdraw": "remark"}

// plain are the other kinds that may be adopted.
var plain = []string{"skip", "note", "step", "undo", "left", "found", "bad", chain.KindAttach}

// Numbered is the member of an entry's data that has another number here, "" for none.
func Numbered(kind string) string { return numbered[kind] }

// MayAdopt says why an entry is never adopted, as one of the Left codes, "" when it may be.
func MayAdopt(e chain.Entry) string {
	e, err := Inner(e)
	if a, bad := chain.ReadAttached(e); e.Kind == chain.KindAttach && (bad != nil || a.Document != "" || a.Stamped > 0) {
		return LeftSigned
	}
	switch {
	case err != nil:
		return LeftBelonging
	case numbered[e.Kind] != "" || slices.Contains(plain, e.Kind):
		return ""
	case e.Kind == "judge":
		return LeftJudged
	case e.Kind == "amend":
		return LeftPlan
	case e.Kind == Join || e.Kind == "review":
		return LeftBelonging
	}
	return LeftSigned
}

// Counts is what an entry says here: of one that adopts another that other, with its own
// time and person, in the place of the first and with the numbers that it has here; from
// are the entries that were adopted before it. Any other entry is itself.
func Counts(e chain.Entry, from []chain.Entry) (chain.Entry, error) {
	if e.Kind != Adopt {
		return e, nil
	}
	a, _, err := ReadAdopted(e)
	if err != nil {
		return e, err
	}
	is, err := Inner(e)
	if err == nil && MayAdopt(is) != "" {
		err = fmt.Errorf("an entry of kind %s is not adopted", is.Kind)
	}
	if err != nil {
		return e, err
	}
	data, err := renumbered(is, a, from)
	if err != nil {
		return e, err
	}
	is.Seq, is.Prev, is.Data, is.Body, is.Hash = e.Seq, e.Prev, data, e.Body, e.Hash
	return is, nil
}

// renumbered is the data of an adopted entry with its numbers of here.
func renumbered(is chain.Entry, a Adopted, from []chain.Entry) ([]byte, error) {
	var members map[string]json.RawMessage
	if err := json.Unmarshal(is.Data, &members); err != nil {
		return nil, err
	}
	if name := numbered[is.Kind]; name != "" {
		if a.Number < 1 {
			return nil, fmt.Errorf("it does not say which %s it is here", name)
		}
		members[name] = fmt.Appendf(nil, "%d", a.Number)
	}
	if is.Kind == "read" && a.Number > 1 && members["why"] == nil && a.Why != "" {
		why, err := json.Marshal(a.Why)
		if err != nil {
			return nil, err
		}
		members["why"] = why
	}
	if is.Kind == "remark" {
		delete(members, "about") // an entry of the other side
	}
	if err := origins(members, from); err != nil {
		return nil, err
	}
	return chain.CanonicalObject(members)
}

// origins names, in answers that were taken over from an entry which was adopted itself, the
// entry here.
func origins(members map[string]json.RawMessage, from []chain.Entry) error {
	if members["answers"] == nil {
		return nil
	}
	var answers map[string]map[string]json.RawMessage
	if err := json.Unmarshal(members["answers"], &answers); err != nil {
		return err
	}
	for _, a := range answers {
		var o map[string]json.RawMessage
		if a["from"] == nil || json.Unmarshal(a["from"], &o) != nil {
			continue
		}
		for _, e := range from {
			is, err := Inner(e)
			if err == nil && string(o["entry"]) == fmt.Sprint(is.Seq) && string(o["check"]) == fmt.Sprintf("%q", is.Check) {
				o["entry"] = fmt.Appendf(nil, "%d", e.Seq)
			}
		}
		var err error
		if a["from"], err = json.Marshal(o); err != nil {
			return err
		}
	}
	var err error
	members["answers"], err = json.Marshal(answers)
	return err
}
