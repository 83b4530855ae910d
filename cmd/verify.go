package cmd

import (
	"context"
	"fmt"
	"os"

	"github.com/spf13/cobra"

	"handback/records"
	"handback/report"
)

type verifyOptions struct {
	env       *Env
	job, plan string
	signers   string
	json      bool
}

func newVerify(env *Env) *cobra.Command {
	o := &verifyOptions{env: env}
	c := &cobra.Command{
		Use: "verify JOB", Short: "show that a job's record holds together", Args: exactly("JOB"),
		Long: `Hash every entry of a job again, follow the chain, judge every attempt again from
its answers and compare. With --plan FILE, show that the file is the plan the job
was opened with. Exit status 4 when anything differs.

Every signature is checked: that the key signed these bytes, that the statement says
what the record says at that entry, that the person could sign so, and that the key
is listed for them in the plan. The plan is part of the record: with a list of
allowed signers that you had before, --allowed-signers FILE, that list is trusted
instead. The time a key was used at is what its owner's clock said.

This shows that nothing in the record was changed, swapped, put in or taken out
between its entries. It does not show who typed it, nor that the newest entries were
not cut off: for that compare the head hash with a signed or printed copy.`,
		Example:           "  handback verify t2-return-1",
		ValidArgsFunction: completeJobs(env, nil),
		RunE: func(c *cobra.Command, args []string) error {
			o.job = args[0]
			return runVerify(c.Context(), o)
		},
	}
	jsonFlag(c, &o.json)
	signersFlag(c, &o.signers)
	c.Flags().StringVar(&o.plan, "plan", "", "plan file that should be the one the job was opened with")
	return c
}

// verifyReport is what verifying showed.
type verifyReport struct {
	Job        string          `json:"job"`
	Entries    int             `json:"entries"`
	Head       string          `json:"head"`
	PlanHash   string          `json:"plan_hash"`
	Signatures []signatureLine `json:"signatures"`
	Attempts   int             `json:"attempts"` // judged again
	Faults     []string        `json:"faults"`
}

func runVerify(ctx context.Context, o *verifyOptions) error {
	s, err := openRead(ctx, o.env, o.job)
	if err != nil {
		return err
	}
	defer s.close()
	r := verifyReport{Job: s.job.ID, Entries: len(s.job.Entries), Head: s.job.Head().Hash, PlanHash: s.job.PlanHash, Faults: append([]string{}, s.job.Differs...)}
	for _, st := range s.job.States {
		for _, a := range st.Attempts {
			if a.Judged {
				r.Attempts++
			}
		}
	}
	for _, f := range records.CheckChain(s.job.Entries) {
		r.Faults = append(r.Faults, f.String())
	}
	if err := o.signatures(s.job, &r); err != nil {
		return err
	}
	if o.plan != "" {
		data, err := os.ReadFile(o.plan)
		if err != nil {
			return fmt.Errorf("plan %s: %w", o.plan, plainPathError(err))
		}
		if h := records.HashPlan(data); h != s.job.PlanHash {
			r.Faults = append(r.Faults, fmt.Sprintf("%s is not the plan the job was opened with: its SHA-256 is %s; the job goes on with the plan it holds", o.plan, h))
		}
	}
	return o.answer(r)
}

func (o *verifyOptions) answer(r verifyReport) error {
	if o.json {
		if err := printJSON(o.env.Out, r); err != nil {
			return err
		}
	} else {
		fmt.Fprintf(o.env.Out, "%s: %s, head %s\nplan SHA-256 %s\n%s judged again\n",
			r.Job, report.Count(r.Entries, "entry", "entries"), r.Head, r.PlanHash, report.Count(r.Attempts, "attempt", "attempts"))
		for _, g := range r.Signatures {
			fmt.Fprintf(o.env.Out, "entry %d: %s\n  key %s: %s\n", g.Entry, g.Words, g.Key, map[bool]string{true: "good", false: "NOT GOOD"}[g.Good])
		}
		for _, f := range r.Faults {
			fmt.Fprintf(o.env.Out, "FAULT: %s\n", f)
		}
		if len(r.Faults) == 0 {
			fmt.Fprintln(o.env.Out, "the record holds together")
		}
	}
	if len(r.Faults) > 0 {
		return fmt.Errorf("job %s: %w: %s", r.Job, errIntegrity, report.Count(len(r.Faults), "fault", "faults"))
	}
	return nil
}
