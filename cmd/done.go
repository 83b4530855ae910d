package cmd

import (
	"context"
	"fmt"

	"github.com/spf13/cobra"

	"handback/cmd/session"
	"handback/report"
)

type doneOptions struct {
	env               *session.Env
	job, step, by, at string
	did               report.Stepped
	override
}

func newDone(env *session.Env) *cobra.Command {
	o := &doneOptions{env: env}
	c := &cobra.Command{
		Use: "done JOB STEP", Short: "record that a step was done, behind a hold point or a plain one", Args: exactly("JOB", "STEP"),
		Long: `Record that a step was done. Refused while its hold stands (only passes and accepted
findings free it, and nothing frees it of a stop), while a step above it is neither
done nor left, and while it would break a rule of the plant's network. A rule that the
plan lets somebody override at this step takes --override RULE with --why, and with
--in-control or --indicator where the rule asks for it; it stays on the handover.
This records; it authorises nothing.`,
		Example: `  handback done t2-return-1 energise --at 14:05
  handback done t2-return-1 lock-t2 --lock L17 --confirmed jonas
  handback done t2-return-1 couple --override parallel --why 'one supply, ring remade' --in-control 'Kari, control room'`,
		ValidArgsFunction: completeJobs(env, session.StepIDs),
		RunE: func(c *cobra.Command, args []string) error {
			o.job, o.step = args[0], args[1]
			return runDone(c.Context(), o)
		},
	}
	c.Flags().StringVar(&o.by, "by", "", "who did it, a person of the plan; its only technician when not given")
	c.Flags().StringVar(&o.at, "at", "now", "when it was done, such as 14:05")
	c.Flags().StringVar(&o.did.Instructed, "instructed", "", "who had it done, a person of the plan or a name")
	c.Flags().StringVar(&o.did.Confirmed, "confirmed", "", "the second person, who saw that it was done")
	c.Flags().StringVar(&o.did.Lock, "lock", "", "number of the lock, where it is not the plan's")
	c.Flags().StringVar(&o.did.Key, "key", "", "number of the key, where it is not the plan's")
	o.override.flags(c.Flags())
	c.Flags().StringVar(&o.taken.Reason, "why", "", "why it is overridden")
	return c
}

func runDone(ctx context.Context, o *doneOptions) error {
	if err := o.named(o.env, o.by); err != nil {
		return err
	}
	s, st, err := session.OpenFor(ctx, o.env, o.job, o.by, (*session.Session).Step, o.step)
	if err != nil {
		return err
	}
	defer s.Close()
	o.did.Overrides = o.all(s.By)
	draft, err := s.StepDraft(st, o.did, o.at)
	if err != nil {
		return err
	}
	if err := s.Add(ctx, draft); err != nil {
		return err
	}
	is := s.Job.Steps[st.ID]
	fmt.Fprintf(o.env.Out, "%s: %s: done %s%s\n", st.ID, st.Action, is.Taken.Format("15:04:05"), session.UsedWords(is))
	s.SayOverridden(is.Overridden)
	s.PrintPlant(st)
	s.SayJudgedAgain("")
	return nil
}
