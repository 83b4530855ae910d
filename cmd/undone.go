package cmd

import (
	"context"
	"fmt"

	"github.com/spf13/cobra"

	"handback/cmd/session"
)

type undoneOptions struct {
	env                    *session.Env
	job, step, by, at, why string
	override
}

func newUndone(env *session.Env) *cobra.Command {
	o := &undoneOptions{env: env}
	c := &cobra.Command{
		Use: "undone JOB STEP --why WHY", Short: "record that a step was undone", Args: exactly("JOB", "STEP"),
		Long: `Record that a step was undone: the switch was opened again, the plant is off again. Its
hold point closes; what was read behind it has to be taken again. Undoing is judged by
the rules as the act opposite; a safety document is not undone. Steps are undone in the order opposite to the one they were taken in. Before
work on plant that was live it is proved dead again, and its step is taken anew. A rule
that the plan lets somebody override at the step takes --override RULE, as done does;
--why is then its reason too.`,
		Example:           "  handback undone t2-return-1 energise --why 'L3 missing: fuse to be changed'",
		ValidArgsFunction: completeJobs(env, session.StepIDs),
		RunE:              taking(runUndone, o, &o.job, &o.step),
	}
	c.Flags().StringVar(&o.by, "by", "", "who records it, a person of the plan; its only technician when not given")
	c.Flags().StringVar(&o.at, "at", "now", "when it was undone, such as 14:05")
	c.Flags().StringVar(&o.why, "why", "", "why it was undone")
	o.override.flags(c.Flags())
	return c
}

func runUndone(ctx context.Context, o *undoneOptions) error {
	if o.why == "" {
		return session.Usagef("an undone step needs its reason: --why WHY")
	}
	if err := o.named(o.env, o.by); err != nil {
		return err
	}
	o.taken.Reason = o.why
	s, st, err := session.OpenFor(ctx, o.env, o.job, o.by, (*session.Session).Step, o.step)
	if err != nil {
		return err
	}
	defer s.Close()
	draft, err := s.UndoDraft(st, o.at, o.why, o.all(s.By))
	if err != nil {
		return err
	}
	if err := s.Add(ctx, draft); err != nil {
		return err
	}
	closed := ""
	if s.Job.Plan.Hold(st.ID) != nil {
		closed = "; the hold is closed again"
	}
	fmt.Fprintf(o.env.Out, "%s: %s: undone%s\n", st.ID, st.Action, closed)
	s.SayOverridden(s.Job.Undos[len(s.Job.Undos)-1].Overridden)
	s.PrintPlant(st)
	s.SayJudgedAgain("")
	return nil
}
