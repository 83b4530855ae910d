package cmd

import (
	"context"
	"fmt"
	"iter"
	"runtime"
	"runtime/debug"
	"time"

	"handback/cmd/session"
	"handback/records"
	"handback/records/chain"
	"handback/report"
)

// forLong has memory collected as often as is usual, for what is not done in a moment.
func forLong() { debug.SetGCPercent(100) }

// inOrder hands out what f makes of each thing, in their order; as many are made at once as
// there are processors, and no more than that are waiting. Once the context is done no other
// is begun. Whoever stops earlier waits for those that were begun, and never gets them.
func inOrder[T, R any](ctx context.Context, of []T, f func(T) R) iter.Seq[R] {
	return func(yield func(R) bool) {
		ctx, stop := context.WithCancel(ctx)
		defer stop()
		queue := make(chan chan R, runtime.GOMAXPROCS(0))
		go func() {
			defer close(queue)
			for _, x := range of {
				if ctx.Err() != nil { // of two ways that are open, select takes either
					return
				}
				slot := make(chan R, 1)
				select {
				case queue <- slot:
					go func() { slot <- f(x) }()
				case <-ctx.Done():
					return
				}
			}
		}()
		more := true
		for slot := range queue {
			if x := <-slot; more {
				if more = yield(x); !more {
					stop()
				}
			}
		}
	}
}

// foldedJob is one job of a book, or another continuation of one, with why it could not be
// folded.
type foldedJob struct {
	records.Branch // of a job itself, which parts from nothing, the id alone
	entries        []chain.Entry
	state          *report.Job
	fault          error
}

// other tells whether it is another continuation of the job that was told before it.
func (j foldedJob) other() bool { return j.After > 0 }

// eachJob reads and folds every job of a book, as many at once as there are processors, and
// gives them to tell in the order of the book, each before its other continuations. Who waits for more than a second is told how
// far it is.
func eachJob(ctx context.Context, env *session.Env, book *records.Book, fold func(context.Context, *records.Book, []chain.Entry) (*report.Job, error), tell func(foldedJob) error) error {
	jobs, err := book.Jobs(ctx)
	if err != nil {
		return err
	}
	var lines []records.Branch
	for _, j := range jobs {
		lines = append(append(lines, records.Branch{ID: j.ID}), j.Branches...)
	}
	type read struct {
		foldedJob
		err error // of the book
	}
	look := func(j records.Branch) read {
		r := read{foldedJob: foldedJob{Branch: j}}
		if r.entries, r.err = book.Entries(ctx, j.ID); r.err == nil {
			r.state, r.fault = fold(ctx, book, r.entries)
		}
		return r
	}
	n, told := 0, env.Now()
	for r := range inOrder(ctx, lines, look) {
		if r.err != nil {
			return r.err
		}
		if err := tell(r.foldedJob); err != nil {
			return err
		}
		if !r.other() {
			n++
		}
		if now := env.Now(); now.Sub(told) > time.Second && n < len(jobs) {
			told = now
			fmt.Fprintf(env.Err, "looked at %d of %s\n", n, report.Count(len(jobs), "job", "jobs"))
		}
	}
	return ctx.Err()
}
