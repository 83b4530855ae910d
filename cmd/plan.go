package cmd

import (
	"github.com/spf13/cobra"

	"handback/cmd/session"
)

func newPlan(env *session.Env) *cobra.Command {
	c := &cobra.Command{
		Use: "plan", Short: "write, check and compare plans", Args: cobra.ArbitraryArgs,
		Example: "  handback plan new tap-change -o plan.yaml\n  handback plan check plan.yaml",
		RunE:    chosen,
	}
	c.AddCommand(newPlanNew(env), newPlanCheck(env), newPlanDiff(env), newPlanSteps(env), newPlanBaseline(env))
	return c
}
