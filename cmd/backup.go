package cmd

import (
	"context"
	"fmt"

	"github.com/spf13/cobra"

	"handback/records"
	"handback/report"
)

func newBackup(env *Env) *cobra.Command {
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

func runBackup(ctx context.Context, env *Env, file string) error {
	book, err := records.OpenRead(ctx, env.Book)
	if err != nil {
		return env.noBook(err)
	}
	defer book.Close()
	if file == "-" {
		return usagef("-: a backup does not go to stdout; name a file, or ./- for one of that name")
	}
	if _, err := env.over(output{}, true).Target(file); err != nil { // Backup itself replaces nothing
		return err
	}
	c, err := book.Backup(ctx, file)
	if err != nil {
		return err
	}
	fmt.Fprintln(env.Out, file)
	fmt.Fprintf(env.Err, "%s of record book %s, verified\nbring it back with: %s\n", copiedWords(c), book.Path(), env.hint("restore", file))
	return nil
}

func copiedWords(c records.Copied) string {
	return fmt.Sprintf("%s, %s", report.Count(c.Jobs, "job", "jobs"), report.Count(c.Entries, "entry", "entries"))
}

type restoreOptions struct {
	env   *Env
	file  string
	force bool
}

func newRestore(env *Env) *cobra.Command {
	o := &restoreOptions{env: env}
	c := &cobra.Command{
		Use: "restore FILE", Short: "bring the record book back from a backup", Args: exactly("FILE"),
		Long: `Put a backup in the place of the record book, or make the record book of it where
there is none. The backup is verified first. A record book that holds entries which
the backup lacks, or that cannot be read, is replaced only with --force, and is kept
beside it under a name with the time in it: nothing is lost. No other handback may
have the record book open.`,
		Example: "  handback restore book-2026-05-12.db",
		RunE: func(c *cobra.Command, args []string) error {
			o.file = args[0]
			return runRestore(c.Context(), o)
		},
	}
	c.Flags().BoolVar(&o.force, "force", false, "replace a record book that holds more, or that cannot be read; it is kept beside")
	return c
}

func runRestore(ctx context.Context, o *restoreOptions) error {
	r, err := records.Restore(ctx, o.file, o.env.Book, o.force, o.env.Now())
	if err != nil {
		return err
	}
	fmt.Fprintln(o.env.Out, r.Book)
	fmt.Fprintf(o.env.Err, "%s restored and verified\n", copiedWords(r.Copied))
	if r.Kept != "" {
		kept := Env{Book: r.Kept, named: true}
		fmt.Fprintf(o.env.Err, "the record book that was there is kept; look at it with: %s\n", kept.hint("doctor"))
	}
	return nil
}
