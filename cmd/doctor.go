package cmd

import (
	"context"
	"fmt"
	"time"

	"github.com/spf13/cobra"

	"handback/cmd/session"
	"handback/records"
	"handback/records/chain"
	"handback/report"
)

type doctorOptions struct {
	env  *session.Env
	json bool
}

func newDoctor(env *session.Env) *cobra.Command {
	o := &doctorOptions{env: env}
	c := &cobra.Command{
		Use: "doctor", Short: "examine the whole record book", Args: exactly(),
		Long: `Examine the record book: the file, its schema and triggers, every chain, every plan,
every judgement, every signature; and the clock against the newest entry. Every fault
is named with its job and entry. Exit status 4 when the record is not intact.`,
		Example: "  handback doctor",
		RunE:    taking(runDoctor, o),
	}
	jsonFlag(c, &o.json)
	return c
}

// doctorReport is what examining the book showed.
type doctorReport struct {
	Book     string   `json:"book"`
	Jobs     int      `json:"jobs"`
	Entries  int      `json:"entries"`
	Faults   []string `json:"faults"`
	Warnings []string `json:"warnings"`
}

func runDoctor(ctx context.Context, o *doctorOptions) error {
	book, err := records.OpenRead(ctx, o.env.Book)
	if err != nil {
		return o.env.NoBook(err)
	}
	defer book.Close()
	r := doctorReport{Book: book.Path(), Faults: []string{}, Warnings: []string{}}
	faults, err := book.Verify(ctx)
	if err != nil {
		return err
	}
	for _, f := range faults {
		r.Faults = append(r.Faults, f.String())
	}
	if len(faults) == 0 { // only a sound chain is worth judging again
		if err := r.examineJobs(ctx, book, o.env.Now()); err != nil {
			return err
		}
	}
	return o.answer(r)
}

func (r *doctorReport) examineJobs(ctx context.Context, book *records.Book, now time.Time) error {
	jobs, err := book.Jobs(ctx)
	if err != nil {
		return err
	}
	var lines []records.Branch // with the jobs themselves, which part from nothing
	for _, j := range jobs {
		r.Jobs++
		lines = append(append(lines, records.Branch{ID: j.ID}), j.Branches...)
	}
	for _, j := range lines {
		entries, err := book.Entries(ctx, j.ID)
		if err != nil {
			return err
		}
		r.Entries += len(entries) - j.After
		folded, err := session.FoldJob(ctx, book, entries)
		if err != nil {
			r.Faults = append(r.Faults, err.Error())
			continue
		}
		for _, d := range folded.Differs {
			r.Faults = append(r.Faults, "job "+j.ID+" "+d)
		}
		if err := r.examineSignatures(folded); err != nil {
			return err
		}
		for _, f := range chain.ClockFaults(entries) {
			r.Warnings = append(r.Warnings, f.String())
		}
		if last := entries[len(entries)-1].At; last.After(now.Add(time.Minute)) {
			r.Warnings = append(r.Warnings, fmt.Sprintf("the clock stands at %s, before the newest entry of job %s (%s): set it before going on", now.Format("2006-01-02 15:04:05"), j.ID, last.Format("2006-01-02 15:04:05")))
		}
	}
	return nil
}

// examineSignatures names what is wrong with a job's signatures. A key the plan does
// not list is a warning: the list that counts may be kept elsewhere, and verify takes it.
func (r *doctorReport) examineSignatures(j *report.Job) error {
	checked, err := j.CheckSignatures(nil)
	for _, c := range checked {
		for _, f := range c.Faults {
			r.Faults = append(r.Faults, fmt.Sprintf("job %s entry %d, signature: %s", j.ID, c.Seq, f))
		}
		if c.Untold != "" {
			r.Warnings = append(r.Warnings, fmt.Sprintf("job %s entry %d, signature: %s", j.ID, c.Seq, c.Untold))
		}
		if c.Unlisted != "" {
			r.Warnings = append(r.Warnings, fmt.Sprintf("job %s entry %d, signature: %s in the plan", j.ID, c.Seq, c.Unlisted))
		}
	}
	return err
}

func (o *doctorOptions) answer(r doctorReport) error {
	if o.json {
		if err := printJSON(o.env.Out, r); err != nil {
			return err
		}
	} else {
		fmt.Fprintf(o.env.Out, "%s: %s, %s\n", r.Book, report.Count(r.Jobs, "job", "jobs"), report.Count(r.Entries, "entry", "entries"))
		for _, f := range r.Faults {
			fmt.Fprintf(o.env.Out, "FAULT: %s\n", f)
		}
		for _, f := range r.Warnings {
			fmt.Fprintf(o.env.Out, "warning: %s\n", f)
		}
		if len(r.Faults) == 0 {
			fmt.Fprintln(o.env.Out, "record book intact")
		}
	}
	if len(r.Faults) > 0 {
		return fmt.Errorf("record book %s: %w: %s", r.Book, session.ErrIntegrity, report.Count(len(r.Faults), "fault", "faults"))
	}
	return nil
}
