package cmd

import (
	"github.com/spf13/cobra"

	"handback/cmd/session"
)

func newKey(env *session.Env) *cobra.Command {
	c := &cobra.Command{
		Use: "key", Short: "make a key to sign with, and show it for the plan",
		Example: "  handback key new -o jonas-key\n  handback key show jonas-key",
		Args:    cobra.ArbitraryArgs,
		RunE:    chosen,
	}
	c.AddCommand(newKeyNew(env), newKeyShow(env))
	return c
}
