package cmd

import (
	"github.com/spf13/cobra"

	"handback/checks/plan"
	"handback/cmd/session"
)

func newPlanSchema(env *session.Env) *cobra.Command {
	var out string
	var force bool
	c := &cobra.Command{
		Use: "schema", Short: "print the JSON Schema of plans", Args: exactly(),
		Long:    "Print the JSON Schema (draft 2020-12) of plan files, for editors that complete and check YAML.",
		Example: "  handback plan schema -o plan.schema.json",
		RunE: func(c *cobra.Command, args []string) error {
			data, err := plan.Schema()
			if err != nil {
				return err
			}
			return print(env, data, out, force)
		},
	}
	outputFlag(c, &out, &force)
	return c
}
