package cmd

import (
	"context"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"handback/records/bag"
	"handback/report"
)

func newArchive(env *Env) *cobra.Command {
	c := &cobra.Command{
		Use: "archive", Short: "put jobs away so that they can be checked for decades", Args: cobra.ArbitraryArgs,
		Long: `Put jobs away so that they can be checked for decades, by people who do not have
this program.`,
		Example: "  handback archive pack t2-return-1 -o t2-return-1.zip",
		RunE: func(c *cobra.Command, args []string) error {
			if len(args) > 0 {
				return usagef("archive has no command %q; type: handback archive --help", args[0])
			}
			return c.Help()
		},
	}
	c.AddCommand(newArchivePack(env))
	return c
}

type packOptions struct {
	env      *Env
	job, out string
}

func newArchivePack(env *Env) *cobra.Command {
	o := &packOptions{env: env}
	c := &cobra.Command{
		Use: "pack JOB", Short: "pack everything of a job into a bag", Args: exactly("JOB"),
		Long: `Pack a job as it stands into a bag after RFC 8493 (BagIt 1.0): a folder, or a zip
archive of one where the name ends in .zip. It holds the plan, every entry as it was
hashed, the handover as workbook, page and text, the attachments as they were kept,
statements with their signatures, and HOW-TO-CHECK.txt, which tells how to check all
of it with sha256sum, ssh-keygen and a shell. The same job gives the same bytes. A
file or folder that is there already is never written over.

Attached photographs go along as they were kept, with the place where they were
taken unless it was dropped when they were attached.`,
		Example:           "  handback archive pack t2-return-1 -o t2-return-1.zip\n  handback verify t2-return-1.zip",
		ValidArgsFunction: completeJobs(env, nil),
		RunE: func(c *cobra.Command, args []string) error {
			o.job = args[0]
			return runPack(c.Context(), o)
		},
	}
	c.Flags().StringVarP(&o.out, "output", "o", "", "folder, or file ending in .zip; JOB.zip when not given")
	return c
}

func runPack(ctx context.Context, o *packOptions) error {
	s, err := openRead(ctx, o.env, o.job)
	if err != nil {
		return err
	}
	defer s.close()
	plan, err := s.book.Plan(ctx, s.job.PlanHash)
	if err != nil {
		return err
	}
	if len(s.job.Differs) > 0 {
		return fmt.Errorf("job %s: %w: %s; every fault is named by: %s", s.job.ID, errIntegrity, s.job.Differs[0], o.env.hint("verify", s.job.ID))
	}
	s.readFiles(ctx)
	if strings.TrimSpace(o.out) == "" {
		o.out = s.job.ID + ".zip"
	}
	if o.out == "-" {
		return usagef("-: a bag does not go to stdout; name a file ending in .zip or a folder, or ./- for one of that name")
	}
	err = report.WriteBag(o.out, s.job.ID, o.env.over(output{}, false), func(to bag.BagSink) error { return report.PackBag(to, s.job, plan, o.env.Program) })
	if err != nil {
		return err
	}
	head := s.job.Head()
	fmt.Fprintf(o.env.Out, "%s\n", o.out)
	fmt.Fprintf(o.env.Err, "job %s: %s, head %s\ncheck it with: %s\n", s.job.ID, report.Count(head.Seq, "entry", "entries"), head.Hash, o.env.hint("verify", pathWord(o.out)))
	return nil
}

// pathWord is a path as verify takes it for one, and never for the name of a job.
func pathWord(path string) string {
	if strings.ContainsAny(path, `/\`) || strings.HasSuffix(path, ".zip") {
		return path
	}
	return "./" + path
}

// readFiles lets the job read its attachments from the book.
func (s *session) readFiles(ctx context.Context) {
	s.job.Files = func(hash string) ([]byte, error) { return s.book.File(ctx, hash) }
}
