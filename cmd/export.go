package cmd

import (
	"context"
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"handback/cmd/session"
	"handback/records/bag"
	"handback/report/export"
	"handback/report/files"
)

type exportOptions struct {
	env           *session.Env
	job, csv, out string
	json, force   bool
}

func newExport(env *session.Env) *cobra.Command {
	o := &exportOptions{env: env}
	c := &cobra.Command{
		Use: "export JOB", Short: "give the data of a job to other systems", Args: exactly("JOB"),
		Long: `Give everything of a job as data: its checks, findings, values worked out, readings,
steps, what was accepted and what shows who did, what reviews ordered, asked and said, and
entries.

--csv DIR makes a folder with one file a table and csv-metadata.json, which describes
columns, datatypes, keys and how the tables hang together, after the W3C's Metadata
Vocabulary for Tabular Data. A folder that is there already is never written over.

--json prints one document with the same rows; handback schema export prints its schema.

A reading is given as it was typed, as a number in the unit it was typed in, and in its
base unit; a value that was worked out in its own unit. Beside each unit stands its code
of the Unified Code for Units of Measure. What is no number is left out, never zero. The
same job gives the same bytes.`,
		Example:           "  handback export t2-return-1 --csv t2-return-1-data\n  handback export t2-return-1 --json -o t2-return-1.json",
		ValidArgsFunction: completeJobs(env, nil),
		RunE:              taking(runExport, o, &o.job),
	}
	c.Flags().StringVar(&o.csv, "csv", "", "folder to make, with a file for each table")
	jsonFlag(c, &o.json)
	outputFlag(c, &o.out, &o.force)
	return c
}

func runExport(ctx context.Context, o *exportOptions) error {
	switch {
	case (o.csv != "") == o.json:
		return session.Usagef("export takes --csv DIR or --json; type: %s", o.env.Hint("export", o.job, "--json"))
	case o.csv != "" && (o.out != "" || o.force):
		return session.Usagef("-o and --force go with --json; --csv names its folder")
	case o.csv == "-":
		return session.Usagef("-: a folder does not go to stdout; name one, or ./- for one of that name")
	}
	s, err := session.OpenSeen(ctx, o.env, o.job)
	if err != nil {
		return err
	}
	defer s.Close()
	if len(s.Job.Differs) > 0 {
		return fmt.Errorf("job %s: %w: %s; every fault is named by: %s", s.Job.ID, session.ErrIntegrity, s.Job.Differs[0], o.env.Hint("verify", s.Job.ID))
	}
	if o.json {
		write := func(w io.Writer) error { return export.JSON(w, s.Job) }
		if o.out == "" || o.out == "-" {
			return write(o.env.Out)
		}
		return files.Stream(o.out, over(o.env, output{path: o.out}, o.force), write)
	}
	err = files.WriteBag(o.csv, s.Job.ID, over(o.env, output{}, false), func(to bag.BagSink) error { return export.CSV(s.Job, to.Put) })
	if err != nil {
		return err
	}
	_, err = fmt.Fprintln(o.env.Out, o.csv)
	return err
}
