package cmd

import (
	"context"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"handback/cmd/session"
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
	draft, said, err := s.AcceptDraft(o.check, o.engineer, o.reason)
	if err != nil {
		return err
	}
	if err := s.Add(ctx, draft); err != nil {
		return err
	}
	fmt.Fprintln(o.env.Out, said)
	return nil
}
