package cmd

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"handback/checks/plan"
	"handback/cmd/session"
	"handback/records/chain"
	"handback/report"
	"handback/report/photo"
)

type attachOptions struct {
	env                *session.Env
	job, file          string
	caption, check, by string
	step               string
	photo              string
	dropLocation       bool
}

func newAttach(env *session.Env) *cobra.Command {
	o := &attachOptions{env: env}
	c := &cobra.Command{
		Use: "attach JOB FILE --caption WORDS | --check ID --photo NAME", Short: "keep a photograph or certificate with a job", Args: exactly("JOB", "FILE"),
		Long: fmt.Sprintf(`Keep a file with a job, or with one of its checks or steps: a photograph, a certificate, a
printout. The bytes go into the record book under their SHA-256 hash, which the entry
names; later changes of the file change nothing here. At most %d MiB each.
FILE - is stdin.

A check or a step may ask for photographs by name; the hold points below wait for them.
--photo gives the name of the one that the file is: its caption when no other is given.
One that was attached before its check was taken again, or its step undone, is asked for
again.

Photographs from a telephone say where they were taken. The handover shows them
without that; the record keeps them as they are, so that they agree with the original
to the last bit. With --drop-location place, camera and the like are taken out of a
JPEG or PNG before it is stored; its pixels stay as they are.`, chain.MaxFile>>20),
		Example: `  handback attach t2-return-1 bar.jpg --check joints --caption "flexible L2 after remaking, mark across nut and bar"
  handback attach t2-return-1 limb-u.jpg --check taps --photo "links as left, limb U"`,
		ValidArgsFunction: completeJobAndFile(env),
		RunE:              taking(runAttach, o, &o.job, &o.file),
	}
	c.Flags().StringVar(&o.caption, "caption", "", "what it shows")
	c.Flags().StringVar(&o.check, "check", "", "check it belongs to; the job as a whole when not given")
	c.Flags().StringVar(&o.step, "step", "", "step or hold point it belongs to, in place of a check")
	c.Flags().StringVar(&o.photo, "photo", "", "which photograph of the check or step it is, as the plan calls it")
	c.Flags().StringVar(&o.by, "by", "", "who attaches it, a person of the plan; its only technician when not given")
	c.Flags().BoolVar(&o.dropLocation, "drop-location", false, "take place and camera out of a JPEG or PNG before it is stored")
	return c
}

func runAttach(ctx context.Context, o *attachOptions) error {
	switch {
	case o.check != "" && o.step != "":
		return session.Usagef("a file belongs to a check or to a step: --check or --step, not both")
	case o.photo != "" && o.check == "" && o.step == "":
		return session.Usagef("a photograph belongs to a check or a step: --check ID or --step ID")
	}
	caption := report.OneLine(cmp.Or(o.caption, o.photo))
	if caption == "" {
		return session.Usagef("an attachment needs its caption: --caption WORDS")
	}
	content, err := readBounded(o.env, o.file)
	if err != nil {
		return err
	}
	if o.dropLocation {
		p, err := photo.Bare(content)
		if err != nil {
			return fmt.Errorf("%s: its place cannot be taken out: %w; nothing was stored", o.file, err)
		}
		content = p.Content
	}
	s, err := session.OpenWrite(ctx, o.env, o.job, o.by)
	if err != nil {
		return err
	}
	defer s.Close()
	a := chain.NewAttached(inputName(o.file), content, caption, o.dropLocation)
	of, err := o.item(s)
	if err != nil {
		return err
	}
	if a.Step = o.step; o.photo != "" {
		if a.Photo, err = photoNamed(of, o.photo, a); err != nil {
			return err
		}
	}
	if err := s.Job.RoomFor(len(content)); err != nil {
		return err
	}
	done := o.env.Working("storing %s", a.Name)
	err = s.Add(ctx, chain.Draft{Kind: report.EntryAttach, Check: o.check, Data: a, File: content})
	if done(); err != nil {
		return err
	}
	fmt.Fprintf(o.env.Out, "entry %d: %s, %s, %s\nSHA-256 %s\n", s.Job.Head().Seq, a.Name, a.Type, report.Count(a.Bytes, "byte", "bytes"), a.SHA256)
	if p, err := photo.Bare(content); err == nil && len(p.Content) < len(content) {
		fmt.Fprintln(o.env.Err, "it is stored with what it says of place and camera; the handover shows it without")
	}
	why := ""
	if o.photo != "" && of.Check != nil {
		why = s.Job.PhotosOpen(s.Job.State(o.check))
	} else if o.photo != "" {
		why = s.Job.StepPhotosOpen(of.Does())
	}
	if why != "" {
		fmt.Fprintf(o.env.Err, "%s: %s\n", of.ID(), why)
	}
	return nil
}

// item is the check or the step that the file belongs to; none for the job.
func (o *attachOptions) item(s *session.Session) (of plan.Item, err error) {
	switch {
	case o.check != "":
		of.Check, err = s.Check(o.check)
	case o.step != "":
		of.Step, err = s.Step(o.step)
	}
	return of, err
}

// photoNamed finds which photograph of a check or step a file is.
func photoNamed(of plan.Item, name string, a chain.Attached) (string, error) {
	what := "check " + of.ID()
	if of.Check == nil {
		what = "step " + of.ID()
	}
	photo := of.Photo(name)
	switch {
	case len(of.Photos()) == 0:
		return "", fmt.Errorf("%s asks for no photograph: attach it without --photo", what)
	case photo == "":
		return "", fmt.Errorf("%s asks for no photograph %q: it asks for %s", what, name, strings.Join(of.Photos(), "; "))
	case a.Type != chain.TypeJPEG && a.Type != chain.TypePNG:
		return "", fmt.Errorf("%s is no JPEG or PNG picture: the handover could not show it", a.Name)
	}
	return photo, nil
}

// photoDraft is the entry that attaches a photograph which a check or a step asks for; the
// walk stores it.
func photoDraft(j *report.Job, of plan.Item, photo, file string) (chain.Draft, error) {
	content, err := readBounded(nil, file)
	if err != nil {
		return chain.Draft{}, err
	}
	a := chain.NewAttached(file, content, photo, false)
	if a.Photo, err = photoNamed(of, photo, a); err != nil {
		return chain.Draft{}, err
	}
	draft := chain.Draft{Kind: report.EntryAttach, File: content}
	if draft.Check = of.ID(); of.Check == nil {
		draft.Check, a.Step = "", of.ID()
	}
	draft.Data = a
	return draft, j.RoomFor(len(content))
}

// readBounded reads a file that can be attached; with an environment - is its stdin.
func readBounded(env *session.Env, file string) ([]byte, error) {
	var content []byte
	var err error
	if env != nil && file == "-" {
		content, err = readUpTo(env.In, chain.MaxFile)
	} else {
		content, err = readPlain(file, chain.MaxFile)
	}
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
