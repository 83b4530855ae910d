package cmd

import (
	"context"
	"fmt"
	"slices"
	"time"

	"handback/checks/plan"
	"handback/cmd/session"
	"handback/records"
	"handback/report"
)

// earlierLooked is how many jobs opened before this one are looked at for its trend.
const earlierLooked = 100

// earlier gives the newest jobs on the same plant opened before this one, oldest
// first, as they stood at this job's last entry, so that the page of a finished job
// stays as it is. One that cannot be read is left out and named on stderr.
func earlier(s *session.Session, ctx context.Context) ([]*report.Job, error) {
	jobs, err := s.Book.Jobs(ctx)
	if err != nil {
		return nil, err
	}
	slices.SortStableFunc(jobs, func(a, b records.Job) int { return b.Opened.Compare(a.Opened) })
	jobs = slices.DeleteFunc(jobs, func(j records.Job) bool { return !j.Opened.Before(s.Job.OpenedAt) })
	var out []*report.Job
	same := map[string]bool{s.Job.PlanHash: true} // whether the plan of this hash is for the same plant
	for _, listed := range jobs[:min(len(jobs), earlierLooked)] {
		of, known := same[listed.PlanHash]
		if !known {
			of, err = samePlant(s, ctx, listed)
			same[listed.PlanHash] = of
		}
		var j *report.Job
		if err == nil && of {
			j, err = asOf(s, ctx, listed.ID, s.Job.Head().At)
		}
		if err != nil {
			fmt.Fprintf(s.Env.Err, "job %s is left out of the trend: %v\n", listed.ID, err)
			err = nil
		} else if of {
			out = append(out, j)
		}
		if len(out) == report.TrendJobs {
			break
		}
	}
	slices.Reverse(out)
	return out, nil
}

// samePlant tells whether a job's plan is for the plant of this one's.
func samePlant(s *session.Session, ctx context.Context, of records.Job) (bool, error) {
	data, err := s.Book.Plan(ctx, of.PlanHash)
	if err != nil {
		return false, err
	}
	plan, err := plan.Load(of.ID, data)
	if err != nil {
		return false, fmt.Errorf("its plan is not read by this version: %w", err)
	}
	return report.SamePlant(plan, s.Job.Plan), nil
}

// asOf reads a job as it stood at a moment.
func asOf(s *session.Session, ctx context.Context, id string, at time.Time) (*report.Job, error) {
	entries, err := s.Book.Entries(ctx, id)
	if err != nil {
		return nil, err
	}
	for i, e := range entries {
		if i > 0 && e.At.After(at) {
			entries = entries[:i]
			break
		}
	}
	return session.FoldJob(ctx, s.Book, entries)
}
