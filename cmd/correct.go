package cmd

import (
	"context"
	"fmt"

	"github.com/spf13/cobra"

	"handback/checks"
	"handback/records/chain"
	"handback/report"
)

type correctOptions struct {
	env            *Env
	job, check, by string
	why, keep      string
	pairs          []string
}

func newCorrect(env *Env) *cobra.Command {
	o := &correctOptions{env: env}
	c := &cobra.Command{
		Use: "correct JOB CHECK key=value… --why WHY", Short: "put a slip in a judged check right", Args: atLeast("JOB", "CHECK", "key=value"),
		Long: `Put readings of a judged check right: a slip of the pen, not a new reading (that is
a repeat). The old answer stays visible beside the new one with the reason. The
check, and every check that used its readings, is judged again.`,
		Example:           `  handback correct t2-return-1 hv "value=11.08 kV" --why "digits swapped on the sheet"`,
		ValidArgsFunction: completeJobs(env, checkIDs),
		RunE: func(c *cobra.Command, args []string) error {
			o.job, o.check, o.pairs = args[0], args[1], args[2:]
			return runCorrect(c.Context(), o)
		},
	}
	c.Flags().StringVar(&o.by, "by", "", "who corrects, a person of the plan; its only technician when not given")
	c.Flags().StringVar(&o.why, "why", "", "why the old answer is wrong")
	c.Flags().StringVar(&o.keep, "keep", "", "why readings that cannot be right are kept")
	return c
}

func runCorrect(ctx context.Context, o *correctOptions) error {
	if o.why == "" {
		return usagef("a correction needs its reason: --why WHY")
	}
	if err := reasons(o.why, o.keep); err != nil {
		return err
	}
	s, c, err := openFor(ctx, o.env, o.job, o.by, (*session).check, o.check)
	if err != nil {
		return err
	}
	defer s.close()
	a := s.job.State(c.ID).Last()
	if a == nil || !a.Judged {
		return fmt.Errorf("check %s is not judged yet: a line of it is typed again in walk or enter; go on with: %s", c.ID, s.env.hint("walk", s.job.ID))
	}
	in := s.job.Again(s.job.State(c.ID))
	got, err := o.parse(in)
	if err != nil {
		return err
	}
	if err := s.job.MayCorrect(s.job.State(c.ID), got); err != nil {
		return err
	}
	in.Answers = merged(in.Answers, got)
	if err := kept(in, got, o.keep); err != nil {
		return err
	}
	if err := s.add(ctx, chain.Draft{Kind: report.KindCorrect, Check: c.ID, Data: report.Corrected{Attempt: a.Number, Answers: got, Why: o.why}}); err != nil {
		return err
	}
	s.sayJudgedAgain("")
	return nil
}

// parse reads the corrected answers as of now: a bare time of day belongs to the
// days before now.
func (o *correctOptions) parse(in checks.Input) (checks.Answers, error) {
	in.At = o.env.Now()
	got, err := parsePairs(in, o.pairs)
	if err != nil {
		return nil, fmt.Errorf("%w; nothing was stored", err)
	}
	return got, nil
}
