package cmd

import (
	"context"
	"fmt"

	"github.com/spf13/cobra"

	"handback/cmd/session"
)

type undoneOptions struct {
	env                    *session.Env
	job, hold, by, at, why string
}

func newUndone(env *session.Env) *cobra.Command {
	o := &undoneOptions{env: env}
	c := &cobra.Command{
		Use: "undone JOB HOLD --why WHY", Short: "record that the step behind a hold point was undone", Args: exactly("JOB", "HOLD"),
		Long: `Record that the step behind a hold point was undone: the switch was opened again, the
plant is off again. The hold point closes; what was read behind it has to be taken
again. Steps are undone in the order opposite to the one they were taken in. Before
work on plant that was live it is proved dead again, and its step is taken anew.`,
		Example:           "  handback undone t2-return-1 energise --why 'L3 missing: fuse to be changed'",
		ValidArgsFunction: completeJobs(env, session.HoldIDs),
		RunE:              taking(runUndone, o, &o.job, &o.hold),
	}
	c.Flags().StringVar(&o.by, "by", "", "who records it, a person of the plan; its only technician when not given")
	c.Flags().StringVar(&o.at, "at", "now", "when it was undone, such as 14:05")
	c.Flags().StringVar(&o.why, "why", "", "why it was undone")
	return c
}

func runUndone(ctx context.Context, o *undoneOptions) error {
	if o.why == "" {
		return session.Usagef("an undone step needs its reason: --why WHY")
	}
	s, h, err := session.OpenFor(ctx, o.env, o.job, o.by, (*session.Session).Hold, o.hold)
	if err != nil {
		return err
	}
	defer s.Close()
	draft, err := s.UndoDraft(h, o.at, o.why)
	if err != nil {
		return err
	}
	if err := s.Add(ctx, draft); err != nil {
		return err
	}
	fmt.Fprintf(o.env.Out, "%s: %s: undone; the hold is closed again\n", h.ID, h.Action)
	s.SayJudgedAgain("")
	return nil
}
