package cmd

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"handback/cmd/session"
	"handback/records"
)

// mayLeaveJobOut lets the JOB of a command be left out: HANDBACK_JOB names it, or it is
// the only one under way.
func mayLeaveJobOut(env *session.Env, c *cobra.Command) {
	first, _, _ := strings.Cut(strings.TrimPrefix(c.Use, c.Name()+" "), " ")
	if first != "JOB" && first != "JOB..." {
		return
	}
	fits, run, complete := c.Args, c.RunE, c.ValidArgsFunction
	var whole []string
	c.Args = func(c *cobra.Command, args []string) (err error) {
		whole, err = withJob(c, env, args, func(args []string) error { return fits(c, args) }, first == "JOB")
		return err
	}
	c.RunE = func(c *cobra.Command, _ []string) error { return run(c, whole) }
	c.ValidArgsFunction = func(c *cobra.Command, args []string, typed string) ([]string, cobra.ShellCompDirective) {
		ctx := contextOf(c)
		jobs, _ := listJobs(ctx, env)
		if len(args) > 0 && hasJob(jobs, args[0]) {
			return complete(c, args, typed)
		}
		job, _ := jobAtOnce(env, jobs)
		if job == "" {
			return complete(c, args, typed)
		}
		out, directive := complete(c, append([]string{job}, args...), typed)
		if len(args) == 0 { // the job itself, or what follows it
			named, also := complete(c, args, typed)
			out, directive = append(named, out...), min(directive, also)
		}
		return out, directive
	}
}

// withJob is the arguments of a command with the job at hand before them, where they do not
// name one. more tells that what follows the job might stand in its place.
func withJob(c *cobra.Command, env *session.Env, args []string, fits func([]string) error, more bool) ([]string, error) {
	ctx, mistake := c.Context(), fits(args)
	if mistake == nil && (!more || len(args) == 0 || fits(append([]string{""}, args...)) != nil) {
		return args, nil
	}
	jobs, err := listJobs(ctx, env)
	switch {
	case err != nil && mistake != nil && fits(append([]string{""}, args...)) == nil:
		return nil, err // the job alone is missing, and this is why it cannot be told
	case err != nil, len(args) > 0 && hasJob(jobs, args[0]):
		return args, mistake
	}
	job, how, err := jobAtHand(ctx, env, jobs)
	var several errSeveral
	switch whole := append([]string{job}, args...); {
	case err == nil && fits(whole) == nil:
		fmt.Fprintf(env.Err, "job %s, %s\n", job, how)
		return whole, nil
	case len(jobs) > 0 && errors.As(err, &several) && fits(whole) == nil:
		return nil, session.Apart(session.Usagef("say which job: %v; type: %s", err, c.UseLine()), session.Parts{Where: "JOB", Accepted: several})
	case err != nil && !errors.As(err, &several):
		return nil, err
	}
	return args, mistake
}

func hasJob(jobs []records.Job, id string) bool {
	return slices.ContainsFunc(jobs, func(j records.Job) bool {
		return j.ID == id || slices.ContainsFunc(j.Branches, func(b records.Branch) bool { return b.ID == id })
	})
}

// errSeveral are jobs of which one is to be named.
type errSeveral []string

func (e errSeveral) Error() string {
	return "there are " + strings.Join(e, ", ")
}

// jobAtHand is the job that is meant where none is named, and how that is known.
func jobAtHand(ctx context.Context, env *session.Env, jobs []records.Job) (id, how string, err error) {
	if id, how = jobAtOnce(env, jobs); id != "" {
		return id, how, nil
	}
	if len(jobs) == 0 {
		return "", "", errSeveral{} // nothing to choose from
	}
	book, err := records.OpenRead(ctx, env.Book)
	if err != nil {
		return "", "", err
	}
	defer book.Close()
	var open errSeveral
	err = eachJob(ctx, env, book, session.LookJob, func(j foldedJob) error {
		if !j.other() && (j.fault != nil || !j.state.Overall(env.Now()).Ready) {
			open = append(open, j.ID)
		}
		return nil
	})
	switch {
	case err != nil:
		return "", "", err
	case len(open) == 1:
		return open[0], "the only one under way", nil
	case len(open) == 0:
		for _, j := range jobs {
			open = append(open, j.ID)
		}
	}
	return "", "", open
}

// jobAtOnce is the job at hand where no job has to be looked into to tell it, "" otherwise.
func jobAtOnce(env *session.Env, jobs []records.Job) (id, how string) {
	switch {
	case env.Job != "":
		return env.Job, "as HANDBACK_JOB says"
	case len(jobs) == 1:
		return jobs[0].ID, "the only one"
	}
	return "", ""
}
