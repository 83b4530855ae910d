package cmd

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"handback/checks/plan"
	"handback/cmd/session"
	"handback/records"
	"handback/records/bag"
	"handback/records/carrier"
	"handback/records/chain"
	"handback/report"
	"handback/report/seal"
)

type takeOptions struct {
	env    *session.Env
	file   string
	dryRun bool
}

func newTake(env *session.Env) *cobra.Command {
	o := &takeOptions{env: env}
	c := &cobra.Command{
		Use: "take FILE", Short: "take a job that somebody packed into this record book", Args: exactly("FILE"),
		Long: `Take a job out of a bag or a carrier that pack made, to go on with it here. FILE is a
folder, a file ending in .zip, a carrier, a text with a carrier in it, or - for a text
from stdin. What comes is taken for hostile and verified first, as verify does;
nothing of it is stored when anything is wrong, exit status 4.

A job that is here already goes on with what was brought, where that follows from what
is here; to take the same twice does nothing. Where a carrier begins behind entries
that are not here, it says what to ask for. Where somebody went on in both places,
nothing is stored, and the entry where the two part is named: people decide which one
counts, and enter there what the other lacks.

A job whose id another job has here gets the beginning of its identifier behind it, such
as t2-return-1.4a54dfc6de7a, in this book alone.`,
		Example: "  handback take t2-return-1.zip\n  handback take letter.txt --dry-run",
		RunE:    taking(runTake, o, &o.file),
	}
	c.Flags().BoolVar(&o.dryRun, "dry-run", false, "verify and tell what would be taken, and store nothing")
	return c
}

// brought is what a bag or a carrier brings: entries of one job in a row.
type brought struct {
	id, identifier string // as it was opened
	entries        []chain.Entry
	plan           []byte // nil where the first entry is not among them
	files          func(hash string) ([]byte, error)
	faults         []string    // what examining the bag showed
	job            *report.Job // of a bag: it was examined as a whole
	close          func() error
}

func runTake(ctx context.Context, o *takeOptions) error {
	in, err := o.open()
	if err != nil {
		return err
	}
	defer in.close()
	if err := o.refuse(in.faults); err != nil {
		return err
	}
	have, id, err := o.here(ctx, in)
	if err != nil {
		return err
	}
	whole, err := o.fit(have, in)
	if err != nil {
		return err
	}
	if len(whole) == len(have) {
		fmt.Fprintln(o.env.Out, id)
		fmt.Fprintf(o.env.Err, "nothing new: job %s has %s here, and what was brought ends at entry %d\n", id, report.Count(len(have), "entry", "entries"), in.entries[len(in.entries)-1].Seq)
		return nil
	}
	if err := o.verify(ctx, in, whole, id); err != nil {
		return err
	}
	news := report.Count(len(whole)-len(have), "new entry", "new entries")
	if o.dryRun {
		fmt.Fprintf(o.env.Out, "job %s, identifier %s: %s would be taken, up to entry %d, head %s\n", in.id, chain.ShortHash(in.identifier), news, len(whole), whole[len(whole)-1].Hash)
		return nil
	}
	book, err := records.OpenOrCreate(ctx, o.env.Book)
	if err != nil {
		return err
	}
	defer book.Close()
	id, err = book.Take(ctx, records.Parcel{First: whole[0], Entries: whole[len(have):], Plan: in.plan, Files: in.files})
	if err != nil {
		return err
	}
	fmt.Fprintln(o.env.Out, id)
	if id != in.id {
		fmt.Fprintf(o.env.Err, "another job has the id %s here; this one, which was opened as %s elsewhere, is %s in this book\n", in.id, in.id, id)
	}
	fmt.Fprintf(o.env.Err, "job %s: %s taken, up to entry %d, head %s\nhow it stands: %s\n", id, news, len(whole), whole[len(whole)-1].Hash, o.env.Hint("status", id))
	return nil
}

// open reads what is brought, without looking whether it fits anything here.
func (o *takeOptions) open() (brought, error) {
	info, err := os.Stat(o.file)
	if err == nil && info.IsDir() || strings.EqualFold(filepath.Ext(o.file), ".zip") {
		return o.openBag()
	}
	data, err := readInput(o.env, o.file, 2*carrier.MaxBytes)
	if err != nil {
		return brought{}, err
	}
	c, err := carrier.Decode(data)
	if errors.Is(err, carrier.ErrNotCarrier) {
		return brought{}, fmt.Errorf("%s: %w; take takes a bag (a folder, or a file ending in .zip) or a carrier, both made by pack", o.file, err)
	}
	if err != nil {
		return brought{}, fmt.Errorf("%s: %w", o.file, err)
	}
	for i, e := range c.Entries[1:] {
		if before := c.Entries[i]; e.Seq != before.Seq+1 || e.Prev != before.Hash {
			return brought{}, fmt.Errorf("%s: carrier: entry %d does not follow the one before it", o.file, e.Seq)
		}
	}
	if first := c.Entries[0]; first.Seq == 1 && first.Hash != c.Identifier || c.Head != c.Entries[len(c.Entries)-1].Hash {
		return brought{}, fmt.Errorf("%s: carrier: its first line tells of other entries than it carries", o.file)
	}
	files := func(hash string) ([]byte, error) {
		content, ok := c.Files[hash]
		if !ok {
			return nil, fmt.Errorf("%w: %.64s", records.ErrNoFile, hash)
		}
		return content, nil
	}
	return brought{id: c.Job, identifier: c.Identifier, entries: c.Entries, plan: c.Plan, files: files, close: func() error { return nil }}, nil
}

func (o *takeOptions) openBag() (brought, error) {
	b, err := bag.OpenBag(o.file)
	if err != nil {
		return brought{}, fmt.Errorf("bag %s: %w", o.file, plainPathError(err))
	}
	x := seal.ExamineBag(b)
	if x.Job == nil {
		defer b.Close()
		return brought{}, o.refuse(append(x.Faults, "its record could not be followed"))
	}
	for _, n := range x.Missed { // words of another version: the handover is not taken over
		fmt.Fprintf(o.env.Err, "not compared: %s\n", n)
	}
	return brought{id: x.Job.ID, identifier: x.Job.Identifier(), entries: x.Job.Entries, plan: x.Plan, files: x.Job.Files, faults: x.Faults, job: x.Job, close: b.Close}, nil
}

// refuse tells faults, where there are any; then nothing is taken.
func (o *takeOptions) refuse(faults []string) error {
	for _, f := range faults {
		fmt.Fprintf(o.env.Err, "FAULT: %s\n", f)
	}
	if len(faults) > 0 {
		return fmt.Errorf("%s: %w: %s; nothing was taken", o.file, session.ErrIntegrity, report.Count(len(faults), "fault", "faults"))
	}
	return nil
}

// here gives what the book here has of the job, and its id in it.
func (o *takeOptions) here(ctx context.Context, in brought) ([]chain.Entry, string, error) {
	book, err := records.OpenRead(ctx, o.env.Book)
	if errors.Is(err, records.ErrNoBook) {
		return nil, in.id, nil
	}
	if err != nil {
		return nil, "", err
	}
	defer book.Close()
	id, err := book.IDOf(ctx, chain.Entry{Head: chain.Head{Job: in.id}, Hash: in.identifier})
	if errors.Is(err, records.ErrNoJob) {
		return nil, in.id, nil
	}
	if err != nil {
		return nil, "", err
	}
	entries, err := book.Entries(ctx, id)
	return entries, id, err
}

// fit puts what was brought behind what is here, and gives the longer of the two.
func (o *takeOptions) fit(have []chain.Entry, in brought) ([]chain.Entry, error) {
	first := in.entries[0].Seq
	if first > len(have)+1 {
		missing := fmt.Sprintf("entries 1 to %d", first-1)
		if len(have) > 0 {
			missing = fmt.Sprintf("entries %d to %d", len(have)+1, first-1)
		}
		return nil, fmt.Errorf("%s: it begins with entry %d of job %s, and %s are not here; nothing was taken; take what brings them first, or ask for: handback pack %s --since %d",
			o.file, first, in.id, missing, in.id, len(have))
	}
	whole := append(have[:first-1:first-1], in.entries...)
	for i := first - 1; i < min(len(have), len(whole)); i++ {
		if have[i].Hash != whole[i].Hash {
			return nil, fmt.Errorf("%s: %w: the two part behind entry %d, with %d here and %d brought since; nothing was taken: decide which one counts, and enter there what the other lacks",
				o.file, records.ErrParts, i, len(have)-i, len(whole)-i)
		}
	}
	if first > 1 && first <= len(have)+1 && in.entries[0].Prev != have[first-2].Hash {
		return nil, fmt.Errorf("%s: %w: what was brought does not follow from entry %d here, so the two part before it; nothing was taken: ask for the whole job to see where",
			o.file, records.ErrParts, first-1)
	}
	if len(whole) < len(have) {
		return have, nil
	}
	return whole, nil
}

// verify looks at the job as it would stand here, as verify does at one of the book. A bag
// was examined as a whole, and holds all of it.
func (o *takeOptions) verify(ctx context.Context, in brought, whole []chain.Entry, id string) error {
	if in.job != nil {
		return o.refuse(o.signatures(in.job))
	}
	var faults []string
	for _, f := range chain.CheckChain(whole) {
		faults = append(faults, f.String())
	}
	if whole[0].Hash != in.identifier {
		faults = append(faults, "it is of another job than its first line says")
	}
	if len(faults) > 0 {
		return o.refuse(faults)
	}
	pl, files := in.plan, in.files
	if pl == nil {
		book, err := records.OpenRead(ctx, o.env.Book)
		if err != nil {
			return err
		}
		defer book.Close()
		opened, err := chain.ReadOpening(whole[0])
		if err == nil {
			pl, err = book.Plan(ctx, opened.PlanHash)
		}
		if err != nil {
			return err
		}
		files = func(hash string) ([]byte, error) {
			content, err := in.files(hash)
			if errors.Is(err, records.ErrNoFile) {
				return book.File(ctx, hash)
			}
			return content, err
		}
	}
	job, err := folded(whole, pl)
	if err != nil {
		return o.refuse([]string{err.Error()})
	}
	job.Files = files
	faults = append(faults, append(job.Differs, job.RuleFaults()...)...)
	for _, a := range job.Attachments {
		if _, err := files(a.SHA256); err != nil {
			faults = append(faults, fmt.Sprintf("entry %d, attachment %s: %v", a.Seq, a.Name, err))
		}
	}
	if len(faults) == 0 {
		faults = append(seal.ExamineSigned(job).Faults, o.signatures(job)...)
	}
	return o.refuse(faults)
}

// signatures are the faults of the signatures of a job. One by a key that the plan does
// not list is told: it counts for nothing, and the record is what it is without it.
func (o *takeOptions) signatures(j *report.Job) []string {
	checked, err := j.CheckSignatures(nil)
	if err != nil {
		return []string{err.Error()}
	}
	var faults []string
	for _, c := range checked {
		for _, f := range c.Faults {
			faults = append(faults, fmt.Sprintf("entry %d, signature: %s", c.Seq, f))
		}
		if c.Unlisted != "" {
			fmt.Fprintf(o.env.Err, "entry %d, signature: %s in the plan\n", c.Seq, c.Unlisted)
		}
	}
	return faults
}

// folded is the job that entries come to with the plan it was opened with.
func folded(entries []chain.Entry, text []byte) (*report.Job, error) {
	opened, err := report.Decode[report.Opened](entries[0])
	if err != nil {
		return nil, err
	}
	p, err := plan.Load(opened.PlanFile, text)
	if err != nil {
		return nil, fmt.Errorf("its plan is not read by this version: %w", err)
	}
	return report.Fold(p, entries)
}
