package cmd

import (
	"context"
	"fmt"
	"maps"

	"github.com/spf13/cobra"

	"handback/checks"
	"handback/records"
	"handback/report"
)

type correctOptions struct {
	env                 *Env
	job, check, by, why string
	pairs               []string
}

func newCorrect(env *Env) *cobra.Command {
	o := &correctOptions{env: env}
	c := &cobra.Command{
		Use: "correct JOB CHECK key=value… --why WHY", Short: "put a slip in a judged check right", Args: atLeast("JOB", "CHECK", "key=value"),
		Long: `Put readings of a judged check right: a slip of the pen, not a new reading (that is
a repeat). The old answer stays visible beside the new one with the reason. The
check, and every check that used its readings, is judged again.`,
		Example:           `  handback correct t2-return-1 hv "value=11.08 kV" --why "digits swapped on the sheet"`,
		ValidArgsFunction: completeJobs(env, checkIDs),
		RunE: func(c *cobra.Command, args []string) error {
			o.job, o.check, o.pairs = args[0], args[1], args[2:]
			return runCorrect(c.Context(), o)
		},
	}
	c.Flags().StringVar(&o.by, "by", "", "who corrects, a person of the plan; its only technician when not given")
	c.Flags().StringVar(&o.why, "why", "", "why the old answer is wrong")
	return c
}

func runCorrect(ctx context.Context, o *correctOptions) error {
	if o.why == "" {
		return usagef("a correction needs its reason: --why WHY")
	}
	s, err := openWrite(ctx, o.env, o.job, o.by)
	if err != nil {
		return err
	}
	defer s.close()
	c, err := s.check(o.check)
	if err != nil {
		return err
	}
	a := s.job.State(c.ID).Last()
	if a == nil || !a.Judged {
		return fmt.Errorf("check %s is not judged yet: go on with handback walk or enter, there the line can be typed again", c.ID)
	}
	got, err := parsePairs(s.job.Again(s.job.State(c.ID)), o.pairs)
	if err != nil {
		return fmt.Errorf("%w; nothing was stored", err)
	}
	drafts := []records.Draft{{Kind: report.KindCorrect, Check: c.ID, Data: report.Corrected{Attempt: a.Number, Answers: got, Why: o.why}}}
	drafts = append(drafts, s.judgeAgain(c, a, got)...)
	if err := s.add(ctx, drafts...); err != nil {
		return err
	}
	for _, d := range drafts[1:] {
		fmt.Fprintf(o.env.Out, "%s, attempt %d, judged again:\n", d.Check, s.job.State(d.Check).Judged().Number)
		printFinding(o.env.Out, s.job.State(d.Check).Judged().Finding, briefly)
	}
	return nil
}

// judgeAgain judges the corrected check, and each later check whose finding
// comes out otherwise with the corrected answers.
func (s *session) judgeAgain(c *checks.Check, a *report.Attempt, got checks.Answers) []records.Draft {
	var drafts []records.Draft
	changed := map[string]checks.Past{}
	for _, st := range s.job.States {
		old := st.Judged()
		if old == nil {
			continue
		}
		in := s.job.Again(st)
		if st.Check == c {
			in.Answers = merged(in.Answers, got)
		}
		maps.Copy(in.Before, changed)
		in.At = s.env.Now()
		f := checks.Judge(in)
		was, is := report.NewJudged(old.Number, old.Finding, ""), report.NewJudged(old.Number, f, "")
		if st.Check != c && report.SameJudgement(was, is) {
			continue
		}
		changed[st.Check.ID] = checks.Past{Answers: in.Answers, Finding: f, At: old.At}
		is.Because = "answers of " + c.ID + " were corrected"
		drafts = append(drafts, records.Draft{Kind: report.KindJudge, Check: st.Check.ID, Data: is})
	}
	return drafts
}
