package cmd

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"handback/cmd/session"
	"handback/records"
	"handback/records/chain"
	"handback/report"
	"handback/report/fork"
)

type jobsOptions struct {
	env  *session.Env
	json bool
}

func newJobs(env *session.Env) *cobra.Command {
	o := &jobsOptions{env: env}
	c := &cobra.Command{
		Use: "jobs", Short: "list the jobs of the record book", Args: exactly(),
		Long: `List the jobs of the record book in the order they were opened. The identifier is the
beginning of the hash of a job's first entry, which holds a random text: two jobs that
were opened on two devices under one id are told apart by it.`,
		Example: "  handback jobs",
		RunE:    taking(runJobs, o),
	}
	jsonFlag(c, &o.json)
	return c
}

func runJobs(ctx context.Context, o *jobsOptions) error {
	jobs, err := listJobs(ctx, o.env)
	if err != nil {
		return err
	}
	if o.json {
		return printJSON(o.env.Out, jobs)
	}
	if len(jobs) == 0 {
		fmt.Fprintln(o.env.Err, "no jobs yet; begin with: "+o.env.Hint("open", "PLAN"))
		return nil
	}
	tw := tabwriter.NewWriter(o.env.Out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(tw, "JOB\tIDENTIFIER\tOPENED\tENTRIES\tTITLE")
	for _, j := range jobs {
		fmt.Fprintf(tw, "%s\t%s\t%s\t%d\t%s\n", j.ID, report.ShortHash(j.Hash), j.Opened.Format("2006-01-02 15:04"), j.Entries, j.Title)
	}
	if err := tw.Flush(); err != nil {
		return err
	}
	return o.parted(ctx, jobs)
}

// parted tells where somebody else went on with a job.
func (o *jobsOptions) parted(ctx context.Context, jobs []records.Job) error {
	if !slices.ContainsFunc(jobs, func(j records.Job) bool { return len(j.Branches) > 0 }) {
		return nil
	}
	book, err := records.OpenRead(ctx, o.env.Book)
	if err != nil {
		return err
	}
	defer book.Close()
	for _, j := range jobs {
		for _, b := range j.Branches {
			lines, err := book.Lines(ctx, j.ID)
			if err != nil {
				return err
			}
			fmt.Fprintf(o.env.Out, "%s parts from %s after entry %d: %s, until %s, %s\n", b.ID, j.ID, b.After,
				report.Count(b.Entries-b.After, "entry", "entries"), b.Last.Format("2006-01-02 15:04"), became(lines, b.HeadHash))
		}
	}
	return nil
}

// became says whether another continuation of a job was joined.
func became(lines []chain.Line, head string) string {
	for _, f := range fork.Of(lines[0].Entries, lines[1:]) {
		switch {
		case f.Head != head:
		case f.Superseded > 0:
			return "goes on for both"
		default:
			return "OPEN"
		}
	}
	return "joined"
}

// listJobs gives the jobs of the book, none when there is no book yet and none was
// named.
func listJobs(ctx context.Context, env *session.Env) ([]records.Job, error) {
	book, err := records.OpenRead(ctx, env.Book)
	if errors.Is(err, records.ErrNoBook) && !env.Named {
		return []records.Job{}, nil
	}
	if err != nil {
		return nil, env.NoBook(err)
	}
	defer book.Close()
	return book.Jobs(ctx)
}
