package cmd

import (
	"fmt"
	"io"
	"strings"
	"text/tabwriter"
	"time"

	"github.com/spf13/cobra"

	"handback/checks"
	"handback/checks/plan"
	"handback/cmd/session"
	"handback/report/manual"
	"handback/templates"
)

type kindsOptions struct {
	env                  *session.Env
	kind, out            string
	json, example, force bool
}

func newKinds(env *session.Env) *cobra.Command {
	o := &kindsOptions{env: env}
	c := &cobra.Command{
		Use: "kinds [KIND]", Short: "list the kinds of checks, or tell one", ValidArgs: plan.KindNames(),
		Args: func(c *cobra.Command, args []string) error {
			if len(args) > 1 {
				return session.Usagef("kinds takes one KIND or none, %d were given", len(args))
			}
			return nil
		},
		Long: `List the kinds of checks; or tell what one kind asks, what it must be given, how
it judges and where its limits come from, with an example that try accepts.`,
		Example: "  handback kinds\n  handback kinds sync\n  handback kinds sync --example -o sync.yaml",
		RunE: func(c *cobra.Command, args []string) error {
			if len(args) == 1 {
				o.kind = args[0]
			}
			return runKinds(o)
		},
	}
	jsonFlag(c, &o.json)
	c.Flags().BoolVar(&o.example, "example", false, "print only the example file")
	outputFlag(c, &o.out, &o.force)
	return c
}

func unknownKind(name string) error {
	return session.NoSuch("kind", name, plan.KindNames(), "no kind %q", name)
}

// kindReport tells one kind.
type kindReport struct {
	Kind       string           `json:"kind"`
	Title      string           `json:"title"`
	Group      string           `json:"group"`
	Shows      string           `json:"shows"`
	How        string           `json:"how,omitempty"`
	Parameters []plan.Parameter `json:"parameters,omitempty"`
	Asks       []checks.Field   `json:"asks,omitempty"` // as its example asks
	Sources    []string         `json:"sources,omitempty"`

	Unread   []checks.UnreadSource `json:"unread,omitempty"` // of the sources, those nobody here has read
	Cautions []string              `json:"cautions,omitempty"`
	Example  string                `json:"example,omitempty"`
}

func runKinds(o *kindsOptions) error {
	if o.out != "" && (o.kind == "" || !o.example) {
		return session.Usagef("-o goes with a KIND and --example alone")
	}
	if o.kind == "" {
		return listKinds(o)
	}
	if checks.KindNamed(o.kind) == nil {
		return unknownKind(o.kind)
	}
	r, err := tellKind(o.kind, o.env.Now())
	if err != nil {
		return err
	}
	switch {
	case o.json:
		return printJSON(o.env.Out, r)
	case o.example:
		return print(o.env, []byte(r.Example), o.out, o.force)
	}
	return printKind(o.env.Out, r)
}

func listKinds(o *kindsOptions) error {
	list := []kindReport{}
	for _, name := range plan.KindNames() {
		b, err := templates.Kind(name)
		if err != nil {
			return err
		}
		k := checks.KindNamed(name)
		list = append(list, kindReport{Kind: name, Title: k.Title, Group: k.Group, Shows: b.Shows})
	}
	if o.json {
		return printJSON(o.env.Out, list)
	}
	tw := tabwriter.NewWriter(o.env.Out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(tw, "KIND\tWHAT\tWHERE")
	for _, k := range list {
		fmt.Fprintf(tw, "%s\t%s\t%s\n", k.Kind, k.Title, strings.ToLower(k.Group))
	}
	return tw.Flush()
}

func tellKind(name string, now time.Time) (kindReport, error) {
	b, err := templates.Kind(name)
	if err != nil {
		return kindReport{}, err
	}
	trial, err := plan.LoadTrial(name+" example", []byte(b.Trial))
	if err != nil {
		return kindReport{}, err
	}
	list := trial.Plan.Checks()
	c := list[len(list)-1]
	in := checks.Input{Plan: trial.Plan, Check: c, Answers: checks.Answers{}, Before: checks.Pasts{}, At: now}
	k := checks.KindNamed(name)
	return kindReport{Kind: name, Title: k.Title, Group: k.Group, Shows: b.Shows, How: b.How, Parameters: k.Parameters(),
		Asks: in.Form(), Sources: k.Sources, Unread: checks.UnreadOf(k), Cautions: k.Cautions, Example: b.Trial}, nil
}

func printKind(w io.Writer, r kindReport) error {
	filled := func(text string) string { return session.Wrapped(text, "", manual.Width) }
	fmt.Fprintf(w, "%s: %s (%s)\n\n%s\n\n%s\n\n", r.Kind, r.Title, strings.ToLower(r.Group), filled(r.Shows), filled(r.How))
	tw := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	if len(r.Parameters) > 0 {
		fmt.Fprintln(tw, "given in the plan:")
		for _, p := range r.Parameters {
			need := ""
			if p.Need {
				need = "needed"
			}
			bounds := ""
			if p.Bounds != "" {
				bounds = "; " + p.Bounds
			}
			if len(p.One) > 0 {
				bounds += "; one of " + strings.Join(p.One, ", ")
			}
			fmt.Fprintf(tw, "  %s\t%s\t%s%s\n", p.Name, need, p.Doc, bounds)
		}
	}
	fmt.Fprintln(tw, "\nasked on site (as the example below asks it):")
	for _, f := range r.Asks {
		fmt.Fprintf(tw, "  %s\t%s\t%s\n", f.Key, f.Label, f.Accepts())
	}
	if err := tw.Flush(); err != nil {
		return err
	}
	fmt.Fprintln(w, "\nlimits come from:")
	for _, s := range r.Sources {
		fmt.Fprintf(w, "  %s\n", s)
	}
	for _, u := range r.Unread {
		fmt.Fprintf(w, "  not read by who wrote this: %s (%s: %s)\n", u.Source, u.How, u.What)
	}
	for _, s := range r.Cautions {
		fmt.Fprintf(w, "\n%s\n", filled("caution: "+s))
	}
	fmt.Fprintf(w, "\nan example; handback kinds %s --example prints it alone:\n\n%s", r.Kind, r.Example)
	return nil
}
