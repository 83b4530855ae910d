package cmd

import (
	"context"
	"encoding/hex"
	"fmt"
	"io"
	"path/filepath"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"handback/checks"
	"handback/records"
	"handback/report"
)

type openOptions struct {
	env      *Env
	file, by string
	again    bool
}

func newOpen(env *Env) *cobra.Command {
	o := &openOptions{env: env}
	c := &cobra.Command{
		Use: "open PLAN", Short: "put a plan to work as a job", Args: exactly("PLAN"),
		Long: `Put a plan to work as a job. The plan is frozen into the job as it stands now: a
later change of the file changes nothing here. The job's name is printed; its
entries go to the record book. A plan that plan check objects to is not opened, and
neither is one whose job in the same book is still open, unless --again is given.`,
		Example: "  handback open plan.yaml",
		RunE: func(c *cobra.Command, args []string) error {
			o.file = args[0]
			return runOpen(c.Context(), o)
		},
	}
	c.Flags().StringVar(&o.by, "by", "", "who opens it, a person of the plan; the plan's only technician when not given")
	c.Flags().BoolVar(&o.again, "again", false, "open another job though one of this plan is still open")
	return c
}

func runOpen(ctx context.Context, o *openOptions) error {
	data, plan, err := readPlan(o.file)
	if err != nil {
		return err
	}
	by, err := person(plan, o.by)
	if err != nil {
		return err
	}
	nonce := make([]byte, 16)
	if _, err := io.ReadFull(o.env.Random, nonce); err != nil {
		return fmt.Errorf("no random bytes for the job: %w", err)
	}
	book, err := records.OpenOrCreate(ctx, o.env.Book)
	if err != nil {
		return err
	}
	defer book.Close()
	if err := o.alreadyOpen(ctx, book, plan); err != nil {
		return err
	}
	draft := records.Draft{At: o.env.Now(), By: by, Kind: report.KindOpen, Data: report.Opening{
		Title: plan.Title, PlanFile: filepath.Base(o.file), Program: o.env.Program}}
	if err := records.PlainTexts(draft.Data); err != nil {
		return err
	}
	e, err := book.NewJob(ctx, plan.ID, draft, data, hex.EncodeToString(nonce))
	if err != nil {
		return err
	}
	fmt.Fprintln(o.env.Out, e.Job)
	fmt.Fprintf(o.env.Err, "%s is open in %s\ngo on with: %s\n", plan.Title, book.Path(), o.env.hint("walk", e.Job))
	return nil
}

// alreadyOpen refuses a second job of a plan while one is still open: two jobs of one
// piece of work would each hold half of its readings.
func (o *openOptions) alreadyOpen(ctx context.Context, book *records.Book, plan *checks.Plan) error {
	if o.again {
		return nil
	}
	jobs, err := book.Jobs(ctx)
	if err != nil {
		return err
	}
	for _, listed := range jobs {
		if !jobOfPlan(listed.ID, plan.ID) {
			continue
		}
		entries, err := book.Entries(ctx, listed.ID)
		if err != nil {
			return err
		}
		job, err := foldJob(ctx, book, entries)
		if err != nil {
			continue // what is not read is not gone on with
		}
		if is := job.Overall(o.env.Now()); !is.Ready {
			return fmt.Errorf("job %s of plan %s, opened %s, is still open (%s); go on with: handback walk %s; or open another with --again",
				listed.ID, plan.ID, listed.Opened.Format("2006-01-02 15:04"), is.Words, listed.ID)
		}
	}
	return nil
}

// jobOfPlan tells whether a job's name is that of a plan with a number: t2-return-3.
func jobOfPlan(job, plan string) bool {
	number, ok := strings.CutPrefix(job, plan+"-")
	_, err := strconv.ParseUint(number, 10, 32)
	return ok && err == nil
}

// readPlan reads and loads a plan file that is to be worked by: what speaks against
// that is an error too.
func readPlan(file string) ([]byte, *checks.Plan, error) {
	data, err := readFile(file, records.MaxPlan)
	if err != nil {
		return nil, nil, fmt.Errorf("plan %s: %w", file, err)
	}
	plan, err := checks.LoadPlan(file, data)
	if err == nil && len(plan.Objections()) > 0 {
		err = plan.Objections()
	}
	if err != nil {
		return nil, nil, err
	}
	return data, plan, nil
}
