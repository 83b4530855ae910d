package cmd

import (
	"context"
	"fmt"

	"github.com/spf13/cobra"

	"handback/cmd/session"
	"handback/records"
)

type restoreOptions struct {
	env   *session.Env
	file  string
	force bool
}

func newRestore(env *session.Env) *cobra.Command {
	o := &restoreOptions{env: env}
	c := &cobra.Command{
		Use: "restore FILE", Short: "bring the record book back from a backup", Args: exactly("FILE"),
		Long: `Put a backup in the place of the record book, or make the record book of it where
there is none. The backup is verified first. A record book that holds entries which
the backup lacks, or that cannot be read, is replaced only with --force, and is kept
beside it under a name with the time in it: nothing is lost. No other handback may
have the record book open.`,
		Example: "  handback restore book-2026-05-12.db",
		RunE:    taking(runRestore, o, &o.file),
	}
	c.Flags().BoolVar(&o.force, "force", false, "replace a record book that holds more, or that cannot be read; it is stored beside")
	return c
}

func runRestore(ctx context.Context, o *restoreOptions) error {
	r, err := records.Restore(ctx, o.file, o.env.Book, o.force, o.env.Now())
	if err != nil {
		return err
	}
	o.env.Made(r.Book)
	fmt.Fprintln(o.env.Out, r.Book)
	fmt.Fprintf(o.env.Err, "%s restored and verified\n", copiedWords(r.Copied))
	if r.Kept != "" {
		kept := session.Env{Book: r.Kept, Named: true}
		fmt.Fprintf(o.env.Err, "the record book that was there is still stored; look at it with: %s\n", kept.Hint("doctor"))
	}
	return nil
}
