package cmd

import (
	"context"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"handback/cmd/session"
	"handback/records/bag"
	"handback/report"
	"handback/report/files"
	"handback/report/seal"
)

type packOptions struct {
	env      *session.Env
	job, out string
}

func newPack(env *session.Env) *cobra.Command {
	o := &packOptions{env: env}
	c := &cobra.Command{
		Use: "pack JOB", Short: "pack everything of a job into a bag", Args: exactly("JOB"),
		Long: `Pack a job as it stands into a bag after RFC 8493 (BagIt 1.0): a folder, or a zip
archive of one where the name ends in .zip. It holds the plan, every entry as it was
hashed, the handover as workbook, page and text, the attachments as they were stored,
statements with their signatures, and HOW-TO-CHECK.txt, which tells how to check all
of it with sha256sum, ssh-keygen and a shell. The same job gives the same bytes. A
file or folder that is there already is never written over.

Attached photographs go along as they were stored, with the place where they were
taken unless it was dropped when they were attached.`,
		Example:           "  handback pack t2-return-1 -o t2-return-1.zip\n  handback verify t2-return-1.zip",
		ValidArgsFunction: completeJobs(env, nil),
		RunE:              taking(runPack, o, &o.job),
	}
	c.Flags().StringVarP(&o.out, "output", "o", "", "folder, or file ending in .zip; JOB.zip when not given")
	return c
}

func runPack(ctx context.Context, o *packOptions) error {
	s, err := session.OpenRead(ctx, o.env, o.job)
	if err != nil {
		return err
	}
	defer s.Close()
	plan, err := s.Book.Plan(ctx, s.Job.PlanHash)
	if err != nil {
		return err
	}
	if len(s.Job.Differs) > 0 {
		return fmt.Errorf("job %s: %w: %s; every fault is named by: %s", s.Job.ID, session.ErrIntegrity, s.Job.Differs[0], o.env.Hint("verify", s.Job.ID))
	}
	readFiles(s, ctx)
	if strings.TrimSpace(o.out) == "" {
		o.out = s.Job.ID + ".zip"
	}
	if o.out == "-" {
		return session.Usagef("-: a bag does not go to stdout; name a file ending in .zip or a folder, or ./- for one of that name")
	}
	err = files.WriteBag(o.out, s.Job.ID, over(o.env, output{}, false), func(to bag.BagSink) error { return seal.Pack(to, s.Job, plan, o.env.Program) })
	if err != nil {
		return err
	}
	head := s.Job.Head()
	fmt.Fprintf(o.env.Out, "%s\n", o.out)
	fmt.Fprintf(o.env.Err, "job %s: %s, head %s\ncheck it with: %s\n", s.Job.ID, report.Count(head.Seq, "entry", "entries"), head.Hash, o.env.Hint("verify", pathWord(o.out)))
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
func readFiles(s *session.Session, ctx context.Context) {
	s.Job.Files = func(hash string) ([]byte, error) { return s.Book.File(ctx, hash) }
}
