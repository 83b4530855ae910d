package cmd

import (
	"cmp"
	"fmt"
	"path/filepath"
	"slices"

	"github.com/spf13/cobra"

	"handback/cmd/session"
	"handback/records/chain"
	"handback/records/stamp"
	"handback/report"
	"handback/report/trust"
)

// policyOptions are what is asked of every record that is verified.
type policyOptions struct {
	require []string
	file    string
	known   trust.Known
	stampCA string

	policy trust.Policy
}

func (p *policyOptions) flags(c *cobra.Command) {
	c.Flags().StringSliceVar(&p.require, "require", nil, "roles that must have signed the record as it stands, acceptances: that all was accepted with a signature, and ready: that the job is ready")
	c.Flags().StringVar(&p.file, "policy", "", "file that says what is asked of every record")
	c.Flags().StringVar(&p.known.Head, "head", "", "head hash of the record, as a copy from elsewhere tells it")
	c.Flags().IntVar(&p.known.Entries, "entries", 0, "number of entries of the record, likewise")
	c.Flags().StringVar(&p.stampCA, "tsa-ca", "", "certificates of authorities whose time stamps are believed, in PEM")
	_ = c.RegisterFlagCompletionFunc("require", cobra.FixedCompletions(trust.Required, cobra.ShellCompDirectiveNoFileComp)) // fails only for a flag that is not there
}

// ask reads the policy and what the command line asks beside it.
func (o *verifyOptions) ask() error {
	p := &o.asked
	if p.file != "" {
		if err := o.readPolicy(); err != nil {
			return fmt.Errorf("policy %s: %w", p.file, err)
		}
	}
	if len(p.require) > 0 {
		if met, err := trust.CheckRequired(p.require); err != nil {
			return session.Apart(session.Usagef("--require: %v%s", err, session.Meant(met, trust.Required)), session.Parts{Where: "--require", Met: met, Accepted: trust.Required})
		}
		p.policy.Require = p.require
	}
	signed := func(what string) bool { return what != trust.RequireReady }
	if slices.ContainsFunc(p.policy.Require, signed) && o.signers == "" {
		return session.Usagef("--require asks for keys that you trust: give their list with --allowed-signers FILE; that of the plan is part of the record")
	}
	if p.known != (trust.Known{}) {
		if err := trust.CheckKnown(p.known); err != nil {
			return session.Usagef("--head, --entries: %v", err)
		}
		p.policy.Known = append(p.policy.Known, p.known)
	}
	p.policy.Bound = o.signers != ""
	if p.stampCA == "" {
		return nil
	}
	data, err := readFile(p.stampCA, maxInput)
	if err != nil {
		return fmt.Errorf("%s: %w", p.stampCA, err)
	}
	believed, err := stamp.ParseAuthorities(data)
	if err != nil {
		return fmt.Errorf("%s: %w", p.stampCA, err)
	}
	p.policy.Stamps = &believed
	return nil
}

// readPolicy reads the policy file and the files it names, which lie beside it.
func (o *verifyOptions) readPolicy() error {
	data, err := readFile(o.asked.file, trust.MaxPolicy)
	if err != nil {
		return err
	}
	f, err := trust.ParseFile(data)
	if err != nil {
		return err
	}
	beside := func(name string) string {
		if name == "" || filepath.IsAbs(name) {
			return name
		}
		return filepath.Join(filepath.Dir(o.asked.file), name)
	}
	o.signers = cmp.Or(o.signers, beside(f.AllowedSigners))
	o.asked.stampCA = cmp.Or(o.asked.stampCA, beside(f.StampCA))
	if o.asked.policy, err = f.Policy(); err != nil {
		return err
	}
	if f.RevokedKeys == "" {
		return nil
	}
	list, err := readFile(beside(f.RevokedKeys), maxInput)
	if err == nil {
		o.asked.policy.Lost, err = chain.ParseRevoked(inUTF8(list))
	}
	if err != nil {
		return fmt.Errorf("%s: %w", f.RevokedKeys, err)
	}
	return nil
}

// judge holds a record whose signatures were checked against what is asked.
func (o *verifyOptions) judge(j *report.Job, checked []report.Checked, signers chain.Signers, r *verifyReport) {
	a := o.asked.policy.Judge(trust.Record{Job: j, Checked: checked, Signers: signers, Now: o.env.Now()})
	r.Stamps, r.Acceptances, r.unknown = a.Stamps, a.Acceptances, a.Unknown
	r.judged(a)
	for i := range r.Signatures {
		s := &r.Signatures[i]
		s.RoleTrusted = a.Roles[s.Entry]
		if why := a.Doubts[s.Entry]; why != "" {
			s.Good, s.Doubt = false, cmp.Or(s.Doubt, why)
		}
	}
}

// judged adds what holding a record against a policy showed.
func (r *verifyReport) judged(a trust.Answer) {
	r.Faults, r.partly = append(r.Faults, a.Faults...), r.partly || len(a.Missed) > 0
	r.NotCompared, r.Notes = append(r.NotCompared, a.Missed...), append(r.Notes, a.Notes...)
	r.Refused, r.Shown = append(r.Refused, a.Refused...), append(r.Shown, a.Shown...)
}
