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
	done := o.env.Working("hashing every entry of %s again", book.Path())
	faults, err := book.Verify(ctx)
	if done(); err != nil {
		return err
	}
	for _, f := range faults {
		r.Faults = append(r.Faults, f.String())
	}
	if len(faults) == 0 { // only a sound chain is worth judging again
		now := o.env.Now()
		if err := eachJob(ctx, o.env, book, session.FoldJob, func(j foldedJob) error { return r.examine(j, now) }); err != nil {
			return err
		}
	}
	return o.answer(r)
}

func (r *doctorReport) examine(j foldedJob, now time.Time) error {
	if r.Entries += len(j.entries) - j.After; !j.other() {
		r.Jobs++
	}
	if j.fault != nil {
		r.Faults = append(r.Faults, j.fault.Error())
		return nil
	}
	for _, d := range j.state.Differs {
		r.Faults = append(r.Faults, "job "+j.ID+" "+d)
	}
	if err := r.examineSignatures(j.state); err != nil {
		return err
	}
	for _, f := range chain.ClockFaults(j.entries) {
		r.Warnings = append(r.Warnings, f.String())
	}
	if last := j.entries[len(j.entries)-1].At; last.After(now.Add(time.Minute)) {
		r.Warnings = append(r.Warnings, fmt.Sprintf("the clock stands at %s, before the newest entry of job %s (%s): set it before going on", now.Format("2006-01-02 15:04:05"), j.ID, last.Format("2006-01-02 15:04:05")))
	}
	return nil
}

// examineSignatures names what is wrong with a job's signatures. A key the plan does
// not list is a warning: the list that counts may be kept elsewhere, and verify takes it.
func (r *doctorReport) examineSignatures(j *report.Job) error {
	checked, err := j.CheckSignatures(nil)
	for _, c := range checked {
		for _, f := range c.Faults {
			r.Faults = append(r.Faults, fmt.Sprintf("job %s, entry %d, signature: %s", j.ID, c.Seq, f))
		}
		if c.Untold != "" {
			r.Warnings = append(r.Warnings, fmt.Sprintf("job %s, entry %d, signature: %s", j.ID, c.Seq, c.Untold))
		}
		if c.Unlisted != "" {
			r.Warnings = append(r.Warnings, fmt.Sprintf("job %s, entry %d, signature: %s in the plan", j.ID, c.Seq, c.Unlisted))
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
