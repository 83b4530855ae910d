package cmd

import (
	"context"
	"encoding/hex"
	"fmt"
	"io"
	"slices"
	"strconv"

	"github.com/spf13/cobra"

	"handback/cmd/session"
	"handback/records/archive"
	"handback/records/bag"
	"handback/records/chain"
	"handback/report"
	"handback/report/seal"
)

type archiveRedactOptions struct {
	*archiveAt
	job, by, why, find string
	files, yes, early  bool
}

const archiveRedactLong = `Remove what must not be kept: an entry that names somebody, a picture that shows somebody.
Nothing else is ever deleted from an archive.

ENTRY is the number of an entry; with it go the file that it attached and its row in the
index. With --files the entry stays, and the file that it attached goes. The word plan
stands for the plan with the names of its people, and what the index has of it.

Each bag of the job that holds it, earlier and later states alike, is put in its place
without it, and the whole one is deleted. Handovers and signed documents go too, because
each may show what is to go. Of all that goes the hash stays, with when, who and why: the
entries before and after it are still proved, by the chain and by the log (archive prove),
and verify says what is missing and never that the bag is intact. Findings are not judged
again from it.

--find WORDS tells in which entries and files words stand, and changes nothing. Names may
stand in several entries, in the plan, in an amended plan, in names of files, and in
pictures, which are not read. Names of files stay in the lists of the bag. A hash shows
whoever guesses exactly what was removed that the guess is right.

Copies that were given away, backups of the archive and bags in quarantine are not
touched. A later state of the job that comes in is reduced alike at once.

Without --yes it says what would go.`

func newArchiveRedact(at *archiveAt) *cobra.Command {
	o := &archiveRedactOptions{archiveAt: at}
	c := &cobra.Command{
		Use: "redact JOB [ENTRY]...", Short: "remove a name or a picture, and keep that it was there", Args: cobra.MinimumNArgs(1),
		Long:              archiveRedactLong,
		Example:           "  handback archive redact t2-return-1 --find 'A. Visitor'\n  handback archive redact t2-return-1 12 --files --by 'records office' --why 'a passer-by is in the picture' --yes",
		ValidArgsFunction: at.completeJobs,
		RunE: func(c *cobra.Command, args []string) error {
			o.job = args[0]
			return runArchiveRedact(c.Context(), o, args[1:])
		},
	}
	c.Flags().StringVar(&o.why, "why", "", "why it has to go; it is kept")
	c.Flags().StringVar(&o.by, "by", "", "who removes it; it is kept")
	c.Flags().StringVar(&o.find, "find", "", "words to look for, to see what would have to go")
	c.Flags().BoolVar(&o.files, "files", false, "remove the files that the entries attached, and keep the entries")
	c.Flags().BoolVar(&o.early, "early", false, "although the job must be kept until a later day (archive keep)")
	c.Flags().BoolVarP(&o.yes, "yes", "y", false, "remove it; it cannot be brought back")
	return c
}

func runArchiveRedact(ctx context.Context, o *archiveRedactOptions, targets []string) error {
	entries, plan, err := redactTargets(targets)
	if err != nil {
		return err
	}
	if o.find != "" {
		if len(targets) > 0 {
			return session.Usagef("--find looks for words in the whole job: leave ENTRY out")
		}
		return o.reading(ctx, func(a *archive.Archive) error { return o.findWords(ctx, a) })
	}
	if len(targets) == 0 {
		return session.Usagef("say what has to go: numbers of entries, or the word plan; --find WORDS tells where words stand")
	}
	if o.why == "" || o.by == "" {
		return session.Usagef("say --why it has to go and --by whom: both are kept in its place")
	}
	return o.adding(ctx, func(a *archive.Archive) error {
		if err := a.Purge(ctx); err != nil {
			return err
		}
		return o.redact(ctx, a, entries, plan)
	})
}

// redactTargets reads what has to go.
func redactTargets(words []string) (entries []int, plan bool, err error) {
	for _, w := range words {
		n, err := strconv.Atoi(w)
		switch {
		case w == "plan":
			plan = true
		case err != nil || n < 1:
			return nil, false, session.Usagef("%s: the number of an entry or the word plan is wanted", w)
		case !slices.Contains(entries, n):
			entries = append(entries, n)
		}
	}
	slices.Sort(entries)
	return entries, plan, nil
}

// within opens the bag of a state as it is now.
func within(ctx context.Context, a *archive.Archive, b archive.Bag, do func(in *bag.Bag, sha256 string) error) error {
	path, sha256, err := a.File(ctx, b)
	if err != nil {
		return err
	}
	defer a.Release(path)
	in, err := bag.OpenBag(path)
	if err != nil {
		return fmt.Errorf("bag %s: %w", path, plainPathError(err))
	}
	defer in.Close()
	return do(in, sha256)
}

func (o *archiveRedactOptions) findWords(ctx context.Context, a *archive.Archive) error {
	b, err := a.State(ctx, o.job)
	if err != nil {
		return err
	}
	return within(ctx, a, b, func(in *bag.Bag, _ string) error {
		places, err := seal.Places(in, o.find)
		for _, p := range places {
			if p.Entry > 0 {
				fmt.Fprintf(o.env.Out, "entry %d (%s)\n", p.Entry, p.Kind)
			} else {
				fmt.Fprintln(o.env.Out, p.File)
			}
		}
		if err == nil && len(places) == 0 {
			fmt.Fprintln(o.env.Err, "the words stand in no entry, in no name of a file, and not in the plan; pictures and other files were not read")
		}
		return err
	})
}

// redact removes entries, files and plan from every bag of the job that holds them.
func (o *archiveRedactOptions) redact(ctx context.Context, a *archive.Archive, entries []int, plan bool) error {
	meant, err := a.State(ctx, o.job)
	if err != nil {
		return err
	}
	j, err := a.Job(ctx, meant.Job)
	if err != nil {
		return err
	}
	if !o.early {
		if err := early(ctx, o.archiveAt, a, j); err != nil {
			return err
		}
	}
	want, err := o.wanted(ctx, a, meant, entries, plan)
	if err != nil {
		return err
	}
	var all []archive.Reduced
	defer func() { dropAll(all) }()
	for _, b := range j.Bags {
		r, err := reduced(ctx, o.archiveAt, a, b, []seal.Removal{want})
		if err != nil {
			return err
		}
		if r == nil {
			continue
		}
		all = append(all, *r)
		o.tell(b, *r)
	}
	if len(all) == 0 {
		return fmt.Errorf("job %s: nothing of that is there to remove; what was removed before: %s", o.job, o.hint("show", o.job))
	}
	if !o.yes {
		fmt.Fprintln(o.env.Err, "nothing was removed; it would be with --yes")
		return nil
	}
	if err := a.Reduce(ctx, o.env.Now(), all...); err != nil {
		return err
	}
	return o.elsewhere(ctx, a, j.Job)
}

// wanted names what has to go by the hashes and files of a state, so that the same is found in others.
func (o *archiveRedactOptions) wanted(ctx context.Context, a *archive.Archive, meant archive.Bag, entries []int, plan bool) (seal.Removal, error) {
	want := seal.Removal{At: o.env.Now(), By: o.by, Why: o.why}
	if plan {
		want.Files = append(want.Files, seal.RemovedFile{Name: seal.PlanFiles[0]})
	}
	for _, n := range entries {
		if n > meant.Entries {
			return want, fmt.Errorf("there is no entry %d; the job has %s", n, report.Count(meant.Entries, "entry", "entries"))
		}
		if !o.files {
			want.Entries = append(want.Entries, seal.RemovedEntry{Entry: n, Hash: hex.EncodeToString(meant.Hashes[(n-1)*32 : n*32])})
		}
	}
	if !o.files {
		return want, nil
	}
	err := within(ctx, a, meant, func(in *bag.Bag, _ string) error {
		files, err := seal.AttachedFiles(in, entries)
		for _, f := range files {
			want.Files = append(want.Files, seal.RemovedFile{Name: f})
		}
		return err
	})
	return want, err
}

func dropAll(all []archive.Reduced) {
	for _, r := range all {
		r.Drop()
	}
}

// tell says what goes from a bag.
func (o *archiveRedactOptions) tell(b archive.Bag, r archive.Reduced) {
	removed, err := seal.ReadRemoved(r.Body)
	if err == nil {
		fmt.Fprintf(o.env.Out, "state %s of %s: %s\n", report.ShortHash(b.Head), report.Count(b.Entries, "entry", "entries"), removed.Acts[len(removed.Acts)-1].Words())
	}
}

// elsewhere names what of the job is kept and was not touched.
func (o *archiveRedactOptions) elsewhere(ctx context.Context, a *archive.Archive, job string) error {
	for r, err := range a.Quarantine(ctx, job) {
		if err != nil {
			return err
		}
		fmt.Fprintf(o.env.Err, "not touched: a bag of the job in quarantine, SHA-256 %s\n", r.SHA256)
	}
	_, err := fmt.Fprintln(o.env.Err, "not touched: copies that were given away, and backups")
	return err
}

// reduced makes the bag of a state without what was removed, nil where it holds nothing of it.
func reduced(ctx context.Context, at *archiveAt, a *archive.Archive, b archive.Bag, acts []seal.Removal) (*archive.Reduced, error) {
	var out *archive.Reduced
	err := within(ctx, a, b, func(in *bag.Bag, sha256 string) error {
		entries, files, err := seal.Again(in, acts)
		if err != nil || len(entries)+len(files) == 0 {
			return err
		}
		last := acts[len(acts)-1]
		r := seal.Reduction{Entries: entries, Files: files, At: at.env.Now(), By: last.By, Why: last.Why, Bag: sha256, Program: at.env.Program}
		info, err := in.Info()
		if err != nil {
			return err
		}
		var body []byte
		incoming, err := a.Receive(ctx, b.Name, func(w io.Writer) error {
			z := bag.NewZipSink(w, info.Job)
			if body, err = seal.Reduce(z, in, r); err != nil {
				return err
			}
			return z.Close()
		})
		if err != nil {
			return err
		}
		list, err := seal.ListOf(in)
		out = &archive.Reduced{Incoming: incoming, Of: b, List: list, Person: last.By, Why: last.Why, Body: body, Digest: chain.HashFile(body), Entries: entries, Plan: slices.Contains(files, seal.PlanFiles[0])}
		return err
	})
	return out, err
}

// reduceNews removes from bags that came later what was removed from their jobs before.
func reduceNews(ctx context.Context, at *archiveAt, a *archive.Archive) error {
	bags, err := a.Unreduced(ctx)
	if err != nil {
		return err
	}
	for _, b := range bags {
		before, err := a.RemovalsOf(ctx, b.Job)
		if err != nil {
			return err
		}
		var acts []seal.Removal
		for _, r := range before {
			removed, err := seal.ReadRemoved(r.Body)
			if err != nil {
				return fmt.Errorf("%w: removal %d: %w", archive.ErrDamaged, r.Number, err)
			}
			acts = append(acts, removed.Acts...)
		}
		slices.SortFunc(acts, func(x, y seal.Removal) int { return x.At.Compare(y.At) })
		r, err := reduced(ctx, at, a, b, acts)
		if err != nil {
			return err
		}
		if r == nil {
			continue
		}
		if err := a.Reduce(ctx, at.env.Now(), *r); err != nil {
			r.Drop()
			return err
		}
		fmt.Fprintf(at.env.Err, "%s: what was removed from job %s before was removed from it too\n", b.Name, report.ShortHash(b.Job))
	}
	return nil
}
