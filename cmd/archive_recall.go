package cmd

import (
	"context"
	"errors"
	"fmt"
	"time"

	"github.com/spf13/cobra"

	"handback/checks/plan"
	"handback/cmd/session"
	"handback/records/archive"
	"handback/records/bag"
	"handback/report"
	"handback/report/recall"
	"handback/report/seal"
)

type archiveRecallOptions struct {
	*archiveAt
	serial, from, to string
	errors           []string
	all, json        bool
}

func newArchiveRecall(at *archiveAt) *cobra.Command {
	o := &archiveRecallOptions{archiveAt: at}
	c := &cobra.Command{
		Use: "recall SERIAL", Short: "judge again what an instrument gave that was found out of tolerance", Args: exactly("SERIAL"),
		Long: `Find every verdict in the archive that rests on an instrument, by its serial number, and
judge it again with the error that was found: what it was, what it is now, the margins,
and what hung on it, such as hold points, acceptances, readiness and signatures.

--from is the day it was last known good, --to the last day it was used; both count, by
the clock of each job. --error is by how much it read wrong, and may be given more than
once, for spans of readings:
  '+2.1 %'               it reads 2.1 % of the reading too high
  '-0.4 V ± 0.1 V'       it reads 0.4 V too low, by a calibration uncertain by 0.1 V
  'to 300 V: +1.5 %'     only of readings to 300 V
  '±2 %'                 it may be off by as much, either way
Without --error nothing is known of its readings.

A recall takes passes away and gives none. When the error arose is not known: a pass
stands only where it stands with none of it, with all of it and with parts of it between.
A reading for which no error is stated is inconclusive, and so is all that rests on it.
Readings keep the maker's accuracy beside the error. Nothing in the archive is changed;
whether plant in service stays there is for the person in control to decide.

Exit status 3 says that a verdict that counts in its job is no pass any longer.`,
		Example: "  handback archive recall EX-100 --from 2026-01-10 --to 2026-11-02 --error '-4 % ± 0.3 %'\n  handback archive recall TW-7518 --from 2025-11-30 --error 'to 20 N·m: +1.5 N·m' --error '20 N·m to 100 N·m: +6 %'",
		RunE:    taking(runArchiveRecall, o, &o.serial),
	}
	c.Flags().StringVar(&o.from, "from", "", "day it was last known good, such as 2026-01-31; from the beginning when not given")
	c.Flags().StringVar(&o.to, "to", "", "last day it was used; to the end when not given")
	c.Flags().StringArrayVar(&o.errors, "error", nil, "by how much it read wrong, such as '+2.1 %'; may be given more than once")
	c.Flags().BoolVar(&o.all, "all", false, "tell readings and values of verdicts that stand, too")
	jsonFlag(c, &o.json)
	return c
}

// question is what is asked of each job. Days are of the clock of the place the job was
// worked in, which is no more than half a day from UTC or little more: so the archive is
// asked for jobs a day about, and each of them by its own clock.
func (o *archiveRecallOptions) question() (q recall.Question, err error) {
	q.Serial = o.serial
	for _, text := range o.errors {
		e, err := recall.ParseError(text)
		if err != nil {
			return q, session.Usagef("--%v", err)
		}
		q.Errors = append(q.Errors, e)
	}
	for _, day := range []struct {
		flag, typed string
		to          *time.Time
		more        int
	}{{"from", o.from, &q.From, 0}, {"to", o.to, &q.To, 1}} {
		if day.typed == "" {
			continue
		}
		at, err := time.Parse(time.DateOnly, day.typed)
		if err != nil {
			return q, session.Usagef("--%s %.40s: a day such as 2026-01-31 is wanted", day.flag, day.typed)
		}
		*day.to = at.AddDate(0, 0, day.more)
	}
	if !q.From.IsZero() && !q.To.IsZero() && !q.From.Before(q.To) {
		return q, session.Usagef("--from %s is after --to %s", o.from, o.to)
	}
	return q, nil
}

// heard says of an instrument that no job of the archive ever used that its number may be a slip: that nothing rests
// on it would be taken for good news.
func (o *archiveRecallOptions) heard(ctx context.Context, a *archive.Archive, used []archive.Used) error {
	if len(used) > 0 {
		return nil
	}
	ever, err := a.UsedIn(ctx, plan.PlainSerial(o.serial), "", "")
	if err == nil && len(ever) == 0 {
		fmt.Fprintf(o.env.Err, "no job of the archive, of whatever day, used an instrument with the serial number %s: look at the number\n", report.OneLine(o.serial))
	}
	return err
}

func runArchiveRecall(ctx context.Context, o *archiveRecallOptions) error {
	q, err := o.question()
	if err != nil {
		return err
	}
	return o.reading(ctx, func(a *archive.Archive) error {
		used, err := a.UsedIn(ctx, plan.PlainSerial(o.serial), dayAbout(q.From, -1), dayAbout(q.To, 1))
		if err != nil {
			return err
		}
		if err := o.heard(ctx, a, used); err != nil {
			return err
		}
		out := recallAnswer{Serial: o.serial, From: o.from, To: o.to, Errors: o.errors}
		forLong()
		begun, told, n := o.env.Now(), o.env.Now(), 0
		for r := range inOrder(ctx, used, func(u archive.Used) recalled { return recallIn(ctx, a, u, q) }) {
			if r.err != nil {
				return r.err
			}
			out.add(r)
			n++
			told = tellProgress(o.env, begun, told, n, len(used))
		}
		if err := ctx.Err(); err != nil {
			return err
		}
		if o.json {
			err = printJSON(o.env.Out, out)
		} else {
			err = out.print(o.env.Out, o.all)
		}
		if err == nil && out.Lost+len(out.Unjudged) > 0 {
			err = errNotReady
		}
		return err
	})
}

// recalled is what became of one job: found in it, not judged, or neither.
type recalled struct {
	found    *recalledJob
	unjudged *unjudgedJob
	err      error
}

// recallIn judges again what rests on the instrument in one job, which is let go of then.
func recallIn(ctx context.Context, a *archive.Archive, u archive.Used, q recall.Question) recalled {
	j, done, err := foldKept(ctx, a, u.Bag)
	if errors.Is(err, errReduced) {
		return recalled{unjudged: &unjudgedJob{u.Job, u.ID, u.Head, err.Error()}}
	}
	if err != nil {
		return recalled{err: fmt.Errorf("job %s, %s: %w", u.ID, report.ShortHash(u.Head), err)}
	}
	defer done()
	q.From, q.To = atPlace(q.From, j), atPlace(q.To, j)
	touched := recall.Judge(j, q)
	if len(touched) == 0 {
		return recalled{}
	}
	return recalled{found: newRecalledJob(u.State, j, touched)}
}

// dayAbout is a moment as the archive has it, so many days on; "" for none.
func dayAbout(t time.Time, days int) string {
	if t.IsZero() {
		return ""
	}
	return archive.Moment(t.AddDate(0, 0, days))
}

// atPlace is the beginning of a day by the clock of a job.
func atPlace(day time.Time, j *report.Job) time.Time {
	if day.IsZero() {
		return day
	}
	y, m, d := day.Date()
	return time.Date(y, m, d, 0, 0, 0, 0, j.OpenedAt.Location())
}

// foldBag folds the job of a bag of the archive.
func foldBag(path string) (*report.Job, func(), error) {
	b, err := bag.OpenBag(path)
	if err != nil {
		return nil, nil, fmt.Errorf("%w: %w", session.ErrIntegrity, err)
	}
	j, err := seal.BagJob(b)
	if err != nil {
		b.Close()
		return nil, nil, fmt.Errorf("%w: %w", session.ErrIntegrity, err)
	}
	return j, func() { b.Close() }, nil
}

// archivedFold folds the job of a state of the archive by its head.
func archivedFold(ctx context.Context, a *archive.Archive, head string) (*report.Job, func(), error) {
	b, err := a.ByHead(ctx, head)
	if err != nil {
		return nil, nil, err
	}
	return foldKept(ctx, a, b)
}

// errReduced says that a job cannot be judged again for what was removed from its bag.
var errReduced = errors.New("it cannot be judged again")

// foldKept folds the job of a bag as it is now.
func foldKept(ctx context.Context, a *archive.Archive, b archive.Bag) (*report.Job, func(), error) {
	path, sha256, err := a.File(ctx, b)
	if err != nil {
		return nil, nil, notIntact(err)
	}
	j, done, err := foldBag(path)
	if err == nil {
		return j, func() { done(); a.Release(path) }, nil
	}
	a.Release(path)
	if sha256 == b.SHA256 {
		return nil, nil, err
	}
	removed, err := removedLines(ctx, a, b)
	if err != nil {
		return nil, nil, err
	}
	return nil, nil, fmt.Errorf("%w: %s", errReduced, removed[len(removed)-1].What)
}
