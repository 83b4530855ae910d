package cmd

import (
	"context"
	"fmt"
	"strconv"

	"github.com/spf13/cobra"

	"handback/cmd/session"
	"handback/records/chain"
	"handback/report"
)

type defectOptions struct {
	env       *session.Env
	job, what string
	by, done  string
	raised    report.Raised
}

func newDefect(env *session.Env) *cobra.Command {
	o := &defectOptions{env: env}
	c := &cobra.Command{
		Use: "defect JOB WHAT", Short: "raise a defect, or close one with what was done", Args: exactly("JOB", "WHAT or NUMBER"),
		Long: `Raise a defect: a numbered open point of the job, with where it is, who is to put it
right and by when. One that holds a step, a hold point's or a plain one, keeps it until
it is closed; one that holds none is handed over as it stands. Close it by its number, with what was done.
Every defect, open or closed, stands in status, flags and the handover.`,
		Example: `  handback defect t2-return-1 "door switch of T2 sticks" --where "T2 cubicle" --owner "site electrician" --due 2026-06-30
  handback defect t2-return-1 "L2 lug cracked" --where "LV bar" --holds energise
  handback defect t2-return-1 2 --closed "lug changed, torqued again to 32 N·m"`,
		ValidArgsFunction: completeJobs(env, nil),
		RunE: func(c *cobra.Command, args []string) error {
			o.job, o.what = args[0], args[1]
			return runDefect(c.Context(), o)
		},
	}
	c.Flags().StringVar(&o.by, "by", "", "who records it, a person of the plan; its only technician when not given")
	c.Flags().StringVar(&o.raised.Where, "where", "", "where it is")
	c.Flags().StringVar(&o.raised.Owner, "owner", "", "who is to put it right")
	c.Flags().StringVar(&o.raised.Due, "due", "", "last day to put it right, such as 2026-06-30")
	c.Flags().StringVar(&o.raised.Holds, "holds", "", "the step that waits until it is closed; none when not given")
	c.Flags().StringVar(&o.done, "closed", "", "what was done: closes the defect of this number")
	return c
}

func runDefect(ctx context.Context, o *defectOptions) error {
	s, err := session.OpenWrite(ctx, o.env, o.job, o.by)
	if err != nil {
		return err
	}
	defer s.Close()
	draft, err := o.draft(s)
	if err != nil {
		return err
	}
	if err := s.Add(ctx, draft); err != nil {
		return err
	}
	switch data := draft.Data.(type) {
	case report.Raised:
		fmt.Fprintf(o.env.Out, "%s: %s\n", s.Job.Defect(data.Defect).Name(), s.Job.Defect(data.Defect).Words())
	case report.Closed:
		fmt.Fprintf(o.env.Out, "defect %d closed: %s\n", data.Defect, data.Done)
	}
	return nil
}

// draft is the entry that raises or closes a defect.
func (o *defectOptions) draft(s *session.Session) (chain.Draft, error) {
	r := o.raised
	number, err := strconv.Atoi(o.what)
	if o.done == "" && err == nil {
		return chain.Draft{}, session.Usagef("defect %d is closed with what was done: --closed DONE", number)
	}
	if o.done != "" {
		d := s.Job.Defect(number)
		switch {
		case r != report.Raised{}:
			return chain.Draft{}, session.Usagef("--closed takes nothing beside it but --by")
		case d == nil:
			return chain.Draft{}, session.Usagef("no defect %q in job %s: there are %d", o.what, o.job, len(s.Job.Defects))
		case d.Closed != nil:
			return chain.Draft{}, fmt.Errorf("%s was closed already: %s", d.Name(), d.Closed.Done)
		}
		return chain.Draft{Kind: report.EntryClose, Data: report.Closed{Defect: number, Done: o.done}}, session.Reasons(o.done)
	}
	r.What = o.what
	return s.RaiseDraft(r)
}
