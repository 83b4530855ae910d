package cmd

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"handback/checks"
	"handback/checks/quantity"
	"handback/cmd/session"
	"handback/report"
	"handback/report/seal"
)

type planBaselineOptions struct {
	env      *session.Env
	job, out string
	change   string
	checks   []string
	force    bool
}

func newPlanBaseline(env *session.Env) *cobra.Command {
	o := &planBaselineOptions{env: env}
	c := &cobra.Command{
		Use: "baseline JOB", Short: "print what an earlier job measured, for the next plan to compare with", Args: exactly("JOB"),
		Long: `Print the baseline of a plan from an earlier job of the record book, or from a bag: a
folder, a file ending in .zip, or - for one from stdin. It goes into the next plan of the same plant as it is;
then each of these values shows there how it changed since. With --change the change is
judged too, as a check of its own: 2 % of what it was, or an amount in its unit.

Without --check the values are those that belong to the plant and not to the day, of
resistance, capacitance and ratio, as far as they rest on a reading. With --check, given once or more, they are all values
of those checks. Of a check that was repeated the newest attempt counts, and only one
that passed, or that an engineer accepted. What is known as a bound only is left out.`,
		Example:           "  handback plan baseline t2-return-1\n  handback plan baseline t2-return-1.zip --check hv-ohms --change '2 %' -o baseline.yaml",
		ValidArgsFunction: completeJobOrFile(env),
		RunE:              taking(runPlanBaseline, o, &o.job),
	}
	c.Flags().StringArrayVar(&o.checks, "check", nil, "check whose values are wanted; may be given more than once")
	c.Flags().StringVar(&o.change, "change", "", "how far each may have changed, such as 2 %")
	outputFlag(c, &o.out, &o.force)
	return c
}

func runPlanBaseline(ctx context.Context, o *planBaselineOptions) error {
	if o.change != "" {
		if a, err := quantity.ParseAmount(o.change); err != nil {
			return session.Usagef("--change: %v", err)
		} else if a.Of != "share" {
			return session.Usagef("--change %s: a share such as 2 %% is wanted; an amount is written into the plan for each value", o.change)
		}
	}
	job, done, err := o.open(ctx)
	if err != nil {
		return err
	}
	defer done()
	if len(job.Differs) > 0 {
		return fmt.Errorf("%s: %w: %s", o.job, session.ErrIntegrity, job.Differs[0])
	}
	for _, id := range o.checks {
		if job.State(id) == nil {
			return session.Apart(session.Usagef("job %s has no check %q", job.ID, id), session.Parts{Where: "--check", Met: id, Accepted: idsOfChecks(job)})
		}
	}
	var out bytes.Buffer
	n := 0
	for _, s := range job.States {
		a := s.LastJudged()
		if a == nil || a.Unjudged() || !(s.Verdict() == checks.Pass || s.IsConceded()) || len(o.checks) > 0 && !slices.Contains(o.checks, s.Check.ID) {
			continue
		}
		for _, d := range a.Finding.Derived {
			if o.wants(d) {
				n++
				o.line(&out, job, s, a, d)
			}
		}
	}
	if n == 0 {
		return fmt.Errorf("job %s has no such value; name a check with --check", job.ID)
	}
	return print(o.env, append([]byte("baseline:\n"), out.Bytes()...), o.out, o.force)
}

// open gives the job of the book, or that of a bag in which nothing is wrong.
func (o *planBaselineOptions) open(ctx context.Context) (*report.Job, func(), error) {
	v := verifyOptions{env: o.env, job: o.job}
	if !v.isFile(ctx) {
		s, err := session.OpenRead(ctx, o.env, o.job)
		if err != nil {
			return nil, nil, err
		}
		return s.Job, func() { s.Close() }, nil
	}
	b, done, err := openBag(o.env, o.job)
	if err != nil {
		return nil, nil, fmt.Errorf("bag %s: %w", o.job, plainPathError(err))
	}
	x := seal.ExamineBag(b)
	if x.Job == nil || len(x.Faults) > 0 {
		return nil, nil, errors.Join(done(), fmt.Errorf("bag %s: %w: %s", o.job, session.ErrIntegrity, strings.Join(x.Faults, "; ")))
	}
	return x.Job, func() { done() }, nil
}

// ofPlant are the quantities that belong to the plant and not to the day it is measured
// on (our choice).
var ofPlant = []string{"resistance", "capacitance", "number"}

func (o *planBaselineOptions) wants(d checks.Derived) bool {
	of := quantity.QuantityOf(unitOf(d))
	if d.Since != nil || d.Bound != "" || of == "" || !quantity.Finite(d.Value) || len(d.Expr.Readings()) == 0 {
		return false
	}
	return len(o.checks) > 0 || slices.Contains(ofPlant, of) && d.Value != 0
}

func unitOf(d checks.Derived) string {
	if d.Unit == "" {
		return "1"
	}
	return d.Unit
}

// line is a value as the plan has it, with its name beside.
func (o *planBaselineOptions) line(out *bytes.Buffer, j *report.Job, s *report.State, a *report.Attempt, d checks.Derived) {
	change := ""
	if o.change != "" && d.Value != 0 { // a share of nothing is none
		change = ", change: " + o.change
	}
	was := strconv.FormatFloat(d.Value, 'g', 6, 64) + " " + unitOf(d)
	source := fmt.Sprintf("job %s, entry %d", j.ID, a.Seq)
	fmt.Fprintf(out, "  - {check: %s, key: %s, was: %s, source: %q, date: %s%s} # %s\n", s.Check.ID, d.Key, was, source, a.At.Format("2006-01-02"), change, report.OneLine(d.Name))
}

func idsOfChecks(job *report.Job) []string {
	var ids []string
	for _, s := range job.States {
		ids = append(ids, s.Check.ID)
	}
	return ids
}
