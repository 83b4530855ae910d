package cmd

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"handback/cmd/session"
	"handback/records/archive"
	"handback/report"
	"handback/report/files"
)

type archiveGetOptions struct {
	*archiveAt
	name, out         string
	quarantine, force bool
}

func newArchiveGet(at *archiveAt) *cobra.Command {
	o := &archiveGetOptions{archiveAt: at}
	c := &cobra.Command{
		Use: "get JOB", Short: "write the very bag of a job to a file", Args: exactly("JOB"),
		Long: `Write the bag that holds the newest state of a job to a file, byte for byte as it was
taken. It is hashed again on the way; one that is not as it was is not written. What was
removed from it since is told (archive redact). JOB is
what the job calls itself, its identifier, or the head of a state; of a hash eight digits
are enough. Of a forked job say which state by its head.

With --quarantine it is a bag that was refused, by its SHA-256.`,
		Example:           "  handback archive get t2-return-1 -o t2-return-1.zip\n  handback verify t2-return-1.zip",
		ValidArgsFunction: at.completeJobs,
		RunE:              taking(runArchiveGet, o, &o.name),
	}
	c.Flags().StringVarP(&o.out, "output", "o", "", "file to write, ending in .zip; JOB.zip when not given")
	forceFlag(c, &o.force)
	c.Flags().BoolVar(&o.quarantine, "quarantine", false, "a bag that was refused, by its SHA-256")
	return c
}

func runArchiveGet(ctx context.Context, o *archiveGetOptions) error {
	if strings.TrimSpace(o.out) == "" {
		o.out = o.name + ".zip"
	}
	if o.out == "-" || !isZip(o.out) {
		return session.Usagef("-o %s: name a file ending in .zip", o.out)
	}
	return o.reading(ctx, func(a *archive.Archive) error {
		path, hash, err := o.which(ctx, a)
		if err != nil {
			return notIntact(err)
		}
		defer a.Release(path)
		err = files.Stream(o.out, over(o.env, output{}, o.force), func(w io.Writer) error { return archive.CopyAs(w, path, hash) })
		if err != nil {
			return notIntact(err)
		}
		fmt.Fprintln(o.env.Out, o.out)
		fmt.Fprintf(o.env.Err, "SHA-256 %s; check it with: %s\n", hash, o.env.Hint("verify", pathWord(o.out)))
		return nil
	})
}

// notIntact has what is damaged end with the status of what is not intact.
func notIntact(err error) error {
	if errors.Is(err, archive.ErrDamaged) {
		return fmt.Errorf("%w: %w", session.ErrIntegrity, err)
	}
	return err
}

// which is the file that is meant, and what it must hash to.
func (o *archiveGetOptions) which(ctx context.Context, a *archive.Archive) (path, hash string, err error) {
	if !o.quarantine {
		b, err := a.State(ctx, o.name)
		if err != nil {
			return "", "", err
		}
		fmt.Fprintf(o.env.Err, "job %s, %s, head %s\n", report.ShortHash(b.Job), report.Count(b.Entries, "entry", "entries"), report.ShortHash(b.Head))
		removed, err := removedLines(ctx, a, b)
		for _, r := range removed {
			fmt.Fprintf(o.env.Err, "REMOVED %s\n", r.What)
		}
		if err != nil {
			return "", "", err
		}
		return a.File(ctx, b)
	}
	for r, err := range a.Quarantine(ctx, o.name) {
		if err != nil {
			return "", "", err
		}
		if r.SHA256 == o.name {
			path, err := a.RefusedFile(ctx, r)
			return path, r.SHA256, err
		}
	}
	return "", "", fmt.Errorf("no bag with the SHA-256 %.80q was refused; type: %s", o.name, o.hint("show", "--quarantine"))
}
