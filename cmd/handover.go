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
	s.readFiles(ctx)
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
