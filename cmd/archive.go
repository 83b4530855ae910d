package cmd

import (
	"github.com/spf13/cobra"

	"handback/cmd/session"
)

func newArchive(env *session.Env) *cobra.Command {
	c := &cobra.Command{
		Use: "archive", Short: "put jobs away so that they can be checked for decades", Args: cobra.ArbitraryArgs,
		Long: `Put jobs away so that they can be checked for decades, by people who do not have
this program.`,
		Example: "  handback archive pack t2-return-1 -o t2-return-1.zip",
		RunE:    chosen,
	}
	c.AddCommand(newArchivePack(env))
	return c
}
