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
		RunE: func(c *cobra.Command, args []string) error {
			if len(args) > 0 {
				return session.Usagef("archive has no command %q; type: handback archive --help", args[0])
			}
			return c.Help()
		},
	}
	c.AddCommand(newArchivePack(env))
	return c
}
