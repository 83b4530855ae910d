package cmd

import (
	"cmp"
	"context"
	"fmt"
	"time"

	"handback/cmd/session"
	"handback/records/archive"
	"handback/report"
	"handback/report/admit"
)

// atATime is how many bags are taken in one transaction at most, and soon how long one that
// was looked at waits for others (our choice: many small ones cost one trip to the disk,
// and a kill costs about a second of work).
const (
	atATime = 32
	soon    = time.Second
)

// looked is a bag that was looked at.
type looked struct {
	path   string
	known  *archive.Bag // its very bytes are in the archive
	taking archive.Taking
	err    error
}

// intakeRun takes bags one after another; several are looked at at once.
type intakeRun struct {
	*archiveAddOptions
	archive *archive.Archive
	policy  admit.Policy
	begun   time.Time
	told    time.Time // when progress was told last
	taken   time.Time // when bags were taken last
	all     int
	done    int
	counts  map[string]int
	waiting []looked
}

func (o *archiveAddOptions) addAll(ctx context.Context, a *archive.Archive, paths []string) error {
	forLong()
	parts, number, err := a.Policy(ctx)
	if err != nil {
		return err
	}
	p, err := admit.NewPolicy(parts, number)
	if err != nil {
		return fmt.Errorf("policy %d of the archive: %w", number, err)
	}
	if err := a.Sweep(o.env.Now()); err != nil {
		return err
	}
	if err := a.Purge(ctx); err != nil {
		return err
	}
	run := &intakeRun{archiveAddOptions: o, archive: a, policy: p, begun: o.env.Now(), told: o.env.Now(), taken: o.env.Now(), all: len(paths), counts: map[string]int{}}
	err = run.run(ctx, paths)
	run.close()
	if again := reduceNews(context.WithoutCancel(ctx), o.archiveAt, a); err == nil {
		err = again
	}
	if err != nil {
		return err
	}
	return run.outcome()
}

// run looks at bags, a few at once, and takes them in their order.
func (r *intakeRun) run(ctx context.Context, paths []string) error {
	var failed error
	for l := range inOrder(ctx, paths, func(path string) looked { return r.look(ctx, path) }) {
		if failed != nil || ctx.Err() != nil {
			l.drop()
			continue
		}
		r.waiting = append(r.waiting, l)
		if l.err != nil || len(r.waiting) >= atATime || r.env.Now().Sub(r.taken) > soon {
			failed = r.take(ctx)
		}
	}
	if failed == nil {
		failed = r.take(context.WithoutCancel(ctx)) // what was looked at is not lost
	}
	return cmp.Or(failed, ctx.Err())
}

// look copies a bag and holds it against the policy.
func (r *intakeRun) look(ctx context.Context, path string) looked {
	l := looked{path: path}
	in, known, err := receive(ctx, r.archive, path)
	if err != nil || known != nil {
		l.known, l.err = known, err
		return l
	}
	l.taking, l.err = admit.Examine(in.Path, r.policy, r.env.Now())
	l.taking.Incoming = in
	return l
}

func (l looked) drop() {
	if l.taking.Incoming != nil {
		l.taking.Drop()
	}
}

// take takes what was looked at, and tells of it. What could not be looked at ends it,
// after what came before.
func (r *intakeRun) take(ctx context.Context) error {
	waiting := r.waiting
	r.waiting, r.taken = nil, r.env.Now()
	var takings []archive.Taking
	for _, l := range waiting {
		if l.taking.Incoming != nil && l.err == nil {
			takings = append(takings, l.taking)
		}
	}
	became, err := r.archive.Take(ctx, r.env.Now(), takings...)
	for _, l := range waiting {
		l.drop()
	}
	if err != nil {
		return err
	}
	for _, l := range waiting {
		if l.err != nil {
			return fmt.Errorf("bag %s: %w", l.path, l.err)
		}
		is := archive.Known
		if l.known == nil {
			is, became = became[0], became[1:]
		}
		if err := r.tell(l, is); err != nil {
			return err
		}
	}
	return nil
}

// tell says what became of a bag.
func (r *intakeRun) tell(l looked, became string) error {
	r.done++
	r.counts[became]++
	t := l.taking
	x := addedBag{File: l.path, Became: became, Job: t.Job, ID: t.ID, Head: t.Head, Reasons: t.Reasons}
	switch {
	case l.known != nil:
		x.Job, x.Head, x.Entries, x.SHA256 = l.known.Job, l.known.Head, l.known.Entries, l.known.SHA256
	case t.Rows != nil:
		x.Entries, x.SHA256 = len(t.Hashes), t.SHA256
	default:
		x.SHA256 = t.SHA256
	}
	r.told = tellProgress(r.env, r.begun, r.told, r.done, r.all)
	if r.json {
		return printLine(r.env.Out, x)
	}
	if became == archive.Barred {
		_, err := fmt.Fprintf(r.env.Out, "%-8s %s: %s\n", became, x.File, someOf(x.Reasons))
		return err
	}
	_, err := fmt.Fprintf(r.env.Out, "%-8s %s: job %s, %s, head %s\n", became, x.File, report.ShortHash(x.Job), report.Count(x.Entries, "entry", "entries"), report.ShortHash(x.Head))
	return err
}

func someOf(reasons []string) string {
	if len(reasons) < 2 {
		return reasons[0]
	}
	return fmt.Sprintf("%s (and %s)", reasons[0], report.Count(len(reasons)-1, "reason more", "reasons more"))
}

// tellEvery is how often progress is told (our choice).
const tellEvery = 10 * time.Second

// tellProgress says how many of all are done, how fast, and how long the rest will take,
// when that was not said for a while; it gives the time it was said last.
func tellProgress(env *session.Env, begun, told time.Time, done, all int) time.Time {
	now := env.Now()
	if now.Sub(told) < tellEvery || done == all {
		return told
	}
	rate := float64(done) / now.Sub(begun).Seconds()
	left := time.Duration(float64(all-done) / rate * float64(time.Second)).Round(time.Second)
	fmt.Fprintf(env.Err, "%d of %s, %.2g a second, about %s left\n", done, report.Count(all, "bag", "bags"), rate, left)
	return now
}

// close says on stderr what was done, however it ended.
func (r *intakeRun) close() {
	c := r.counts
	taken := c[archive.New] + c[archive.Follows] + c[archive.Earlier] + c[archive.Fork]
	text := fmt.Sprintf("%s taken", report.Count(taken, "bag", "bags"))
	if n := c[archive.Known]; n > 0 {
		text += fmt.Sprintf(", %d known", n)
	}
	if n := c[archive.Fork]; n > 0 {
		text += fmt.Sprintf(", %s", report.Count(n, "fork", "forks"))
	}
	if n := c[archive.Barred]; n > 0 {
		text += fmt.Sprintf(", %d refused; the reasons: %s", n, r.hint("show", "--quarantine"))
	}
	fmt.Fprintln(r.env.Err, text)
}

func (r *intakeRun) outcome() error {
	if n := r.counts[archive.Barred]; n > 0 {
		return fmt.Errorf("%w: %d of %s went into quarantine", session.ErrRefused, n, report.Count(r.all, "bag", "bags"))
	}
	return nil
}
