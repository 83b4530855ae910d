package cmd

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"handback/cmd/session"
	"handback/records"
	"handback/records/bag"
	"handback/records/carrier"
	"handback/records/chain"
	"handback/report"
	"handback/report/fork"
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
folder, a file ending in .zip, a carrier, a text with a carrier in it, or - for a
carrier, a text or a bag in one file from stdin. What comes is taken for hostile and verified first, as verify does;
nothing of it is stored when anything is wrong, exit status 4.

A job that is here already goes on with what was brought, where that follows from what
is here; to take the same twice does nothing. Where a carrier begins behind entries
that are not here, it says what to ask for. Where somebody went on in both places, both
are kept, and the entry where the two part is named: what came from elsewhere stands
under an id of its own, such as t2-return-1.93b1f0c2aa17, until an engineer decides with
join what counts. Nothing is ready as long as that is open.

A job whose id another job has here gets the beginning of its identifier behind it, such
as t2-return-1.4a54dfc6de7a, in this book alone.`,
		Example: "  handback take t2-return-1.zip\n  handback take letter.txt --dry-run",
		RunE:    taking(runTake, o, &o.file),
	}
	c.Flags().BoolVar(&o.dryRun, "dry-run", false, "verify and tell what would be taken, and store nothing")
	return c
}

// brought is what a bag or a carrier brings: entries of one job in a row, and those of other
// continuations of it.
type brought struct {
	id, identifier string // as it was opened
	rows           [][]chain.Entry
	plan           []byte // nil where the first entry is not among them
	files          func(hash string) ([]byte, error)
	faults         []string    // what examining the bag showed
	job            *report.Job // of a bag: it was examined as a whole
	close          func() error
}

func runTake(ctx context.Context, o *takeOptions) error {
	done := o.env.Working("verifying %s", o.file)
	in, err := o.open()
	if done(); err != nil {
		return err
	}
	defer in.close()
	if err := o.refuse(in.faults); err != nil {
		return err
	}
	have, err := o.here(ctx, in)
	if err != nil {
		return err
	}
	lines, news, err := o.fit(have, in)
	if err != nil {
		return err
	}
	if len(news) == 0 {
		at := placed(have, lines[0])
		o.env.Added(at.ID)
		fmt.Fprintln(o.env.Out, at.ID)
		fmt.Fprintf(o.env.Err, "nothing new: job %s has %s here, and what was brought ends at entry %d\n", at.ID, report.Count(len(at.Entries), "entry", "entries"), len(lines[0]))
		return nil
	}
	if err := o.verify(ctx, in, have, lines); err != nil {
		return err
	}
	head := lines[0][len(lines[0])-1]
	if o.dryRun {
		o.env.Added(in.id, news...)
		fmt.Fprintf(o.env.Out, "job %s, identifier %s: %s would be taken, up to entry %d, head %s\n", in.id, chain.ShortHash(in.identifier), newEntries(news), head.Seq, head.Hash)
		o.sayParting(linesWith(have, lines))
		return nil
	}
	book, err := records.OpenOrCreate(ctx, o.env.Book)
	if err != nil {
		return err
	}
	defer book.Close()
	if err = book.Take(ctx, records.Parcel{Entries: news, Plan: in.plan, Files: in.files}); err != nil {
		return err
	}
	return o.taken(ctx, book, in, lines, news)
}

func newEntries(news []chain.Entry) string {
	return report.Count(len(news), "new entry", "new entries")
}

// taken says what the book has of the job now.
func (o *takeOptions) taken(ctx context.Context, book *records.Book, in brought, lines [][]chain.Entry, news []chain.Entry) error {
	id, err := book.IDOf(ctx, lines[0][0])
	if err != nil {
		return err
	}
	now, err := book.Lines(ctx, id)
	if err != nil {
		return err
	}
	at := placed(now, lines[0])
	o.env.Added(at.ID, news...)
	fmt.Fprintln(o.env.Out, at.ID)
	if id != in.id {
		fmt.Fprintf(o.env.Err, "another job has the id %s here; this one, which was opened as %s elsewhere, is %s in this book\n", in.id, in.id, id)
	}
	fmt.Fprintf(o.env.Err, "job %s: %s taken, up to entry %d, head %s\n", at.ID, newEntries(news), len(lines[0]), lines[0][len(lines[0])-1].Hash)
	o.sayParting(now)
	fmt.Fprintf(o.env.Err, "how it stands: %s\n", o.env.HintOf("status", at.ID))
	return nil
}

// placed is the line that a line brought lies in, or else the first, which it parts from.
func placed(have []chain.Line, line []chain.Entry) chain.Line {
	for _, l := range have {
		if chain.Parting(l.Entries, line) == len(line) {
			return l
		}
	}
	return have[0]
}

// linesWith are the lines here as they will be with those brought.
func linesWith(have []chain.Line, lines [][]chain.Entry) []chain.Line {
	out := slices.Clone(have)
	for _, line := range lines {
		at := slices.IndexFunc(out, func(l chain.Line) bool {
			return chain.Parting(l.Entries, line) == min(len(l.Entries), len(line))
		})
		switch {
		case at < 0:
			out = append(out, chain.Line{Entries: line})
		case len(line) > len(out[at].Entries):
			out[at].Entries = line
		}
	}
	return out
}

// sayParting says where the lines of a job part.
func (o *takeOptions) sayParting(lines []chain.Line) {
	for _, f := range fork.Of(lines[0].Entries, lines[1:]) {
		fmt.Fprintf(o.env.Err, "somebody else went on with the job: the two part behind entry %d, with %d here and %d there since (by %s, until %s)\n",
			f.After, f.Here, f.There, strings.Join(f.By, ", "), f.Until.Format("2006-01-02 15:04"))
		switch {
		case f.ID == "":
		case f.Superseded > 0:
			fmt.Fprintf(o.env.Err, "entry %d there joined all of this side: go on there: %s\n", f.Superseded, o.env.HintOf("walk", f.ID))
		default:
			fmt.Fprintf(o.env.Err, "an engineer decides what counts: %s\n", o.env.HintOf("join", lines[0].ID, f.ID, "--by", "ENGINEER"))
		}
	}
}

// zipBegins is what the file of a bag begins with.
const zipBegins = "PK\x03\x04"

// open reads what is brought, without looking whether it fits anything here.
func (o *takeOptions) open() (brought, error) {
	if o.file == "-" {
		in := bufio.NewReader(o.env.In)
		o.env.In = in
		if begins, _ := in.Peek(len(zipBegins)); string(begins) == zipBegins { // an error comes again with what is read
			return o.openBag()
		}
	}
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
	if errors.Is(err, chain.ErrNewer) {
		return brought{}, fmt.Errorf("%s: %w", o.file, err)
	}
	if err != nil {
		return brought{}, o.refuse([]string{err.Error()})
	}
	rows := rowsOf(c.Entries)
	if len(rows) > chain.MaxLines {
		return brought{}, o.refuse([]string{fmt.Sprintf("carrier: it brings %d continuations of one job, at most %d are read", len(rows), chain.MaxLines)})
	}
	if first := rows[0][0]; first.Seq == 1 && first.Hash != c.Identifier || c.Head != rows[0][len(rows[0])-1].Hash {
		return brought{}, o.refuse([]string{"carrier: its first line tells of other entries than it carries"})
	}
	files := func(hash string) ([]byte, error) {
		content, ok := c.Files[hash]
		if !ok {
			return nil, fmt.Errorf("%w: %.64s", records.ErrNoFile, hash)
		}
		return content, nil
	}
	return brought{id: c.Job, identifier: c.Identifier, rows: rows, plan: c.Plan, files: files, close: func() error { return nil }}, nil
}

func (o *takeOptions) openBag() (brought, error) {
	b, done, err := openBag(o.env, o.file)
	if errors.Is(err, bag.ErrCut) {
		return brought{}, o.refuse([]string{err.Error()})
	}
	if err != nil {
		return brought{}, fmt.Errorf("bag %s: %w", o.file, plainPathError(err))
	}
	x := seal.ExamineBag(b)
	if x.Job == nil {
		defer done()
		if x.Removed != nil {
			return brought{}, o.refuse(append(x.Faults, "something was removed from it since it was packed: "+x.Removed.Acts[len(x.Removed.Acts)-1].Words()))
		}
		return brought{}, o.refuse(append(x.Faults, "its record could not be followed"))
	}
	for _, n := range x.Missed { // words of another version: the handover is not taken over
		fmt.Fprintf(o.env.Err, "not compared: %s\n", n)
	}
	in := brought{id: x.Job.ID, identifier: x.Job.Identifier(), rows: [][]chain.Entry{x.Job.Entries}, plan: x.Plan, files: x.Job.Files, faults: x.Faults, job: x.Job, close: done}
	for _, l := range x.Job.Lines {
		in.rows = append(in.rows, l.Entries)
	}
	return in, nil
}

// rowsOf takes entries apart where one does not follow the one before it.
func rowsOf(entries []chain.Entry) [][]chain.Entry {
	var out [][]chain.Entry
	for i, e := range entries {
		if i == 0 || e.Seq != entries[i-1].Seq+1 || e.Prev != entries[i-1].Hash {
			out = append(out, nil)
		}
		out[len(out)-1] = append(out[len(out)-1], e)
	}
	return out
}

// refuse tells faults, where there are any; then nothing is taken.
func (o *takeOptions) refuse(faults []string) error {
	for _, f := range faults {
		fmt.Fprintf(o.env.Err, "FAULT: %s\n", f)
	}
	if len(faults) > 0 {
		err := fmt.Errorf("%s: %w: %s; nothing was taken", o.file, session.ErrIntegrity, report.Count(len(faults), "fault", "faults"))
		return session.Apart(err, session.Parts{Where: "FILE", Met: o.file, Each: faults})
	}
	return nil
}
