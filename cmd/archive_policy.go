package cmd

import (
	"context"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"handback/records/archive"
	"handback/report"
)

type archivePolicyOptions struct {
	*archiveAt
	file string
	json bool
}

func newArchivePolicy(at *archiveAt) *cobra.Command {
	o := &archivePolicyOptions{archiveAt: at}
	c := &cobra.Command{
		Use: "policy", Short: "what is asked of a bag before it is taken", Args: exactly(),
		Long: `Print the policy in force with its number, and the files it names. With --set FILE
another policy is put in force, with the files that it names; earlier ones are kept, and
each bag tells the number of the one it was held against. Bags that are here stay. Bags
in quarantine are looked at again when they are added again.

Times in the list of keys that name no zone are UTC.`,
		Example: "  handback archive policy\n  handback archive policy --set intake.yaml",
		RunE:    taking(runArchivePolicy, o),
	}
	c.Flags().StringVar(&o.file, "set", "", "policy file to put in force")
	jsonFlag(c, &o.json)
	return c
}

// policyReport is the policy in force.
type policyReport struct {
	Number int          `json:"number"`          // 0 where nothing is asked but that a bag is intact
	Since  string       `json:"since,omitempty"` // when it was put in force
	Text   string       `json:"text"`            // the policy file
	Files  []policyFile `json:"files"`           // that it names
}

// policyFile is a file that a policy names.
type policyFile struct {
	Part  string `json:"part"`
	Name  string `json:"name"`
	Bytes int    `json:"bytes"`
}

func runArchivePolicy(ctx context.Context, o *archivePolicyOptions) error {
	if o.file == "" {
		return o.reading(ctx, func(a *archive.Archive) error { return o.print(ctx, a) })
	}
	parts, err := policyParts(o.file)
	if err != nil {
		return err
	}
	return o.adding(ctx, func(a *archive.Archive) error {
		if err := a.SetPolicy(ctx, parts, o.env.Now()); err != nil {
			return err
		}
		if o.json {
			return o.print(ctx, a)
		}
		_, number, err := a.Policy(ctx)
		if err == nil {
			_, err = fmt.Fprintf(o.env.Out, "policy %d is in force\n", number)
		}
		return err
	})
}

func (o *archivePolicyOptions) print(ctx context.Context, a *archive.Archive) error {
	parts, number, err := a.Policy(ctx)
	if err != nil {
		return err
	}
	r := policyReport{Number: number}
	for _, p := range parts {
		if p.Part == archive.PartPolicy {
			r.Since, r.Text = p.Since, string(p.Body)
		} else {
			r.Files = append(r.Files, policyFile{p.Part, p.Name, len(p.Body)})
		}
	}
	switch {
	case o.json:
		return printJSON(o.env.Out, r)
	case number == 0:
		fmt.Fprintln(o.env.Out, "nothing is asked but that a bag is intact and its signatures fit")
	default:
		fmt.Fprintf(o.env.Out, "policy %d, in force since %s\n%s\n", r.Number, r.Since, strings.TrimRight(r.Text, "\n"))
	}
	for _, p := range r.Files {
		fmt.Fprintf(o.env.Out, "%s: %s, %s\n", p.Part, p.Name, report.Count(p.Bytes, "byte", "bytes"))
	}
	return nil
}
