package admit

import (
	"strings"
	"time"

	"handback/records/archive"
	"handback/records/bag"
	"handback/report"
	"handback/report/seal"
	"handback/report/trust"
)

// Examine looks at a bag as verify does and holds it against a policy at a time: what it
// gives is taken, or refused with reasons.
func Examine(path string, p Policy, now time.Time) (archive.Taking, error) {
	b, err := bag.OpenBag(path)
	if err != nil { // a file cut short is a file that cannot be read
		return archive.Taking{Policy: p.Number, Reasons: []string{"it cannot be read as a bag: " + strings.TrimPrefix(err.Error(), path+": ")}}, nil
	}
	defer b.Close()
	x := seal.ExamineBag(b)
	t := archive.Taking{Policy: p.Number, Partly: x.Partly, Reasons: x.Faults}
	if x.Job == nil {
		if x.Removed != nil {
			for _, a := range x.Removed.Acts {
				t.Reasons = append(t.Reasons, "it is not whole: "+a.Words())
			}
		} else if len(t.Reasons) == 0 {
			t.Reasons = []string{"its record could not be followed"}
		}
		return t, nil
	}
	checked, err := x.Job.CheckSignatures(p.signers)
	if err != nil {
		return archive.Taking{}, err
	}
	signers := p.signers
	if signers == nil {
		if signers, err = x.Job.Signers(); err != nil {
			return archive.Taking{}, err
		}
	}
	t.Reasons = append(t.Reasons, signatureFaults(checked, p)...)
	a := p.trust.Judge(trust.Record{Job: x.Job, Checked: checked, Signers: signers, Now: now})
	t.Reasons = append(append(t.Reasons, a.Faults...), a.Refused...)
	head := x.Job.Head()
	t.Job, t.ID, t.Head = x.Job.Identifier(), x.Job.ID, head.Hash
	if len(t.Reasons) > 0 {
		return t, nil
	}
	if t.List, err = seal.ListOf(b); err != nil {
		return archive.Taking{}, err
	}
	for _, e := range x.Job.Entries {
		t.Hashes = append(t.Hashes, e.Hash)
	}
	t.Rows = Rows(x.Job, checked, a.Doubts)
	return t, nil
}

// signatureFaults are what is wrong with signatures, and with a list of the owner's keys
// that they are by others.
func signatureFaults(checked []report.Checked, p Policy) []string {
	var out []string
	for _, c := range checked {
		for _, f := range c.Faults {
			out = append(out, c.Who()+f)
		}
		if c.Unlisted != "" && p.signers != nil {
			out = append(out, c.Who()+c.Unlisted+" in the policy's list")
		}
	}
	return out
}
