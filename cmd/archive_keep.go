package cmd

import (
	"context"
	"fmt"
	"time"

	"github.com/spf13/cobra"

	"handback/cmd/session"
	"handback/records/archive"
	"handback/report"
)

type archiveKeepOptions struct {
	*archiveAt
	job, until, plan, by, why string
	years                     int
	past, json                bool
}

func newArchiveKeep(at *archiveAt) *cobra.Command {
	o := &archiveKeepOptions{archiveAt: at}
	c := &cobra.Command{
		Use: "keep [JOB]", Short: "until when jobs must be kept, and which need not be any more", Args: cobra.MaximumNArgs(1),
		Long: `Say until when a job must be kept, with a day (--until), or the jobs of a plan (--plan)
or all jobs, with a number of years after their newest entry (--years). What is said
later stands in the place of what was said before for the same jobs; what is said of a
job goes before what is said of its plan, and that before what is said of all.

Nothing is deleted when the day has come: --past lists those jobs, and a person decides
(archive redact). Before that day archive redact refuses, unless it is told --early.

With JOB alone it tells the day of that job, without anything all that was said.`,
		Example: "  handback archive keep --years 20 --by 'records office' --why 'contract of maintenance'\n" +
			"  handback archive keep t2-return-1 --until 2056-12-31 --by 'records office' --why 'dispute'\n  handback archive keep --past",
		ValidArgsFunction: at.completeJobs,
		RunE:              taking(runArchiveKeep, o, &o.job),
	}
	c.Flags().StringVar(&o.until, "until", "", "last day on which JOB must be kept, such as 2056-12-31")
	c.Flags().IntVar(&o.years, "years", 0, "years after the newest entry that jobs must be kept")
	c.Flags().StringVar(&o.plan, "plan", "", "id of the plan whose jobs are meant")
	c.Flags().StringVar(&o.by, "by", "", "who says so; it is kept")
	c.Flags().StringVar(&o.why, "why", "", "why; it is kept")
	c.Flags().BoolVar(&o.past, "past", false, "list the jobs whose day has passed")
	jsonFlag(c, &o.json)
	return c
}

// keptJob is until when a job must be kept.
type keptJob struct {
	Job   string `json:"job"`
	ID    string `json:"id"`
	Last  string `json:"last"`
	Until string `json:"until"` // "" for no day
	Why   string `json:"why"`
}

func runArchiveKeep(ctx context.Context, o *archiveKeepOptions) error {
	says := o.until != "" || o.years != 0
	switch {
	case says && (o.past || o.json):
		return session.Usagef("--past and --json list what was said; leave out --until and --years")
	case says && (o.by == "" || o.why == ""):
		return session.Usagef("say --why jobs must be kept and --by whom: both are kept")
	case o.until != "" && (o.job == "" || o.years != 0 || o.plan != ""):
		return session.Usagef("--until goes with JOB; for other jobs say --years")
	case o.years < 0 || o.years > 1000:
		return session.Usagef("--years %d: 1 to 1000 are accepted", o.years)
	case says && o.job != "" && o.plan != "":
		return session.Usagef("say it for one job, the jobs of one plan, or all: JOB and --plan do not go together")
	case !says && (o.plan != "" || o.by != "" || o.why != ""):
		return session.Usagef("say until when: --until DAY or --years N")
	case o.past && o.job != "":
		return session.Usagef("--past looks at all jobs: leave JOB out")
	case says:
		return o.adding(ctx, func(a *archive.Archive) error { return o.say(ctx, a) })
	case o.past || o.job != "":
		return o.reading(ctx, func(a *archive.Archive) error { return o.days(ctx, a) })
	}
	return o.reading(ctx, func(a *archive.Archive) error { return o.all(ctx, a) })
}

// say keeps what is said.
func (o *archiveKeepOptions) say(ctx context.Context, a *archive.Archive) error {
	k := archive.Keep{Plan: o.plan, Until: o.until, Years: o.years, Person: o.by, Why: o.why}
	if o.until != "" {
		if _, err := time.Parse(time.DateOnly, o.until); err != nil {
			return session.Usagef("--until %s: a day is wanted, such as 2056-12-31", o.until)
		}
	}
	if o.job != "" {
		b, err := a.State(ctx, o.job)
		if err != nil {
			return err
		}
		k.Job = b.Job
	}
	if err := a.SetKeep(ctx, k, o.env.Now()); err != nil {
		return err
	}
	k.Since = archive.Moment(o.env.Now())
	_, err := fmt.Fprintln(o.env.Out, keepWords(k))
	return err
}

// keepWords are what was said.
func keepWords(k archive.Keep) string {
	of, until := "all jobs", k.Until
	if k.Plan != "" {
		of = "jobs of plan " + k.Plan
	}
	if k.Job != "" {
		of = "job " + report.ShortHash(k.Job)
	}
	if k.Years > 0 {
		until = report.Count(k.Years, "year", "years") + " after the newest entry"
	}
	return fmt.Sprintf("%s: until %s; %s, %s: %s", of, until, archive.Day(moment(k.Since)), k.Person, k.Why)
}

func moment(text string) time.Time {
	t, _ := time.Parse(time.RFC3339, text) // as the archive wrote it
	return t
}

// all lists what was said.
func (o *archiveKeepOptions) all(ctx context.Context, a *archive.Archive) error {
	all, err := a.Keeps(ctx)
	if err != nil {
		return err
	}
	if o.json {
		return printJSON(o.env.Out, []archive.Keep(all))
	}
	for _, k := range all {
		fmt.Fprintln(o.env.Out, keepWords(k))
	}
	if len(all) == 0 {
		fmt.Fprintln(o.env.Err, "nothing was said: no job need be kept until a day, and none is let go of")
	}
	return nil
}

// days tells the day of a job, or of all jobs whose day has passed.
func (o *archiveKeepOptions) days(ctx context.Context, a *archive.Archive) error {
	all, err := a.Keeps(ctx)
	if err != nil {
		return err
	}
	wanted := ""
	if o.job != "" {
		b, err := a.State(ctx, o.job)
		if err != nil {
			return err
		}
		wanted = b.Job
	}
	today, out := archive.Day(o.env.Now().UTC()), []keptJob{}
	for f, err := range a.Find(ctx, archive.Query{}) {
		if err != nil {
			return err
		}
		day, by := all.Until(f)
		if wanted != "" && f.Job == wanted || o.past && day != "" && day < today {
			out = append(out, keptJob{f.Job, f.ID, f.Last, day, by.Why})
		}
	}
	if o.json {
		return printJSON(o.env.Out, out)
	}
	for _, k := range out {
		if k.Until == "" {
			k.Until = "no day was told"
		}
		fmt.Fprintf(o.env.Out, "%s (%s), last entry %s: %s %s\n", k.ID, report.ShortHash(k.Job), archive.Day(moment(k.Last)), k.Until, k.Why)
	}
	if len(out) == 0 {
		fmt.Fprintln(o.env.Err, "the day of no job has passed")
	}
	return nil
}

// early tells why it is too early to remove something from the jobs of a state.
func early(ctx context.Context, at *archiveAt, a *archive.Archive, j archive.Job) error {
	all, err := a.Keeps(ctx)
	if err != nil {
		return err
	}
	for _, s := range j.Newest() {
		if day, by := all.Until(s); day >= archive.Day(at.env.Now().UTC()) {
			return fmt.Errorf("job %s must be kept until %s (%s: %s); with --early something is removed from it all the same", s.ID, day, by.Person, by.Why)
		}
	}
	return nil
}
