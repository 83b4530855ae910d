package trust

import (
	"encoding/hex"
	"fmt"
	"slices"
	"time"

	"handback/records/chain"
	"handback/records/stamp"
	"handback/report"
)

// Stamp is a time stamp that a record keeps.
type Stamp struct {
	Entry     int       `json:"entry"`  // that keeps it
	Covers    int       `json:"covers"` // the record up to this entry
	At        time.Time `json:"at"`     // by which it was there
	Authority string    `json:"authority"`
	Believed  bool      `json:"believed"` // the authority leads to one that is trusted
}

// ReadStamp reads the reply of an authority, which must be over the hash of an entry of the
// job, and gives the number of that entry.
func ReadStamp(j *report.Job, reply []byte) (*stamp.Token, int, error) {
	t, err := stamp.Parse(reply)
	if err != nil {
		return nil, 0, err
	}
	i := slices.IndexFunc(j.Entries, func(e chain.Entry) bool { return e.Hash == hex.EncodeToString(t.Hash) })
	if i < 0 {
		return nil, 0, fmt.Errorf("time stamp: it is over %x, which is the hash of no entry of job %s", t.Hash, j.ID)
	}
	return t, i + 1, nil
}

// stamps reads the time stamps of a record. Those of authorities that are trusted vouch
// for it.
func (p Policy) stamps(a *Answer, r *Record) {
	for _, at := range r.Job.Attachments {
		if at.Stamped == 0 {
			continue
		}
		t, err := readKept(r.Job, at)
		if err != nil {
			a.Faults = append(a.Faults, fmt.Sprintf("entry %d: %v", at.Seq, err))
			continue
		}
		s := Stamp{Entry: at.Seq, Covers: at.Stamped, At: t.By(), Authority: t.Authority}
		where := fmt.Sprintf("entry %d, time stamp of entry %d: ", s.Entry, s.Covers)
		if p.Stamps == nil {
			a.note("%sit says %s; whether %s is to be believed is shown with --tsa-ca FILE", where, report.Stamp(s.At), s.Authority)
		} else if err := p.Stamps.Trust(t); err != nil {
			a.refuse("%s%v", where, err)
		} else {
			s.Believed = true
			r.vouching = append(r.vouching, Vouched{s.Covers, s.At})
			a.show("the first %s were there by %s: %s vouches for it, whose certificate leads to one that you trust", report.Count(s.Covers, "entry", "entries"), report.Stamp(s.At), s.Authority)
			if r.Now.After(t.Ends) {
				a.note("%sthe certificate of %s ended on %s: a stamp is to be renewed before that, as HOW-TO-CHECK tells", where, s.Authority, report.Stamp(t.Ends))
			}
		}
		a.Stamps = append(a.Stamps, s)
	}
}

func readKept(j *report.Job, at report.Attachment) (*stamp.Token, error) {
	if j.Files == nil {
		return nil, fmt.Errorf("the time stamp is not at hand")
	}
	data, err := j.Files(at.SHA256)
	if err != nil {
		return nil, err
	}
	t, entry, err := ReadStamp(j, data)
	if err == nil && entry != at.Stamped {
		err = fmt.Errorf("time stamp: it is over the hash of entry %d, not of entry %d", entry, at.Stamped)
	}
	return t, err
}
