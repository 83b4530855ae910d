package cmd

import (
	"context"
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"handback/cmd/review"
	"handback/cmd/session"
	"handback/report"
	points "handback/report/review"
)

type reviewOptions struct {
	review.Options
	key  string
	json bool
}

func newReview(env *session.Env) *cobra.Command {
	o := &reviewOptions{Options: review.Options{Env: env}}
	c := &cobra.Command{
		Use: "review JOB [CHECK] --by ENGINEER", Short: "be led through what an engineer decides",
		Args: func(c *cobra.Command, args []string) error {
			if len(args) < 1 || len(args) > 2 {
				return session.Usagef("review takes a JOB and at most one CHECK, %s; type: %s", given(len(args)), c.UseLine())
			}
			return nil
		},
		Long: `Be led, as an engineer of the plan, through what in a job needs a look: findings that
did not pass, readings kept although in doubt, amendments, notes, defects, skips,
overrides, what has lapsed, times that were put right or recorded late; each with its
reading, limit, margin and working. What is new since the last review comes first.

At each: accept WHY, as the command of that name does, signed here with the key that
--key names or ssh-agent holds, or else a key file that is asked for once; order WHY, the
check or the step is taken again; ask TEXT, a question that wants an answer; say TEXT, a comment; next,
back, list, quit. An order counts as open until a newer attempt was judged, a question
until it is answered; hold points below wait for both, and walk shows them where
they belong. withdraw NUMBER WHY takes one's own back. With CHECK that one is looked
at alone, one that passes too. Every decision is on the disk before the next question.`,
		Example:           "  handback review t2-return-1 --by jonas\n  handback review t2-return-1 volts-t2 --by jonas\n  handback review t2-return-1 --json",
		ValidArgsFunction: completeJobs(env, session.CheckIDs),
		RunE:              taking(runReview, o, &o.Job, &o.Check),
	}
	jsonFlag(c, &o.json)
	c.Flags().StringVar(&o.By, "by", "", "who reviews, an engineer of the plan")
	c.Flags().StringVar(&o.key, "key", "", "to sign what is accepted: key file, or for a key that ssh-agent holds its public key file or SHA256 fingerprint")
	c.Flags().BoolVar(&o.All, "all", false, "what was looked at before, too")
	return c
}

// reviewReport is what in a job there is to look at.
type reviewReport struct {
	Job     string         `json:"job"`
	By      string         `json:"by,omitempty"` // to whom new is new; nobody: to every engineer
	Points  []points.Point `json:"points"`
	Remarks []remarkReport `json:"remarks"`
}

// remarkReport is an order, a question or a comment as it stands.
type remarkReport struct {
	report.Remarked
	Entry  int    `json:"entry"`
	By     string `json:"by"`
	Check  string `json:"check,omitempty"`
	Open   bool   `json:"open"`
	Became string `json:"became,omitempty"` // answered, repeated or withdrawn
}

func remarks(j *report.Job) []remarkReport {
	out := []remarkReport{}
	for _, r := range j.Remarks {
		out = append(out, remarkReport{r.Remarked, r.Seq, r.By, r.Check, j.Stands(r), j.BecameWords(r)})
	}
	return out
}

func runReview(ctx context.Context, o *reviewOptions) error {
	if !o.json {
		if o.By == "" {
			return session.Usagef("a review is an engineer's: --by ENGINEER")
		}
		keys := &keyring{env: o.Env, name: o.key, asks: true}
		defer keys.release()
		o.Sign, o.Keyed = keys.accept, o.key != ""
		return review.Run(ctx, &o.Options)
	}
	s, err := session.OpenSeen(ctx, o.Env, o.Job)
	if err != nil {
		return err
	}
	defer s.Close()
	if o.By != "" {
		if err := s.Job.MayReview(o.By); err != nil {
			return err
		}
	}
	list := points.Points(s.Job, o.Env.Now(), o.By)
	if o.Check != "" {
		if _, err := s.Check(o.Check); err != nil {
			return err
		}
		list = []points.Point{points.Of(s.Job, o.Check)}
	}
	return printJSON(o.Env.Out, reviewReport{s.Job.ID, o.By, append([]points.Point{}, list...), remarks(s.Job)})
}

// printWaits tells what was ordered or asked in a review, and waits.
func printWaits(w io.Writer, waits []string) {
	for i, text := range waits {
		if i == 0 {
			fmt.Fprintln(w, "\nordered or asked in a review:")
		}
		fmt.Fprintf(w, "  %s\n", text)
	}
}
