package cmd

import (
	"context"
	"fmt"
	"slices"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"handback/cmd/session"
	"handback/report"
)

type flagsOptions struct {
	env   *session.Env
	job   string
	meter string
	json  bool
}

func newFlags(env *session.Env) *cobra.Command {
	o := &flagsOptions{env: env}
	c := &cobra.Command{
		Use: "flags JOB", Short: "the open points of a job, and what was cured or accepted", Args: exactly("JOB"),
		Long: `List what needs an engineer's look: findings that did not pass, stops, repeats,
corrections, concessions, readings stored although in doubt, checks out of order,
findings gone stale, defects; and the notes. Open ones are marked; the others were cured or accepted, and
stay listed.`,
		Example:           "  handback flags t2-return-1\n  handback flags t2-return-1 --instrument dmm-7",
		ValidArgsFunction: completeJobs(env, nil),
		RunE:              taking(runFlags, o, &o.job),
	}
	jsonFlag(c, &o.json)
	c.Flags().StringVar(&o.meter, "instrument", "", "list instead every reading this instrument of the plan gave")
	return c
}

// flagsReport is what in a job needs a look.
type flagsReport struct {
	Job   string        `json:"job"`
	Flags []report.Flag `json:"flags"`
	Notes []noteReport  `json:"notes"`
}

// usesReport is what an instrument read in a job.
type usesReport struct {
	Job  string       `json:"job"`
	Uses []report.Use `json:"uses"`
}

func runFlags(ctx context.Context, o *flagsOptions) error {
	s, err := session.OpenSeen(ctx, o.env, o.job)
	if err != nil {
		return err
	}
	defer s.Close()
	if o.meter != "" {
		return o.touched(s)
	}
	flags := s.Job.Flags(o.env.Now())
	_, notes := asides(s.Job, o.env.Now())
	if o.json {
		return printJSON(o.env.Out, flagsReport{s.Job.ID, flags, notes})
	}
	if len(flags) == 0 {
		fmt.Fprintln(o.env.Out, "no open points")
	}
	tw := tabwriter.NewWriter(o.env.Out, 0, 0, 2, ' ', 0)
	for _, f := range flags {
		state, at := "closed", ""
		if f.Open {
			state = "OPEN"
		}
		if f.Seq > 0 {
			at = fmt.Sprintf("entry %d", f.Seq)
		}
		fmt.Fprintf(tw, "%s\t%s\t%s\t%s\t%s\n", state, f.Check, f.What, at, f.Text)
	}
	if err := tw.Flush(); err != nil {
		return err
	}
	printNotes(o.env.Out, notes)
	s.SayForks()
	return nil
}

// touched lists every reading an instrument of the plan gave in this job.
func (o *flagsOptions) touched(s *session.Session) error {
	if s.Job.Plan.Meter(o.meter) == nil {
		return s.NoInstrument("--instrument", o.meter)
	}
	uses := slices.DeleteFunc(s.Job.Uses(), func(u report.Use) bool { return u.Meter != o.meter })
	if o.json {
		return printJSON(o.env.Out, usesReport{s.Job.ID, uses})
	}
	return printUses(o.env, uses)
}
