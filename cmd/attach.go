package cmd

import (
	"context"
	"errors"
	"fmt"

	"github.com/spf13/cobra"

	"handback/cmd/session"
	"handback/records/chain"
	"handback/report"
)

type attachOptions struct {
	env                *session.Env
	job, file          string
	caption, check, by string
	dropLocation       bool
}

func newAttach(env *session.Env) *cobra.Command {
	o := &attachOptions{env: env}
	c := &cobra.Command{
		Use: "attach JOB FILE --caption WORDS", Short: "keep a photograph or certificate with a job", Args: exactly("JOB", "FILE"),
		Long: fmt.Sprintf(`Keep a file with a job, or with one of its checks: a photograph, a certificate, a
printout. The bytes go into the record book under their SHA-256 hash, which the entry
names; later changes of the file change nothing here. At most %d MiB each.

Photographs from a telephone say where they were taken. The handover shows them
without that; the record keeps them as they are, so that they agree with the original
to the last bit. With --drop-location place, camera and the like are taken out of a
JPEG or PNG before it is kept; its pixels stay as they are.`, chain.MaxFile>>20),
		Example:           `  handback attach t2-return-1 bar.jpg --check joints --caption "flexible L2 after remaking, mark across nut and bar"`,
		ValidArgsFunction: completeJobAndFile(env),
		RunE:              taking(runAttach, o, &o.job, &o.file),
	}
	c.Flags().StringVar(&o.caption, "caption", "", "what it shows")
	c.Flags().StringVar(&o.check, "check", "", "check it belongs to; the job as a whole when not given")
	c.Flags().StringVar(&o.by, "by", "", "who attaches it, a person of the plan; its only technician when not given")
	c.Flags().BoolVar(&o.dropLocation, "drop-location", false, "take place and camera out of a JPEG or PNG before it is kept")
	return c
}

func runAttach(ctx context.Context, o *attachOptions) error {
	caption := report.OneLine(o.caption)
	if caption == "" {
		return session.Usagef("an attachment needs its caption: --caption WORDS")
	}
	content, err := readBounded(o.file)
	if err != nil {
		return err
	}
	if o.dropLocation {
		p, err := report.Bare(content)
		if err != nil {
			return fmt.Errorf("%s: its place cannot be taken out: %w; nothing was kept", o.file, err)
		}
		content = p.Content
	}
	s, err := session.OpenWrite(ctx, o.env, o.job, o.by)
	if err != nil {
		return err
	}
	defer s.Close()
	if o.check != "" {
		if _, err := s.Check(o.check); err != nil {
			return err
		}
	}
	if err := s.Job.RoomFor(len(content)); err != nil {
		return err
	}
	a := chain.NewAttached(o.file, content, caption, o.dropLocation)
	if err := s.Add(ctx, chain.Draft{Kind: report.EntryAttach, Check: o.check, Data: a, File: content}); err != nil {
		return err
	}
	fmt.Fprintf(o.env.Out, "entry %d: %s, %s, %s\nSHA-256 %s\n", s.Job.Head().Seq, a.Name, a.Type, report.Count(a.Bytes, "byte", "bytes"), a.SHA256)
	if p, err := report.Bare(content); err == nil && len(p.Content) < len(content) {
		fmt.Fprintln(o.env.Err, "it is kept with what it says of place and camera; the handover shows it without")
	}
	return nil
}

// readBounded reads a file that can be attached.
func readBounded(file string) ([]byte, error) {
	content, err := readPlain(file, chain.MaxFile)
	var long tooLong
	switch {
	case errors.As(err, &long):
		return nil, fmt.Errorf("%s: %w; attach a smaller picture, or keep it elsewhere and note its SHA-256", file, long)
	case err != nil:
		return nil, fmt.Errorf("%s: %w", file, err)
	case len(content) == 0:
		return nil, fmt.Errorf("%s: it is empty", file)
	}
	return content, nil
}
