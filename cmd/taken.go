package cmd

import (
	"context"
	"fmt"

	"github.com/spf13/cobra"

	"handback/cmd/session"
)

type takenOptions struct {
	env               *session.Env
	job, hold, by, at string
}

func newTaken(env *session.Env) *cobra.Command {
	o := &takenOptions{env: env}
	c := &cobra.Command{
		Use: "taken JOB HOLD", Short: "record that the step behind a hold point was taken", Args: exactly("JOB", "HOLD"),
		Long: `Record that the step behind a hold point was taken. Refused while the hold stands:
only passes and conceded findings free it, and nothing frees it of a stop.`,
		Example:           "  handback taken t2-return-1 energise --at 14:05",
		ValidArgsFunction: completeJobs(env, session.HoldIDs),
		RunE:              taking(runTaken, o, &o.job, &o.hold),
	}
	c.Flags().StringVar(&o.by, "by", "", "who records it, a person of the plan; its only technician when not given")
	c.Flags().StringVar(&o.at, "at", "now", "when the step was taken, such as 14:05")
	return c
}

func runTaken(ctx context.Context, o *takenOptions) error {
	s, h, err := session.OpenFor(ctx, o.env, o.job, o.by, (*session.Session).Hold, o.hold)
	if err != nil {
		return err
	}
	defer s.Close()
	draft, err := s.StepDraft(h, o.at)
	if err != nil {
		return err
	}
	if err := s.Add(ctx, draft); err != nil {
		return err
	}
	fmt.Fprintf(o.env.Out, "%s: %s: taken %s\n", h.ID, h.Action, s.Job.Steps[h.ID].Taken.Format("15:04:05"))
	s.SayJudgedAgain("")
	return nil
}
