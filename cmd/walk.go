package cmd

import (
	"context"
	"time"

	"github.com/spf13/cobra"

	"handback/checks"
	"handback/cmd/session"
	"handback/cmd/walk"
	"handback/report"
)

func newWalk(env *session.Env) *cobra.Command {
	o := &walk.Options{Env: env, Photo: photoDraft}
	var asJSON bool
	c := &cobra.Command{
		Use: "walk JOB", Short: "be led through the checks of a job", Args: exactly("JOB"),
		Long: `Be led through the checks of a job, from the next open one. Values of one row may
be typed on one line (249.1 248.7 249.0), with units (0.249 kV) and a decimal
comma; joints alike may follow on the same line. What will pass with the instrument
in hand stands beside each reading. Every accepted line is on the disk before the
next question; whatever happens, walk goes on from there. Volts read a few minutes
before at the same point with the same instrument are not asked again. A check that
is read over hours is left between its readings; when nothing else is open, walk
waits for the next one.

At any question: back, skip WHY, use ID (another instrument), anew (read what was
taken over), list, go CHECK, status, note WORDS, defect WHERE: WHAT,
photo, amend, quit, help. A reading that cannot
be right is asked again; keep WHY keeps it. A check that fails is taken again with
repeat WHY, one joint or phase of it with repeat L2 WHY. A hold point stops the walk
until its checks pass; done says that its step has been done.

A refused line comes back on a terminal: arrows and backspace put it right, a letter or
a digit begins it anew. HANDBACK_PLAIN=1 asks again without it, and NO_COLOR=1 leaves out
bold. Was the program killed just then, and the terminal is silent: type reset.

With --json all that is asked and told goes to stderr, and at the end one document says
what was recorded, how the walk ended and what is asked next.`,
		Example:           "  handback walk t2-return-1\n  handback walk t2-return-1 --check volts-t2",
		ValidArgsFunction: completeJobs(env, nil),
		RunE: func(c *cobra.Command, args []string) error {
			o.Job = args[0]
			if asJSON {
				return walkInJSON(c.Context(), o)
			}
			return walk.Run(c.Context(), o)
		},
	}
	jsonFlag(c, &asJSON)
	c.Flags().StringVar(&o.By, "by", "", "who is testing, a person of the plan; its only technician when not given")
	c.Flags().StringVar(&o.Check, "check", "", "take this check now, again if it was judged")
	return c
}

// walkReport is what was recorded in a walk, and how it ended.
type walkReport struct {
	Job     string         `json:"job"`
	Entries []writtenEntry `json:"entries" title:"added to the record, in their order"`
	Ended   string         `json:"ended" title:"nothing-left to take, quit, input-ended, interrupted, or failed"`
	Check   string         `json:"check,omitempty" title:"inside which it ended"`
	Verdict string         `json:"verdict" title:"of the job, as status gives it"`
	Ready   bool           `json:"ready"`
	Next    string         `json:"next" title:"the check, hold point or step that is open next"`
	Gaps    []report.Gap   `json:"gaps" title:"what the hold point that is next waits for"`
	Asks    []checks.Field `json:"asks" title:"what the check that is next has not been told yet"`
}

// walkInJSON is a walk with its account on stdout, and everything that is told on stderr.
func walkInJSON(ctx context.Context, o *walk.Options) error {
	out, done := o.Env.Out, &session.Done{}
	o.Env.Out, o.Env.Done = o.Env.Err, done
	o.Ended = func(s *session.Session, how, check string) error {
		if how == walk.Failed && len(done.Entries) == 0 {
			return nil // the error says all there is
		}
		now := s.Env.Now()
		all, err := s.Job.Standing(now)
		if err != nil {
			return err
		}
		r := walkReport{Job: s.ID, Entries: newWritten(done, false, "").Entries, Ended: how, Check: check, Verdict: all.Code, Ready: all.Ready, Next: nextOpen(s.Job, now)}
		if h := s.Job.Plan.Hold(r.Next); h != nil {
			r.Gaps = s.Job.Gaps(h, now)
		}
		r.Asks = s.OpenFields(r.Next)
		return printJSON(out, r)
	}
	err := walk.Run(ctx, o)
	o.Env.Out = out
	return err
}

// nextOpen is the check, hold point or step that is open next, or the check that waits for
// its next reading; "" for none.
func nextOpen(j *report.Job, now time.Time) string {
	if it, ok := j.Next(now); ok {
		return it.ID()
	}
	if s, _, ok := j.Waiting(now); ok {
		return s.Check.ID
	}
	return ""
}
