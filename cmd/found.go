package cmd

import (
	"context"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"handback/cmd/session"
	"handback/report"
)

type foundOptions struct {
	env                      *session.Env
	job, device, by, at, why string
	said                     []string
}

func newFound(env *session.Env) *cobra.Command {
	o := &foundOptions{env: env}
	c := &cobra.Command{
		Use: "found JOB DEVICE position=... --why WHY", Short: "record how a device was found to stand, such as after a trip", Args: atLeast("JOB", "DEVICE", "STANDING"),
		Long: `Record how a device of the plan's network was found to stand: position=open, closed or
unknown, place=service, test or withdrawn, locks=NUMBER,NUMBER. What is not said stands
as recorded. It is never refused, for it is so; what it breaks is flagged. A trip, an
act of somebody else, and a drawing that is wrong are recorded in this way.`,
		Example:           "  handback found t2-return-1 t2-lv position=open --why 'tripped on earth fault at 14:21'",
		ValidArgsFunction: completeJobs(env, session.DeviceIDs),
		RunE: func(c *cobra.Command, args []string) error {
			o.job, o.device, o.said = args[0], args[1], args[2:]
			return runFound(c.Context(), o)
		},
	}
	c.Flags().StringVar(&o.by, "by", "", "who records it, a person of the plan; its only technician when not given")
	c.Flags().StringVar(&o.at, "at", "now", "when it was seen, such as 14:05")
	c.Flags().StringVar(&o.why, "why", "", "what happened, or what is wrong in the drawing")
	return c
}

func runFound(ctx context.Context, o *foundOptions) error {
	if o.why == "" {
		return session.Usagef("what was found needs its reason: --why WHY")
	}
	s, err := session.OpenWrite(ctx, o.env, o.job, o.by)
	if err != nil {
		return err
	}
	defer s.Close()
	draft, err := s.FoundDraft(o.device, o.said, o.at, o.why)
	if err != nil {
		return err
	}
	if err := s.Add(ctx, draft); err != nil {
		return err
	}
	f := s.Job.Found[len(s.Job.Found)-1]
	fmt.Fprintf(o.env.Out, "%s: found %s; recorded was %s\n", s.Job.Plan.Network.Named(f.Device), report.StandingWords(f.Is), report.StandingWords(f.Was))
	if len(f.Loads) > 0 {
		fmt.Fprintf(o.env.Out, "dark by it: %s\n", strings.Join(f.Loads, ", "))
	}
	for _, r := range f.Broken {
		fmt.Fprintf(o.env.Out, "IT BREAKS rule %s: %s\n", r.Rule, report.RefusalWords(s.Job.Plan, r))
	}
	s.SayJudgedAgain("")
	return nil
}
