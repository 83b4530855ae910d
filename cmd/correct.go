package cmd

import (
	"context"
	"fmt"

	"github.com/spf13/cobra"

	"handback/checks"
	"handback/cmd/session"
	"handback/records/chain"
	"handback/report"
)

type correctOptions struct {
	env            *session.Env
	job, check, by string
	why, keep      string
	pairs          []string
	dryRun         bool
}

func newCorrect(env *session.Env) *cobra.Command {
	o := &correctOptions{env: env}
	c := &cobra.Command{
		Use: "correct JOB CHECK key=value… --why WHY", Short: "put a slip in a judged check right", Args: atLeast("JOB", "CHECK", "key=value"),
		Long: `Put readings of a judged check right: a slip of the pen, not a new reading (that is
a repeat). The old answer stays visible beside the new one with the reason. The
check, and every check that used its readings, is judged again.`,
		Example:           `  handback correct t2-return-1 hv "value=6.58 kV" --why "digits swapped on the sheet"`,
		ValidArgsFunction: completeReadings(env, true),
		RunE: func(c *cobra.Command, args []string) error {
			o.job, o.check, o.pairs = args[0], args[1], args[2:]
			return runCorrect(c.Context(), o)
		},
	}
	c.Flags().StringVar(&o.by, "by", "", "who corrects, a person of the plan; its only technician when not given")
	c.Flags().StringVar(&o.why, "why", "", "why the old answer is wrong")
	c.Flags().StringVar(&o.keep, "keep", "", "why a doubtful reading is stored as it is")
	c.Flags().BoolVar(&o.dryRun, "dry-run", false, "judge again and tell what it comes to, and store nothing")
	return c
}

func runCorrect(ctx context.Context, o *correctOptions) error {
	if o.why == "" {
		return session.Usagef("a correction needs its reason: --why WHY")
	}
	if err := session.Reasons(o.why, o.keep); err != nil {
		return err
	}
	s, c, err := session.OpenFor(ctx, o.env, o.job, o.by, (*session.Session).Check, o.check)
	if err != nil {
		return err
	}
	defer s.Close()
	s.DryRun = o.dryRun
	a := s.Job.State(c.ID).Last()
	if a == nil || !a.Judged {
		return fmt.Errorf("check %s is not judged yet: a line of it is typed again in walk or enter; go on with: %s", c.ID, s.Env.Hint("walk", s.Job.ID))
	}
	in := s.Job.Again(s.Job.State(c.ID))
	got, err := o.parse(in)
	if err != nil {
		return err
	}
	if err := s.Job.MayCorrect(s.Job.State(c.ID), got); err != nil {
		return err
	}
	in.Answers = merged(in.Answers, got)
	if err := kept(in, got, o.keep); err != nil {
		return err
	}
	if err := s.Add(ctx, chain.Draft{Kind: report.EntryCorrect, Check: c.ID, Data: report.Corrected{Attempt: a.Number, Answers: got, Why: o.why}}); err != nil {
		return err
	}
	s.SayJudgedAgain("")
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

func merged(a, b checks.Answers) checks.Answers {
	out := checks.Answers{}
	for k, v := range a {
		out[k] = v
	}
	for k, v := range b {
		out[k] = v
	}
	return out
}
