package cmd

import (
	"context"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"handback/checks"
	"handback/cmd/session"
	"handback/records/chain"
	"handback/report"
)

type acceptOptions struct {
	env                  *session.Env
	job, check, engineer string
	reason               string
}

func newAccept(env *session.Env) *cobra.Command {
	o := &acceptOptions{env: env}
	c := &cobra.Command{
		Use: "accept JOB CHECK --engineer WHO --reason WHY", Short: "accept a finding that did not pass, or a device found otherwise", Args: exactly("JOB", "CHECK"),
		Long: `Record that an engineer of the plan accepts a finding that did not pass, with the
reason. The finding stays as it is; the hold points that waited for it are free of it. A stop
is not lifted by a concession: it stays on the first page of the handover, and the
way past it is to take the check again. A check that was skipped is accepted as not
done, by an engineer who did not skip it; a proof of dead never is. In place of CHECK
a device may be named that was found otherwise than recorded: until an engineer accepts
that, or records it, the job is not ready.`,
		Example: `  handback accept t2-return-1 unbalance --engineer jonas --reason "single-phase heater load; removed before full load"
  handback accept t2-return-1 inc2 --engineer jonas --reason "tripped by the test set; closed again under section 8.1"`,
		ValidArgsFunction: completeJobs(env, func(s *session.Session) []string { return append(session.CheckIDs(s), session.DeviceIDs(s)...) }),
		RunE:              taking(runAccept, o, &o.job, &o.check),
	}
	c.Flags().StringVar(&o.engineer, "engineer", "", "who accepts it, an engineer of the plan")
	c.Flags().StringVar(&o.reason, "reason", "", "why it is accepted")
	return c
}

func runAccept(ctx context.Context, o *acceptOptions) error {
	if strings.TrimSpace(o.engineer) == "" || strings.TrimSpace(o.reason) == "" {
		return session.Usagef("a concession needs a name and a reason: --engineer WHO --reason WHY")
	}
	s, err := session.OpenWrite(ctx, o.env, o.job, o.engineer)
	if err != nil {
		return err
	}
	defer s.Close()
	if _, device := s.Job.StandingOf(o.check); device && s.Job.Plan.Check(o.check) == nil {
		return o.found(ctx, s)
	}
	c, err := s.Check(o.check)
	if err != nil {
		return err
	}
	st := s.Job.State(c.ID)
	if err := s.Job.MayAccept(st, o.engineer, o.reason); err != nil {
		return err
	}
	if st.Skip != nil {
		return o.skipped(ctx, s, st)
	}
	a := st.LastJudged()
	data := report.Conceded{Attempt: a.Number, Engineer: o.engineer, Verdict: a.Finding.Verdict, Stop: a.Finding.Stop.Code, Reason: o.reason}
	if err := s.Add(ctx, chain.Draft{Kind: report.EntryConcede, Check: c.ID, Data: data}); err != nil {
		return err
	}
	fmt.Fprintf(o.env.Out, "%s, attempt %d (%s): accepted by %s: %s\n", c.ID, a.Number, a.Finding.Verdict, s.Job.PersonName(o.engineer), o.reason)
	if a.Told.Stop != nil {
		fmt.Fprintf(o.env.Out, "THE STOP STANDS: %s\nno concession lifts it; it stays on the first page of the handover; take the check again\n", a.Told.Stopping())
	}
	return nil
}

// found accepts that a device was found otherwise than recorded.
func (o *acceptOptions) found(ctx context.Context, s *session.Session) error {
	entry, err := s.Job.MayAcceptFound(o.check, o.engineer, o.reason)
	if err != nil {
		return err
	}
	data := report.Conceded{Engineer: o.engineer, Verdict: checks.Missing, Reason: o.reason, Found: entry}
	if err := s.Add(ctx, chain.Draft{Kind: report.EntryConcede, Data: data}); err != nil {
		return err
	}
	fmt.Fprintf(o.env.Out, "%s, found otherwise (entry %d): accepted by %s: %s\n", s.Job.Plan.Network.Named(o.check), entry, s.Job.PersonName(o.engineer), o.reason)
	return nil
}

// skipped accepts a check that was left out as not done.
func (o *acceptOptions) skipped(ctx context.Context, s *session.Session, st *report.State) error {
	skip := st.Skip
	data := report.Conceded{Engineer: o.engineer, Verdict: checks.Missing, Reason: o.reason, Skip: skip.Seq}
	if err := s.Add(ctx, chain.Draft{Kind: report.EntryConcede, Check: st.Check.ID, Data: data}); err != nil {
		return err
	}
	fmt.Fprintf(o.env.Out, "%s, skipped (%s): accepted as not done by %s: %s\n", st.Check.ID, skip.Why, s.Job.PersonName(o.engineer), o.reason)
	return nil
}
