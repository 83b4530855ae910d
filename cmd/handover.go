package cmd

import (
	"context"
	"fmt"
	"io"
	"slices"
	"time"

	"github.com/spf13/cobra"

	"handback/checks"
	"handback/records"
	"handback/report"
)

type handoverOptions struct {
	env                  *Env
	job, out, text, page string
}

func newHandover(env *Env) *cobra.Command {
	o := &handoverOptions{env: env}
	c := &cobra.Command{
		Use: "handover JOB", Short: "make the handover workbook, page and text", Args: exactly("JOB"),
		Long: `Make the handover of a job as it stands at its last entry: a workbook to sign and
archive, a page with pictures for any browser, to read or to print, and a text for a
terminal or a letter. The page needs nothing beside it, and shows how the judged values
came out in earlier jobs of the book on the same plant. The same job gives the same
bytes. A handover can be made of an unfinished job; it says so on its first page.`,
		Example:           "  handback handover t2-return-1 -o handover.xlsx --page handover.html --text handover.txt",
		ValidArgsFunction: completeJobs(env, nil),
		RunE: func(c *cobra.Command, args []string) error {
			o.job = args[0]
			return runHandover(c.Context(), o)
		},
	}
	c.Flags().StringVarP(&o.out, "output", "o", "", "workbook to write; JOB.xlsx when not given")
	c.Flags().StringVar(&o.page, "page", "", "page to write (HTML)")
	c.Flags().StringVar(&o.text, "text", "", "text to write; - for stdout")
	return c
}

func runHandover(ctx context.Context, o *handoverOptions) error {
	s, err := openRead(ctx, o.env, o.job)
	if err != nil {
		return err
	}
	defer s.close()
	var earlier []*report.Job
	if o.page != "" {
		if earlier, err = s.earlier(ctx); err != nil {
			return err
		}
	}
	doc, err := report.NewDocument(s.job, s.job.Head().At, earlier...)
	if err != nil {
		return err
	}
	book, err := report.Workbook(doc)
	if err != nil {
		return err
	}
	if o.out == "" {
		o.out = s.job.ID + ".xlsx"
	}
	if err := report.WriteFile(o.out, book); err != nil {
		return err
	}
	fmt.Fprintf(o.env.Err, "%s: %s\n", o.out, doc.Overall.Words)
	if err := o.writePage(doc); err != nil {
		return err
	}
	return o.writeText(doc)
}

func (o *handoverOptions) writePage(doc *report.Document) error {
	if o.page == "" {
		return nil
	}
	page, err := report.Page(doc)
	if err != nil {
		return err
	}
	return report.WriteFile(o.page, page)
}

func (o *handoverOptions) writeText(doc *report.Document) error {
	if o.text == "" {
		return nil
	}
	text, err := report.Text(doc)
	if err != nil {
		return err
	}
	if o.text == "-" {
		_, err = io.WriteString(o.env.Out, text)
		return err
	}
	return report.WriteFile(o.text, []byte(text))
}

// earlierLooked is how many jobs opened before this one are looked at for its trend.
const earlierLooked = 100

// earlier gives the newest jobs on the same plant opened before this one, oldest
// first, as they stood at this job's last entry, so that the page of a finished job
// stays as it is. One that cannot be read is left out and named on stderr.
func (s *session) earlier(ctx context.Context) ([]*report.Job, error) {
	jobs, err := s.book.Jobs(ctx)
	if err != nil {
		return nil, err
	}
	slices.SortStableFunc(jobs, func(a, b records.Job) int { return b.Opened.Compare(a.Opened) })
	jobs = slices.DeleteFunc(jobs, func(j records.Job) bool { return !j.Opened.Before(s.job.OpenedAt) })
	var out []*report.Job
	same := map[string]bool{s.job.PlanHash: true} // whether the plan of this hash is for the same plant
	for _, listed := range jobs[:min(len(jobs), earlierLooked)] {
		of, known := same[listed.PlanHash]
		if !known {
			of, err = s.samePlant(ctx, listed)
			same[listed.PlanHash] = of
		}
		var j *report.Job
		if err == nil && of {
			j, err = s.asOf(ctx, listed.ID, s.job.Head().At)
		}
		if err != nil {
			fmt.Fprintf(s.env.Err, "job %s is left out of the trend: %v\n", listed.ID, err)
			err = nil
		} else if of {
			out = append(out, j)
		}
		if len(out) == report.TrendJobs {
			break
		}
	}
	slices.Reverse(out)
	return out, nil
}

// samePlant tells whether a job's plan is for the plant of this one's.
func (s *session) samePlant(ctx context.Context, of records.Job) (bool, error) {
	data, err := s.book.Plan(ctx, of.PlanHash)
	if err != nil {
		return false, err
	}
	plan, err := checks.LoadPlan(of.ID, data)
	if err != nil {
		return false, fmt.Errorf("its plan is not read by this version: %w", err)
	}
	return report.SamePlant(plan, s.job.Plan), nil
}

// asOf reads a job as it stood at a moment.
func (s *session) asOf(ctx context.Context, id string, at time.Time) (*report.Job, error) {
	entries, err := s.book.Entries(ctx, id)
	if err != nil {
		return nil, err
	}
	for i, e := range entries {
		if i > 0 && e.At.After(at) {
			entries = entries[:i]
			break
		}
	}
	return foldJob(ctx, s.book, entries)
}
