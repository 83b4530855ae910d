package cmd

import (
	"fmt"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"handback/cmd/session"
	"handback/report/legend"
)

type versionOptions struct {
	env            *session.Env
	licences, json bool
}

func newVersion(env *session.Env) *cobra.Command {
	o := &versionOptions{env: env}
	c := &cobra.Command{
		Use: "version", Short: "what this program is, what it was built from and what is linked into it", Args: exactly(),
		Long: `Tell the release, the commit and the Go release that this program was built from, and
the modules that are linked into it. With --licences each with its licence, by its SPDX
identifier, and the licence of handback itself.`,
		Example: "  handback version\n  handback version --licences",
		RunE:    func(*cobra.Command, []string) error { return runVersion(o) },
	}
	c.Flags().BoolVar(&o.licences, "licences", false, "tell the licences, too")
	jsonFlag(c, &o.json)
	return c
}

// versionReport is what this program is.
type versionReport struct {
	Release string `json:"release"`
	session.Build
	Modules []legend.Module `json:"modules"`
}

func runVersion(o *versionOptions) error {
	if o.json {
		return printJSON(o.env.Out, versionReport{session.Version, o.env.Built, legend.Modules()})
	}
	fmt.Fprintf(o.env.Out, "handback %s\n", session.Version)
	if built := o.env.Built.String(); built != "" {
		fmt.Fprintln(o.env.Out, built)
	}
	tw := tabwriter.NewWriter(o.env.Out, 0, 0, 2, ' ', 0)
	for _, m := range legend.Modules() {
		line := "  " + m.Path + "\t" + m.Version
		if o.licences {
			line += "\t" + m.Licence
		}
		fmt.Fprintln(tw, line)
	}
	if err := tw.Flush(); err != nil || !o.licences {
		return err
	}
	_, err := fmt.Fprintf(o.env.Out, "\nThe standard library of Go is under BSD-3-Clause; SQLite is in the public domain.\nThe licence of handback:\n\n%s", legend.Licence())
	return err
}
