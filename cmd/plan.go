package cmd

import (
	"github.com/spf13/cobra"

	"handback/cmd/session"
)

func newPlan(env *session.Env) *cobra.Command {
	c := &cobra.Command{
		Use: "plan", Short: "write, check and describe plans", Args: cobra.ArbitraryArgs,
		Example: "  handback plan new tap-change -o plan.yaml\n  handback plan check plan.yaml",
		RunE: func(c *cobra.Command, args []string) error {
			if len(args) > 0 {
				return session.Usagef("no command \"plan %s\"%s; type: handback plan --help", args[0], suggestion(c, args[0]))
			}
			return c.Help()
		},
	}
	c.AddCommand(newPlanNew(env), newPlanCheck(env), newPlanSteps(env), newPlanSchema(env))
	return c
}
