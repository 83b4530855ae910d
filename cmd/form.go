package cmd

import (
	"cmp"
	"fmt"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"handback/checks/plan"
	"handback/cmd/session"
	"handback/records/chain"
	"handback/report"
	"handback/report/form"
	"handback/templates"
)

func newForm(env *session.Env) *cobra.Command {
	c := &cobra.Command{
		Use: "form", Short: "tell what an owner's form of a handover can be made of", Args: cobra.ArbitraryArgs,
		Long: `Tell what an owner's form of a handover can be made of. A plan gives it (form: logo,
heading, number, labels), or the options of handover; handover --template fills in a
letter or certificate of the owner's own.`,
		Example: "  handback form labels -o labels.yaml",
		RunE:    chosen,
	}
	c.AddCommand(newFormLabels(env), newFormFields(env))
	return c
}

// newFormLabels prints a file of labels.
func newFormLabels(env *session.Env) *cobra.Command {
	var out string
	var force bool
	c := &cobra.Command{
		Use: "labels [LANGUAGE]", Short: "print the fixed labels of a handover, to put them into another language", Args: cobra.MaximumNArgs(1),
		Long: `Print a file of labels: every fixed label of workbook, page and text in English, each
with itself, to put another language in its place; or the file that ships for LANGUAGE.
A plan (form, labels) or handover --labels takes the file. What is left out of it stays
in English. %s and %d are places that values go in; they keep their order.`,
		Example:   "  handback form labels -o labels.yaml\n  handback form labels de",
		ValidArgs: templates.Languages(),
		RunE: func(c *cobra.Command, args []string) error {
			language := append(args, "de")[0]
			data, err := templates.LabelFile(language)
			if err != nil {
				return session.NoSuch("LANGUAGE", language, templates.Languages(), "no labels ship in %q", language)
			}
			if len(args) == 0 {
				labels, err := form.ReadLabels(data)
				if err != nil {
					return err
				}
				data = []byte("language: en\nlabels:\n")
				for _, english := range labels.English() {
					data = fmt.Appendf(data, "  %q: %q\n", english, english)
				}
			}
			return print(env, data, out, force)
		},
	}
	outputFlag(c, &out, &force)
	return c
}

// formDrafts are the entries that keep the files which a plan names for its form of
// handovers: read beside the plan now, and looked at, so that the job can do without them.
func formDrafts(planFile, by string, p *plan.Plan) ([]chain.Draft, error) {
	var out []chain.Draft
	for _, f := range []struct{ what, file string }{{chain.FormLogo, p.Form.Logo}, {chain.FormLabels, p.Form.Labels}} {
		if f.file == "" {
			continue
		}
		content, err := formFile(f.what, filepath.Dir(planFile), f.file)
		if err != nil {
			return nil, fmt.Errorf("plan %s: form.%s: %w", planFile, f.what, err)
		}
		a := chain.NewAttached(f.file, content, f.what+" of the form of handovers", f.what == chain.FormLogo)
		a.Form = f.what
		out = append(out, chain.Draft{Kind: report.EntryAttach, By: by, Data: a, File: content})
	}
	return out, nil
}

// formFile reads a file of a form and takes it only if a handover could be made with it;
// of a logo what its pixels do not need is left out.
func formFile(what, dir, file string) ([]byte, error) {
	if what == chain.FormLabels && slices.Contains(templates.Languages(), file) {
		return templates.LabelFile(file)
	}
	if !filepath.IsAbs(file) {
		file = filepath.Join(dir, file)
	}
	content, err := readPlain(file, max(form.MaxLogo, form.MaxLabels)+1)
	if err == nil && what == chain.FormLabels {
		_, err = form.ReadLabels(content)
	} else if err == nil {
		logo, bad := form.ReadLogo(content)
		if err = bad; err == nil {
			content = logo.Content
		}
	}
	if err != nil {
		return nil, fmt.Errorf("%s: %w", file, err)
	}
	return content, nil
}

// newFormDrafts leaves out of drafts what the job keeps already.
func newFormDrafts(j *report.Job, drafts []chain.Draft) []chain.Draft {
	return slices.DeleteFunc(drafts, func(d chain.Draft) bool {
		a := d.Data.(chain.Attached)
		kept := j.FormFile(a.Form)
		return kept != nil && kept.SHA256 == a.SHA256
	})
}

// formFlags are what a handover takes in place of the form of its plan.
type formFlags struct{ logo, heading, number, labels string }

func (f *formFlags) add(c *cobra.Command) {
	c.Flags().StringVar(&f.logo, "logo", "", "PNG file to show on the first page, in place of the plan's")
	c.Flags().StringVar(&f.heading, "heading", "", "heading of every page, in place of the plan's")
	c.Flags().StringVar(&f.number, "form-number", "", "number of the form at the head of every page, in place of the plan's")
	c.Flags().StringVar(&f.labels, "labels", "", "file of labels in another language, or one that ships ("+strings.Join(templates.Languages(), ", ")+"), in place of the plan's")
}

// over is a form with what the flags give in its place.
func (f *formFlags) over(is form.Form) (form.Form, error) {
	is.Heading, is.Number = cmp.Or(f.heading, is.Heading), cmp.Or(f.number, is.Number)
	if f.logo != "" {
		content, err := formFile(chain.FormLogo, "", f.logo)
		if err == nil {
			is.Logo, err = form.ReadLogo(content)
		}
		if err != nil {
			return form.Form{}, fmt.Errorf("--logo %w", err)
		}
	}
	if f.labels != "" {
		content, err := formFile(chain.FormLabels, "", f.labels)
		if err == nil {
			is.Labels, err = form.ReadLabels(content)
		}
		if err != nil {
			return form.Form{}, fmt.Errorf("--labels %w", err)
		}
	}
	return is, nil
}
