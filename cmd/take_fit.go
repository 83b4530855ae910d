package cmd

import (
	"context"
	"errors"
	"fmt"
	"slices"

	"handback/checks/plan"
	"handback/records"
	"handback/records/chain"
	"handback/report"
	"handback/report/fork"
	"handback/report/seal"
)

// here gives what the book here has of the job: all continuations of it.
func (o *takeOptions) here(ctx context.Context, in brought) ([]chain.Line, error) {
	book, err := records.OpenRead(ctx, o.env.Book)
	if errors.Is(err, records.ErrNoBook) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	defer book.Close()
	id, err := book.IDOf(ctx, chain.Entry{Head: chain.Head{Job: in.id}, Hash: in.identifier})
	if errors.Is(err, records.ErrNoJob) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	return book.Lines(ctx, id)
}

// fit puts each row of what was brought behind what it follows, here or in a row before it:
// lines are the whole lines that come of them, news the entries that are not here.
func (o *takeOptions) fit(have []chain.Line, in brought) (lines [][]chain.Entry, news []chain.Entry, err error) {
	known := map[string][]chain.Entry{} // by hash: the line up to an entry
	add := func(line []chain.Entry) {
		for i, e := range line {
			known[e.Hash] = line[: i+1 : i+1]
		}
	}
	for _, l := range have {
		add(l.Entries)
	}
	for _, row := range in.rows {
		var line []chain.Entry
		for _, e := range row {
			switch was, there := known[e.Hash]; {
			case there:
				line = was
				continue
			case line == nil && e.Seq > 1:
				if line = known[e.Prev]; line == nil {
					return nil, nil, o.missing(have, in, row[0])
				}
			}
			line, news = append(line[:len(line):len(line)], e), append(news, e)
		}
		add(line)
		lines = append(lines, line)
	}
	return lines, news, nil
}

// missing says what to ask for where what was brought follows nothing that is here.
func (o *takeOptions) missing(have []chain.Line, in brought, first chain.Entry) error {
	longest := 0
	for _, l := range have {
		longest = max(longest, len(l.Entries))
	}
	switch {
	case first.Seq <= longest+1:
		return fmt.Errorf("%s: what was brought does not follow from entry %d here: the two part before it; nothing was taken; ask for the whole job: handback pack %s --since 0", o.file, first.Seq-1, in.id)
	case longest > 0:
		return fmt.Errorf("%s: it begins with entry %d of job %s, and entries %d to %d are not here; nothing was taken; take what brings them first, or ask for: handback pack %s --since %d",
			o.file, first.Seq, in.id, longest+1, first.Seq-1, in.id, longest)
	}
	return fmt.Errorf("%s: it begins with entry %d of job %s, and entries 1 to %d are not here; nothing was taken; take what brings them first, or ask for: handback pack %s --since 0",
		o.file, first.Seq, in.id, first.Seq-1, in.id)
}

// verify looks at every line as it would stand here, as verify does at a job of the book. The
// job of a bag was examined with it; only its signatures are left.
func (o *takeOptions) verify(ctx context.Context, in brought, have []chain.Line, lines [][]chain.Entry) error {
	pl, files, done, err := o.atHand(ctx, in, have)
	if err != nil {
		return err
	}
	defer done()
	var faults []string
	all := linesWith(have, lines)
	for i, line := range lines {
		switch {
		case slices.ContainsFunc(have, func(l chain.Line) bool { return chain.Parting(l.Entries, line) == len(line) }):
		case in.job != nil && i == 0:
			faults = append(faults, o.signatures(in.job)...)
		default:
			faults = append(faults, o.examine(in, line, all, pl, files)...)
		}
	}
	return o.refuse(faults)
}

// atHand gives the plan of what was brought and its attachments, from there or from the book.
func (o *takeOptions) atHand(ctx context.Context, in brought, have []chain.Line) (pl []byte, files func(string) ([]byte, error), done func() error, err error) {
	pl, files, done = in.plan, in.files, func() error { return nil }
	if len(have) == 0 {
		return pl, files, done, nil
	}
	book, err := records.OpenRead(ctx, o.env.Book)
	if err != nil {
		return nil, nil, nil, err
	}
	if pl == nil {
		opened, err := chain.ReadOpening(have[0].Entries[0])
		if err == nil {
			pl, err = book.Plan(ctx, opened.PlanHash)
		}
		if err != nil {
			book.Close()
			return nil, nil, nil, err
		}
	}
	files = func(hash string) ([]byte, error) {
		content, err := in.files(hash)
		if errors.Is(err, records.ErrNoFile) || in.job != nil && err != nil {
			return book.File(ctx, hash)
		}
		return content, err
	}
	return pl, files, book.Close, nil
}

// examine names the faults of one line.
func (o *takeOptions) examine(in brought, line []chain.Entry, all []chain.Line, pl []byte, files func(string) ([]byte, error)) []string {
	var faults []string
	for _, f := range chain.CheckChain(line) {
		faults = append(faults, f.String())
	}
	if line[0].Hash != in.identifier {
		faults = append(faults, "it is of another job than its first line says")
	}
	if len(faults) > 0 {
		return faults
	}
	job, err := folded(line, pl)
	if err != nil {
		return []string{err.Error()}
	}
	job.Files = files
	for _, l := range all {
		if after := chain.Parting(line, l.Entries); after < min(len(line), len(l.Entries)) {
			job.Lines = append(job.Lines, l)
		}
	}
	faults = append(job.Differs, job.RuleFaults()...)
	for _, seq := range fork.Missing(job.Entries, job.Lines) {
		faults = append(faults, fmt.Sprintf("the continuation that entry %d joins is not here and was not brought; ask for: handback pack %s -o %s.zip", seq, in.id, in.id))
	}
	for _, a := range job.Attachments {
		if _, err := files(a.SHA256); err != nil {
			faults = append(faults, fmt.Sprintf("entry %d, attachment %s: %v", a.Seq, a.Name, err))
		}
	}
	if len(faults) == 0 {
		faults = append(seal.ExamineSigned(job).Faults, o.signatures(job)...)
	}
	return faults
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
