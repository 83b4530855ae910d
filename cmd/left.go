package cmd

import (
	"context"
	"fmt"

	"github.com/spf13/cobra"

	"handback/cmd/session"
)

type leftOptions struct {
	env                *session.Env
	job, step, by, why string
}

func newLeft(env *session.Env) *cobra.Command {
	o := &leftOptions{env: env}
	c := &cobra.Command{
		Use: "left JOB STEP --why WHY", Short: "record that a step is not done, and why", Args: exactly("JOB", "STEP"),
		Long: `Record that a plain step is not done, and why. The steps below it may go on; the hold
points below it wait for it, and the job is not ready, until it is done after all or a
changed plan takes it out. A hold point is never left.`,
		Example:           "  handback left t2-return-1 tag-t2 --why 'no notice at hand, the store brings one'",
		ValidArgsFunction: completeJobs(env, session.StepIDs),
		RunE: func(c *cobra.Command, args []string) error {
			o.job, o.step = args[0], args[1]
			return runLeft(c.Context(), o)
		},
	}
	c.Flags().StringVar(&o.by, "by", "", "who records it, a person of the plan; its only technician when not given")
	c.Flags().StringVar(&o.why, "why", "", "why it is not done")
	return c
}

func runLeft(ctx context.Context, o *leftOptions) error {
	if o.why == "" {
		return session.Usagef("a step that is left needs its reason: --why WHY")
	}
	s, st, err := session.OpenFor(ctx, o.env, o.job, o.by, (*session.Session).PlainStep, o.step)
	if err != nil {
		return err
	}
	defer s.Close()
	draft, err := s.LeftDraft(st, o.why)
	if err != nil {
		return err
	}
	if err := s.Add(ctx, draft); err != nil {
		return err
	}
	fmt.Fprintf(o.env.Out, "%s: %s: left; the hold points below wait for it\n", st.ID, st.Action)
	return nil
}
