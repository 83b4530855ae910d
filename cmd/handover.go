package cmd

import (
	"context"
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"handback/cmd/session"
	"handback/report"
	"handback/report/page"
	"handback/report/seal"
	"handback/report/workbook"
)

type handoverOptions struct {
	env                  *session.Env
	job, out, text, page string
	force                bool
	form                 formFlags
	template             string
}

func newHandover(env *session.Env) *cobra.Command {
	o := &handoverOptions{env: env}
	c := &cobra.Command{
		Use: "handover JOB", Short: "make the handover workbook, page and text", Args: exactly("JOB"),
		Long: `Make the handover of a job as it stands at its last entry: a workbook to sign and
archive, a page with pictures for any browser, to read or to print, and a text for a
terminal or a letter. The page needs nothing beside it. Page and workbook show how the
judged values came out in earlier jobs of the book on the same plant. The same job gives
the same bytes. A handover can be made of an unfinished job; it says so on its first page.

The owner's form comes from the plan or from the options: a logo, a heading and a form
number, and the fixed labels in another language. A file of labels gives each by the
English one; what the record says, verdicts and cautions stay as they are: begin from
what form labels prints.

--template fills in a letter or certificate of the owner's own over the same data; what
it may place, form fields lists. Such a letter is not signed and not verified: it names
the record it was made from where it places .Head.

A file that is there already is replaced when it is an earlier one of this job in which
nothing was filled in or changed; any other only with --force.`,
		Example:           "  handback handover t2-return-1\n  handback handover t2-return-1 --page t2-return-1.html --text -\n  handback handover t2-return-1 --template certificate.html -o certificate-t2.html",
		ValidArgsFunction: completeJobs(env, nil),
		RunE:              taking(runHandover, o, &o.job),
	}
	c.Flags().StringVarP(&o.out, "output", "o", "", "workbook to write; JOB-handover.xlsx when not given")
	c.Flags().StringVar(&o.page, "page", "", "page to write (HTML)")
	c.Flags().StringVar(&o.text, "text", "", "text to write; - for stdout, as for workbook and page")
	c.Flags().StringVar(&o.template, "template", "", "fill in this text or HTML template instead, and write it to the output; see: handback form fields")
	o.form.add(c)
	forceFlag(c, &o.force)
	return c
}

func runHandover(ctx context.Context, o *handoverOptions) error {
	s, err := session.OpenRead(ctx, o.env, o.job)
	if err != nil {
		return err
	}
	defer s.Close()
	readFiles(s, ctx)
	dress := func(d *report.Document) (err error) { d.Form, err = o.form.over(d.Form); return err }
	if o.template != "" {
		return o.letter(ctx, s, dress)
	}
	if o.out == "" {
		o.out = s.Job.ID + "-handover.xlsx"
	}
	e, err := earlier(s, ctx)
	if err != nil {
		return err
	}
	outs := o.outputs(s.Job, e, dress)
	if err := mayWrite(o.env, o.force, outs...); err != nil {
		return err
	}
	doc, err := report.NewDocument(s.Job, s.Job.Head().At, e...)
	if err == nil {
		err = dress(doc)
	}
	if err != nil {
		return err
	}
	defer o.env.Working("making the handover of job %s", s.ID)()
	writes := []func(io.Writer, *report.Document) error{workbook.Write, page.Write, writeSummary}
	for i, out := range outs {
		if out.path == "" {
			continue
		}
		if err := stream(o.env, out, o.force, func(w io.Writer) error { return writes[i](w, doc) }); err != nil {
			return err
		}
		if i == 0 {
			fmt.Fprintf(o.env.Err, "%s: %s\n", out.path, doc.Overall.Words)
		}
	}
	return nil
}

// outputs are the files to write: workbook, page and text, in the form that dress gives.
func (o *handoverOptions) outputs(j *report.Job, earlier []*report.Job, dress func(*report.Document) error) []output {
	return []output{
		{o.out, func(data []byte) error { return seal.IsEarlierWorkbook(data, j, dress, earlier...) }, bytesOut},
		{o.page, func(data []byte) error { return page.IsEarlierPage(data, j) }, textOut},
		{o.text, func(data []byte) error { return page.IsEarlierText(data, j, dress) }, textOut},
	}
}

func writeSummary(w io.Writer, d *report.Document) error {
	text, err := page.Text(d)
	if err == nil {
		_, err = io.WriteString(w, text)
	}
	return err
}
