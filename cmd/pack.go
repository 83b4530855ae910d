package cmd

import (
	"context"
	"fmt"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"handback/cmd/session"
	"handback/records/bag"
	"handback/records/carrier"
	"handback/records/chain"
	"handback/report"
	"handback/report/files"
	"handback/report/seal"
)

type packOptions struct {
	env      *session.Env
	job, out string
	since    string
	text     bool
}

func newPack(env *session.Env) *cobra.Command {
	o := &packOptions{env: env}
	c := &cobra.Command{
		Use: "pack JOB", Short: "pack a job into a bag, or what others lack of it into a carrier", Args: exactly("JOB"),
		Long: `Pack a job as it stands into a bag after RFC 8493 (BagIt 1.0): a folder, or a zip
archive of one where the name ends in .zip. It holds the plan, every entry as it was
hashed, the handover as workbook, page and text, the attachments as they were stored,
statements with their signatures, what else the book holds of the job where somebody
else went on with it, and HOW-TO-CHECK.txt, which tells how to check all of it with
sha256sum, ssh-keygen and a shell. HOW-TO-READ.txt and the JSON Schemas beside it
explain the record to who has nothing but the bag. The same job gives the same bytes.
A file or folder that is there already is never written over.

Attached photographs go along as they were stored, with the place where they were
taken unless it was dropped when they were attached.

With --since ENTRY it is packed into a carrier instead: a small file with only the
entries behind that one, and their attachments, for somebody who has the job up to
there. ENTRY is its number or the beginning of its hash; 0 packs all entries, with the
plan. What was joined behind that entry goes along. --text writes the carrier as lines of text that survive mail. A carrier holds no
handover; take in another record book takes either.`,
		Example:           "  handback pack t2-return-1 -o t2-return-1.zip\n  handback verify t2-return-1.zip\n  handback pack t2-return-1 --since 40 --text -o letter.txt",
		ValidArgsFunction: completeJobs(env, nil),
		RunE:              taking(runPack, o, &o.job),
	}
	c.Flags().StringVarP(&o.out, "output", "o", "", "folder, or file ending in .zip; JOB.zip when not given, JOB.carrier or JOB.txt for a carrier; - for stdout")
	c.Flags().StringVar(&o.since, "since", "", "entry that the other side has, by number or hash: pack a carrier with what follows")
	c.Flags().BoolVar(&o.text, "text", false, "pack a carrier as text for a letter; all entries where no --since is given")
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
	if o.since != "" || o.text {
		return o.carry(s, plan)
	}
	if strings.TrimSpace(o.out) == "" {
		o.out = s.ID + ".zip"
	}
	defer o.env.Working("packing job %s", s.ID)()
	if err = o.bag(s, func(to bag.BagSink) error { return seal.Pack(to, s.Job, plan, o.env.Program, o.env.Built.String()) }); err != nil {
		return err
	}
	head := s.Job.Head()
	check := ""
	if o.out != "-" {
		fmt.Fprintf(o.env.Out, "%s\n", o.out)
		check = "\ncheck it with: " + o.env.Hint("verify", pathWord(o.out))
	}
	fmt.Fprintf(o.env.Err, "job %s: %s, head %s%s\n", s.Job.ID, report.Count(head.Seq, "entry", "entries"), head.Hash, check)
	return nil
}

// bag makes the bag where it is wanted: on stdout it is a zip archive.
func (o *packOptions) bag(s *session.Session, pack func(bag.BagSink) error) error {
	if o.out != "-" {
		return files.WriteBag(o.out, s.Job.ID, over(o.env, output{}, false), pack)
	}
	to, err := stdoutFor(o.env, output{to: bytesOut})
	if err != nil {
		return err
	}
	z := bag.NewZipSink(to, s.Job.ID)
	if err := pack(z); err != nil {
		return err
	}
	return z.Close()
}

// carry packs a carrier.
func (o *packOptions) carry(s *session.Session, plan []byte) error {
	since, err := o.sinceEntry(s.Job)
	if err != nil {
		return err
	}
	head := s.Job.Head()
	if since == head.Seq {
		return fmt.Errorf("job %s: nothing follows entry %d, so there is nothing to carry", s.ID, since)
	}
	c := carrier.Carrier{Job: s.Job.ID, Identifier: s.Job.Identifier(), Head: head.Hash, Entries: slices.Clone(s.Job.Entries[since:]), Files: map[string][]byte{}}
	if since == 0 {
		c.Plan = plan
	}
	c.Entries = append(c.Entries, joinedRows(s.Job, since)...)
	for _, e := range c.Entries {
		a, err := chain.ReadAttached(e)
		if e.Kind != chain.KindAttach || err != nil {
			continue
		}
		if c.Files[a.SHA256], err = s.Job.Files(a.SHA256); err != nil {
			return err
		}
	}
	data, err := c.Encode()
	ending, sort := ".carrier", bytesOut
	if err == nil && o.text {
		data, err = carrier.Armour(data)
		ending, sort = ".txt", textOut
	}
	if err != nil {
		return fmt.Errorf("job %s: %w", s.ID, err)
	}
	if strings.TrimSpace(o.out) == "" {
		o.out = s.ID + ending
	}
	if o.out == "-" {
		return write(o.env, data, output{path: o.out, to: sort}, false)
	}
	if err := files.Write(o.out, data, once(o.env)); err != nil {
		return err
	}
	fmt.Fprintf(o.env.Out, "%s\n", o.out)
	fmt.Fprintf(o.env.Err, "job %s: %s behind entry %d, %s, head %s\ntaken elsewhere with: handback take %s\n", s.ID,
		report.Count(head.Seq-since, "entry", "entries"), since, report.Count(len(data), "byte", "bytes"), head.Hash, session.ShellWord(filepath.Base(o.out)))
	return nil
}

// joinedRows are, from their partings on, the continuations that were joined behind an entry:
// nobody can check a join without what it joins.
func joinedRows(j *report.Job, since int) []chain.Entry {
	var out []chain.Entry
	carried := map[string]bool{}
	for _, x := range j.Joins {
		for _, l := range j.Lines {
			i := slices.IndexFunc(l.Entries, func(e chain.Entry) bool { return e.Hash == x.Head })
			if x.Seq <= since || i < 0 {
				continue
			}
			for _, e := range l.Entries[chain.Parting(j.Entries, l.Entries) : i+1] {
				if !carried[e.Hash] {
					out, carried[e.Hash] = append(out, e), true
				}
			}
		}
	}
	return out
}

// sinceEntry is the entry that --since names, 0 for none.
func (o *packOptions) sinceEntry(j *report.Job) (int, error) {
	if o.since == "" {
		return 0, nil
	}
	if n, err := strconv.Atoi(o.since); err == nil && n >= 0 && n <= len(j.Entries) {
		return n, nil
	}
	for _, e := range j.Entries {
		if len(o.since) >= 8 && strings.HasPrefix(e.Hash, o.since) {
			return e.Seq, nil
		}
	}
	return 0, session.Usagef("--since %s: no entry of job %s: its number, 0 to %d, or at least 8 digits of its hash", o.since, j.ID, len(j.Entries))
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
