package cmd

import (
	"context"
	"fmt"

	"github.com/spf13/cobra"

	"handback/cmd/session"
	"handback/report/fieldsheet"
)

type sheetOptions struct {
	env      *session.Env
	job, out string
	force    bool
}

func newSheet(env *session.Env) *cobra.Command {
	o := &sheetOptions{env: env}
	c := &cobra.Command{
		Use: "sheet JOB", Short: "make a field sheet to fill in away from the laptop", Args: exactly("JOB"),
		Long: `Make a workbook with a form for every open check, to fill in on a tablet or to
print and write on. Cells to fill in are open, all others are locked. Take it back
with handback read. A sheet that is there already is replaced while nothing is filled
in; any other file only with --force.`,
		Example:           "  handback sheet t2-return-1",
		ValidArgsFunction: completeJobs(env, nil),
		RunE:              taking(runSheet, o, &o.job),
	}
	c.Flags().StringVarP(&o.out, "output", "o", "", "workbook to write; JOB-sheet.xlsx when not given")
	forceFlag(c, &o.force)
	return c
}

func runSheet(ctx context.Context, o *sheetOptions) error {
	s, err := session.OpenRead(ctx, o.env, o.job)
	if err != nil {
		return err
	}
	defer s.Close()
	if o.out == "" {
		o.out = s.Job.ID + "-sheet.xlsx"
	}
	out := output{o.out, func(data []byte) error { return fieldsheet.IsBlank(data, s.Job) }, bytesOut}
	if err := mayWrite(o.env, o.force, out); err != nil {
		return err
	}
	data, err := fieldsheet.Make(s.Job, o.env.Now())
	if err != nil {
		return err
	}
	if err := write(o.env, data, out, o.force); err != nil {
		return err
	}
	fmt.Fprintf(o.env.Err, "%s: the open checks of %s; take it back with: %s\n", o.out, s.Job.ID, o.env.Hint("read", s.Job.ID, o.out))
	return nil
}
