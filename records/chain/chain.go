package chain

import (
	"fmt"
	"time"
)

// ShortHash is enough of a hash to tell a job or an entry by eye.
func ShortHash(hash string) string { return hash[:min(12, len(hash))] }

// Fault is one thing found wrong. Job is empty when it concerns the book as a whole,
// Seq is 0 when it concerns no one entry.
type Fault struct {
	Job  string `json:"job,omitempty"`
	Seq  int    `json:"seq,omitempty"`
	What string `json:"what"`
}

func (f Fault) String() string {
	switch {
	case f.Job == "":
		return f.What
	case f.Seq == 0:
		return fmt.Sprintf("job %s: %s", f.Job, f.What)
	}
	return fmt.Sprintf("job %s, entry %d: %s", f.Job, f.Seq, f.What)
}

// CheckBody reads a stored body and compares it with its stored hash. With faults
// the entry holds what could be read.
func CheckBody(body []byte, hash string) (Entry, []Fault) {
	e, err := ParseEntry(body)
	if err != nil {
		return Entry{}, []Fault{{What: err.Error()}}
	}
	computed := e.Hash
	e.Hash = hash
	if computed != hash {
		return e, []Fault{{e.Job, e.Seq, "its text does not match its hash"}}
	}
	return e, nil
}

// Chain follows one job from entry to entry. After a fault it goes on from the
// stored hash, so that one changed entry does not accuse all that follow it.
type Chain struct {
	Job  string
	Seq  int    // of the last entry seen
	hash string // stored with it
}

// Next checks that the body is the next entry of the job.
func (c *Chain) Next(body []byte, hash string) (Entry, []Fault) {
	e, faults := CheckBody(body, hash)
	if e.V == 0 { // could not be read at all
		c.Seq, c.hash = c.Seq+1, hash
		faults[0].Job, faults[0].Seq = c.Job, c.Seq
		return e, faults
	}
	if e.Job == c.Job { // a job has many entries: its texts are kept once
		e.Job = c.Job
	}
	if e.Prev == c.hash {
		e.Prev = c.hash
	}
	return e, append(faults, c.Link(e)...)
}

// Link checks where a readable entry stands and what it points back to.
func (c *Chain) Link(e Entry) []Fault {
	var faults []Fault
	found := func(what string, args ...any) {
		faults = append(faults, Fault{c.Job, e.Seq, fmt.Sprintf(what, args...)})
	}
	switch {
	case e.Job != c.Job:
		found("it belongs to job %s", e.Job)
	case e.Seq > c.Seq+1:
		faults = append(faults, Missing(c.Job, c.Seq+1, e.Seq-1))
	case e.Seq <= c.Seq:
		found("it stands after entry %d", c.Seq)
		return faults // the entries that follow are judged by the one before it
	case e.Seq > 1 && e.Prev != c.hash:
		found("it does not follow from entry %d: prev is not the hash of that entry", e.Seq-1)
	case e.Seq == 1:
		if o, err := ReadOpening(e); err != nil {
			found("%v", err)
		} else if e.Prev != Genesis(e.Job, o.Nonce) {
			found("prev is not made from the job and its nonce")
		}
	}
	c.Seq, c.hash = e.Seq, e.Hash
	return faults
}

// Skip goes past an entry of which the hash alone is left.
func (c *Chain) Skip(seq int, hash string) { c.Seq, c.hash = seq, hash }

func Missing(job string, from, to int) Fault {
	if from == to {
		return Fault{job, from, "it is missing"}
	}
	return Fault{job, from, fmt.Sprintf("it and all up to %d are missing", to)}
}

// CheckChain checks a whole chain that is held outside a book, oldest first: each
// hash against its body, seq from 1 without gaps, each prev, the genesis, one job.
func CheckChain(entries []Entry) []Fault {
	var faults []Fault
	for i, c := 0, (Chain{}); i < len(entries); i++ {
		if i == 0 {
			c.Job = entries[0].Job
		}
		_, f := c.Next(entries[i].Body, entries[i].Hash)
		faults = append(faults, f...)
	}
	return faults
}

// ClockFaults names the entries that are earlier than the one before them. A clock
// set back is a warning about times, not a sign that the book was changed.
func ClockFaults(entries []Entry) []Fault {
	var faults []Fault
	for i := 1; i < len(entries); i++ {
		if back := entries[i-1].At.Sub(entries[i].At); back > 0 {
			e := entries[i]
			faults = append(faults, Fault{e.Job, e.Seq, fmt.Sprintf("its time %s is %s before that of entry %d; the clock was set back or is wrong",
				e.At.Format(time.RFC3339), back, entries[i-1].Seq)})
		}
	}
	return faults
}
