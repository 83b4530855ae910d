package cmd

import (
	"strings"

	"github.com/spf13/cobra"

	"handback/cmd/session"
	"handback/templates"
)

func newPlanNew(env *session.Env) *cobra.Command {
	var out string
	var force bool
	c := &cobra.Command{
		Use: "new WORK", Short: "write a commented starter plan", Args: exactly("WORK"),
		Long:      "Write a commented starter plan, for one of: " + strings.Join(templates.Plans(), ", ") + ".",
		Example:   "  handback plan new tap-change -o plan.yaml",
		ValidArgs: templates.Plans(),
		RunE: func(c *cobra.Command, args []string) error {
			data, err := templates.Plan(args[0])
			if err != nil {
				return session.NoSuch("WORK", args[0], templates.Plans(), "no starter plan %q", args[0])
			}
			return print(env, data, out, force)
		},
	}
	outputFlag(c, &out, &force)
	return c
}
