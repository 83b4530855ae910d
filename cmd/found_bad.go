package cmd

import (
	"context"
	"fmt"
	"time"

	"github.com/spf13/cobra"

	"handback/cmd/session"
	"handback/records/chain"
	"handback/report"
)

type foundBadOptions struct {
	env                             *session.Env
	job, instrument, by, since, why string
}

func newFoundBad(env *session.Env) *cobra.Command {
	o := &foundBadOptions{env: env}
	c := &cobra.Command{
		Use: "found-bad JOB INSTRUMENT --why WHY", Short: "record that an instrument was found bad after it was used", Args: exactly("JOB", "INSTRUMENT"),
		Long: `Record that an instrument of the plan, named by its id or serial number, was found bad
after it was used: dropped, out of tolerance at its calibration, failed its function
check. Every finding that rests on its readings since then does not count any longer:
its check is taken again with another instrument, or an engineer accepts it.`,
		Example:           "  handback found-bad t2-return-1 dmm-7 --since 08:00 --why 'reads 4 % low against the reference'",
		RunE:              taking(runFoundBad, o, &o.job, &o.instrument),
		ValidArgsFunction: completeJobs(env, session.MeterIDs),
	}
	c.Flags().StringVar(&o.by, "by", "", "who records it, a person of the plan; its only technician when not given")
	c.Flags().StringVar(&o.since, "since", "", "when it was last known good, such as 08:00; from the job's beginning when not given")
	c.Flags().StringVar(&o.why, "why", "", "what was found")
	return c
}

func runFoundBad(ctx context.Context, o *foundBadOptions) error {
	if o.why == "" {
		return session.Usagef("what was found is wanted: --why WHY")
	}
	if err := session.Reasons(o.why); err != nil {
		return err
	}
	s, err := session.OpenWrite(ctx, o.env, o.job, o.by)
	if err != nil {
		return err
	}
	defer s.Close()
	serial := ""
	for _, m := range s.Job.Plan.Meters {
		if m.ID == o.instrument || m.Serial == o.instrument {
			serial = m.Serial
		}
	}
	if serial == "" {
		return s.NoInstrument("INSTRUMENT", o.instrument)
	}
	since := s.Job.OpenedAt
	for _, e := range s.Job.Counted() { // by a clock that was set back, the first is not the earliest
		if e.At.Before(since) {
			since = e.At
		}
	}
	if o.since != "" {
		if since, err = s.Moment(o.since); err != nil {
			return err
		}
	}
	data := report.FoundBad{Serial: serial, Since: since.Format(time.RFC3339), Why: o.why}
	if err := s.Add(ctx, chain.Draft{Kind: report.EntryBad, Data: data}); err != nil {
		return err
	}
	touched := 0
	for _, st := range s.Job.States {
		if why := s.Job.Lapsed(st); why != "" {
			touched++
			fmt.Fprintf(o.env.Out, "%s: %s\n", st.Check.ID, why)
		}
	}
	fmt.Fprintf(o.env.Out, "serial %s: found bad; %s\n", serial, report.Count(touched, "finding does not count", "findings do not count"))
	return nil
}
