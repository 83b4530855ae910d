package cmd

import (
	"context"
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"handback/report"
)

type handoverOptions struct {
	env                  *Env
	job, out, text, page string
	force                bool
}

func newHandover(env *Env) *cobra.Command {
	o := &handoverOptions{env: env}
	c := &cobra.Command{
		Use: "handover JOB", Short: "make the handover workbook, page and text", Args: exactly("JOB"),
		Long: `Make the handover of a job as it stands at its last entry: a workbook to sign and
archive, a page with pictures for any browser, to read or to print, and a text for a
terminal or a letter. The page needs nothing beside it, and shows how the judged values
came out in earlier jobs of the book on the same plant. The same job gives the same
bytes. A handover can be made of an unfinished job; it says so on its first page.

A file that is there already is replaced when it is an earlier one of this job in which
nothing was filled in or changed; any other only with --force.`,
		Example:           "  handback handover t2-return-1\n  handback handover t2-return-1 --page t2-return-1.html --text -",
		ValidArgsFunction: completeJobs(env, nil),
		RunE: func(c *cobra.Command, args []string) error {
			o.job = args[0]
			return runHandover(c.Context(), o)
		},
	}
	c.Flags().StringVarP(&o.out, "output", "o", "", "workbook to write; JOB-handover.xlsx when not given")
	c.Flags().StringVar(&o.page, "page", "", "page to write (HTML)")
	c.Flags().StringVar(&o.text, "text", "", "text to write; - for stdout")
	forceFlag(c, &o.force)
	return c
}

func runHandover(ctx context.Context, o *handoverOptions) error {
	s, err := openRead(ctx, o.env, o.job)
	if err != nil {
		return err
	}
	defer s.close()
	s.readFiles(ctx)
	if o.out == "" {
		o.out = s.job.ID + "-handover.xlsx"
	}
	outs := o.outputs(s.job)
	if err := o.env.mayWrite(o.force, outs...); err != nil {
		return err
	}
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
	made := []func(*report.Document) ([]byte, error){report.Workbook, report.Page, textBytes}
	for i, out := range outs {
		if out.path == "" {
			continue
		}
		data, err := made[i](doc)
		if err != nil {
			return err
		}
		if err := report.WriteFile(out.path, data, o.env.over(out, o.force)); err != nil {
			return err
		}
		if i == 0 {
			fmt.Fprintf(o.env.Err, "%s: %s\n", out.path, doc.Overall.Words)
		}
	}
	if o.text != "-" {
		return nil
	}
	text, err := report.Text(doc)
	if err != nil {
		return err
	}
	_, err = io.WriteString(o.env.Out, text)
	return err
}

// outputs are the files to write: workbook, page and text.
func (o *handoverOptions) outputs(j *report.Job) []output {
	text := o.text
	if text == "-" {
		text = ""
	}
	return []output{
		{o.out, func(data []byte) error { return report.IsEarlierWorkbook(data, j) }},
		{o.page, func(data []byte) error { return report.IsEarlierPage(data, j) }},
		{text, func(data []byte) error { return report.IsEarlierText(data, j) }},
	}
}

func textBytes(d *report.Document) ([]byte, error) {
	text, err := report.Text(d)
	return []byte(text), err
}
