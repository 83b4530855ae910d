package cmd

import (
	"context"
	"fmt"
	"runtime"
	"time"

	"handback/cmd/session"
	"handback/records"
	"handback/records/chain"
	"handback/report"
)

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
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	type read struct {
		foldedJob
		err error // of the book
	}
	queue := make(chan chan read, runtime.GOMAXPROCS(0)) // no more are held than are worked at
	go func() {
		defer close(queue)
		for _, j := range lines {
			one := make(chan read, 1)
			select {
			case queue <- one:
			case <-ctx.Done():
				return
			}
			go func() {
				r := read{foldedJob: foldedJob{Branch: j}}
				if r.entries, r.err = book.Entries(ctx, j.ID); r.err == nil {
					r.state, r.fault = fold(ctx, book, r.entries)
				}
				one <- r
			}()
		}
	}()
	n, told := 0, env.Now()
	for one := range queue {
		r := <-one
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
