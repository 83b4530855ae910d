package chain

import "fmt"

// Seal makes the entry that Append would make of a draft behind the entry before it,
// without writing it: so that what a job would come to can be known first. Where
// nobody else adds to the job meanwhile, Append gives the very same entry.
//
// Errors: what Append would refuse in the draft.
func Seal(before Entry, d Draft) (Entry, error) {
	data, err := CanonicalObject(d.Data)
	if err == nil {
		err = d.Fits(data)
	}
	if err != nil {
		return Entry{}, fmt.Errorf("job %s, draft (%s %s): data: %w", before.Job, d.Kind, d.Check, err)
	}
	h := Head{V: EntryVersion, Job: before.Job, Seq: before.Seq + 1, Prev: before.Hash, At: d.At, By: d.By, Kind: d.Kind, Check: d.Check}
	return EncodeEntry(h, data)
}
