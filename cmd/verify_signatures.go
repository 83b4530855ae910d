package cmd

import (
	"time"

	"handback/records/chain"
	"handback/report"
)

// signatureLine is a signature with what checking it showed.
type signatureLine struct {
	Entry  int       `json:"entry"`
	Role   string    `json:"role"`
	Person string    `json:"person"`
	Name   string    `json:"name"`
	At     time.Time `json:"at"`
	Covers int       `json:"covers"` // the first so many entries
	After  int       `json:"after"`  // entries since then, signatures left out
	Key    string    `json:"key"`
	Good   bool      `json:"good"`

	RoleTrusted bool `json:"role_trusted"` // the trusted list gives the key this role; otherwise it is the plan's word

	Doubt string `json:"doubt,omitempty"` // why it is not shown to be good
	Words string `json:"words"`
}

// signatureLines checks the signatures of a job; nil trust is what the plan lists.
func signatureLines(j *report.Job, trust chain.Signers) ([]signatureLine, []report.Checked, error) {
	checked, err := j.CheckSignatures(trust)
	out := []signatureLine{}
	for _, c := range checked {
		st := c.Statement
		out = append(out, signatureLine{Entry: c.Seq, Role: st.Role, Person: st.Person, Name: st.Name, At: st.At, Covers: st.Entries, After: j.After(c.Signature),
			Key: c.Key, Good: c.Doubt() == "" && c.Untold == "", Doubt: c.Doubt(), Words: j.CheckedWords(c)})
	}
	return out, checked, err
}

// signatures checks the signatures of a job and adds what is wrong with them.
func (o *verifyOptions) signatures(j *report.Job, r *verifyReport) error {
	listed, _, err := readSigners(o.env, o.signers, j)
	if err != nil {
		return err
	}
	trust := listed
	if o.signers == "" {
		trust = nil // what the plan lists, and known to be that
	}
	var checked []report.Checked
	if r.Signatures, checked, err = signatureLines(j, trust); err != nil {
		return err
	}
	for _, c := range checked {
		for _, f := range c.Faults {
			r.Faults = append(r.Faults, c.Who()+f)
		}
		if c.Untold != "" {
			r.Notes = append(r.Notes, c.Who()+c.Untold+": give it with --allowed-signers FILE")
		}
	}
	o.judge(j, checked, listed, r)
	return nil
}
