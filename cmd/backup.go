package cmd

import (
	"context"
	"fmt"

	"github.com/spf13/cobra"

	"handback/cmd/session"
	"handback/records"
	"handback/report"
)

func newBackup(env *session.Env) *cobra.Command {
	return &cobra.Command{
		Use: "backup FILE", Short: "copy the record book, whole and checked, while it is in use", Args: exactly("FILE"),
		Long: `Copy the record book into a new file, as it stands at this moment. A walk that is
under way goes on meanwhile. Every entry, plan and attachment of the copy is hashed
again before it gets its name; nothing is ever written over.

Do not copy the file of the record book by hand: while handback runs, or after it was
killed, the newest entries are in the file beside it that ends in -wal.`,
		Example: "  handback backup book-2026-05-12.db",
		RunE: func(c *cobra.Command, args []string) error {
			return runBackup(c.Context(), env, args[0])
		},
	}
}

func runBackup(ctx context.Context, env *session.Env, file string) error {
	book, err := records.OpenRead(ctx, env.Book)
	if err != nil {
		return env.NoBook(err)
	}
	defer book.Close()
	if file == "-" {
		return session.Usagef("-: a backup does not go to stdout; name a file, or ./- for one of that name")
	}
	if _, err := over(env, output{}, true).Target(file); err != nil { // Backup itself replaces nothing
		return err
	}
	done := env.Working("copying and verifying %s", book.Path())
	c, err := book.Backup(ctx, file)
	if done(); err != nil {
		return err
	}
	env.Made(file)
	fmt.Fprintln(env.Out, file)
	fmt.Fprintf(env.Err, "%s of record book %s, verified\nbring it back with: %s\n", copiedWords(c), book.Path(), env.Hint("restore", file))
	return nil
}

func copiedWords(c records.Copied) string {
	return fmt.Sprintf("%s, %s", report.Count(c.Jobs, "job", "jobs"), report.Count(c.Entries, "entry", "entries"))
}
