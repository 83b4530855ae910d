package cmd

import (
	"context"
	"fmt"
	"strings"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"handback/cmd/session"
	"handback/report"
	"handback/report/letter"
)

// letter fills the owner's own template in with what the handover says.
func (o *handoverOptions) letter(ctx context.Context, s *session.Session, dress func(*report.Document) error) error {
	if o.page != "" || o.text != "" {
		return session.Usagef("--template makes one letter: make the page and the text by a command of their own")
	}
	form, err := letter.FormOf(o.template)
	if err != nil {
		return session.Usagef("--template %v", err)
	}
	if o.out == "" {
		o.out = s.Job.ID + "-" + letter.Name(o.template)
	}
	out := output{path: o.out, to: textOut}
	if err := mayWrite(o.env, o.force, out); err != nil {
		return err
	}
	source, err := readInput(o.env, o.template, letter.MaxTemplate)
	if err != nil {
		return fmt.Errorf("--template %w", err)
	}
	doc, err := report.NewDocument(s.Job, s.Job.Head().At)
	if err == nil {
		err = dress(doc)
	}
	if err != nil {
		return err
	}
	filled, err := letter.Fill(ctx, o.template, form, source, letter.From(doc))
	if err != nil {
		return fmt.Errorf("%w; what it may place: %s", err, o.env.Hint("form", "fields"))
	}
	if err := write(o.env, filled, out, o.force); err != nil {
		return err
	}
	fmt.Fprintf(o.env.Err, "%s: %s\n", o.out, doc.Overall.Words)
	o.silent(string(filled), doc)
	return nil
}

// silent says what a letter does not say and its reader must not miss.
func (o *handoverOptions) silent(filled string, d *report.Document) {
	has := func(words string) bool {
		return strings.Contains(strings.ToLower(strings.Join(strings.Fields(filled), " ")), strings.ToLower(words))
	}
	if !d.Overall.Ready && !has(d.Overall.Code) && !has(strings.ReplaceAll(d.Overall.Code, "-", " ")) {
		fmt.Fprintf(o.env.Err, "warning: the letter does not say that the job is %s: place .Overall or .Verdict\n", strings.ReplaceAll(d.Overall.Code, "-", " "))
	}
	if !has(report.Deferral) {
		fmt.Fprintln(o.env.Err, "warning: the letter does not say that local rules, the permit and the person licensed to decide come first: place .Deferral")
	}
}

// fieldsAnswer is the answer of form fields.
type fieldsAnswer struct {
	Fields    []letter.Field `json:"fields"`
	Functions []string       `json:"functions"`
}

// newFormFields lists what a template may place.
func newFormFields(env *session.Env) *cobra.Command {
	var asJSON bool
	c := &cobra.Command{
		Use: "fields", Short: "list what a template of a letter may place", Args: exactly(),
		Long: fmt.Sprintf(`List what a template of handover --template may place: every field with what it is, and
the functions. The list is read from the data themselves. A template is one of Go's
(text/template, html/template): {{.Job}}, {{range .Checks}}{{.Title}}: {{.Verdict}}{{end}}.
[] marks a list to range over. It gives at most %d MiB in at most %s.`, letter.MaxOutput>>20, letter.MaxTime),
		Example: "  handback form fields",
		RunE: func(*cobra.Command, []string) error {
			list := fieldsAnswer{letter.Fields(), letter.Functions()}
			if asJSON {
				return printJSON(env.Out, list)
			}
			tw := tabwriter.NewWriter(env.Out, 0, 0, 2, ' ', 0)
			for _, f := range list.Fields {
				fmt.Fprintf(tw, "%s\t%s\t%s\n", f.Path, f.Type, f.Doc)
			}
			if err := tw.Flush(); err != nil {
				return err
			}
			_, err := fmt.Fprintf(env.Out, "\n%s\n", session.Wrapped("functions: "+strings.Join(list.Functions, ", "), "  ", factWidth))
			return err
		},
	}
	jsonFlag(c, &asJSON)
	return c
}
