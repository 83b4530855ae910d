package cmd

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"handback/checks/plan"
	"handback/cmd/session"
	"handback/records"
	"handback/report"
	"handback/report/fork"
)

type instrumentsOptions struct {
	env    *session.Env
	serial string
	json   bool
}

func newInstruments(env *session.Env) *cobra.Command {
	o := &instrumentsOptions{env: env}
	c := &cobra.Command{
		Use: "instruments [SERIAL]", Short: "where each instrument was used, over all jobs",
		Args: func(c *cobra.Command, args []string) error {
			if len(args) > 1 {
				return session.Usagef("instruments takes one SERIAL or none, %d were given", len(args))
			}
			return nil
		},
		Long: `List the instruments of every job in the record book with their calibration and
where each was used. With a serial number, list every reading that instrument gave:
what must be looked at again when it is found out of order.`,
		Example: "  handback instruments\n  handback instruments TW-7518",
		RunE:    taking(runInstruments, o, &o.serial),
	}
	jsonFlag(c, &o.json)
	return c
}

// instrumentReport is one instrument with all it gave.
type instrumentReport struct {
	Serial      string       `json:"serial"`
	Name        string       `json:"name"`
	Certificate string       `json:"certificate"`
	Due         string       `json:"due"`
	Accuracy    []string     `json:"accuracy"`
	Uses        []report.Use `json:"uses"`
}

func runInstruments(ctx context.Context, o *instrumentsOptions) error {
	list, err := o.gather(ctx)
	if err != nil {
		return err
	}
	if o.serial != "" {
		i := slices.IndexFunc(list, func(r *instrumentReport) bool { return r.Serial == o.serial })
		if i < 0 {
			return session.Usagef("no instrument with serial %q; type: %s", o.serial, o.env.Hint("instruments"))
		}
		list = list[i : i+1]
	}
	switch {
	case o.json:
		return printJSON(o.env.Out, list)
	case o.serial != "":
		return printUses(o.env, list[0].Uses)
	}
	tw := tabwriter.NewWriter(o.env.Out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(tw, "SERIAL\tINSTRUMENT\tCERTIFICATE\tDUE\tREADINGS\tJOBS")
	for _, r := range list {
		var jobs []string
		for _, u := range r.Uses {
			if !slices.Contains(jobs, u.Job) {
				jobs = append(jobs, u.Job)
			}
		}
		fmt.Fprintf(tw, "%s\t%s\t%s\t%s\t%d\t%d\n", r.Serial, r.Name, r.Certificate, r.Due, len(r.Uses), len(jobs))
	}
	return tw.Flush()
}

// gather reads every job's instruments, by serial in the order they first appear;
// the newest job's calibration data stands.
func (o *instrumentsOptions) gather(ctx context.Context) ([]*instrumentReport, error) {
	list := []*instrumentReport{}
	book, err := records.OpenRead(ctx, o.env.Book)
	if errors.Is(err, records.ErrNoBook) && !o.env.Named {
		return list, nil
	}
	if err != nil {
		return nil, o.env.NoBook(err)
	}
	defer book.Close()
	var job *report.Job
	err = eachJob(ctx, o.env, book, session.LookJob, func(j foldedJob) error { // what was read with it hangs on no verdict
		switch {
		case j.fault != nil:
			return j.fault
		case j.other():
			list, err = addBranch(ctx, book, list, job, j)
			return err
		}
		job, list = j.state, addInstruments(list, j.state, j.state.Uses())
		return nil
	})
	if err != nil {
		return nil, err
	}
	return list, nil
}

// addBranch adds what another continuation of a job read since the parting and nobody has
// decided yet: what was adopted is among the readings of the job.
func addBranch(ctx context.Context, book *records.Book, list []*instrumentReport, job *report.Job, b foldedJob) ([]*instrumentReport, error) {
	lines, err := book.Lines(ctx, b.ID)
	if err != nil {
		return nil, err
	}
	open := map[int]bool{}
	for _, e := range fork.Open(job.Entries, lines[0].Entries, lines[1:]) {
		open[e.Seq] = true
	}
	uses := slices.DeleteFunc(b.state.Uses(), func(u report.Use) bool { return !open[u.Entry] })
	for i := range uses {
		uses[i].Job = b.ID
	}
	return addInstruments(list, b.state, uses), nil
}

func addInstruments(list []*instrumentReport, job *report.Job, uses []report.Use) []*instrumentReport {
	for i := range job.Plan.Meters {
		m := &job.Plan.Meters[i]
		at := slices.IndexFunc(list, func(r *instrumentReport) bool { return r.Serial == m.Serial })
		if at < 0 {
			at = len(list)
			list = append(list, &instrumentReport{Serial: m.Serial, Uses: []report.Use{}})
		}
		r := list[at]
		r.Name, r.Certificate, r.Due, r.Accuracy = m.Name, m.Certificate, m.Due.Format("2006-01-02"), rangeWords(m)
		for _, u := range uses {
			if u.Meter == m.ID {
				r.Uses = append(r.Uses, u)
			}
		}
	}
	return list
}

func rangeWords(m *plan.Meter) []string {
	out := []string{}
	for _, r := range m.Ranges {
		out = append(out, r.Words())
	}
	return out
}

func printUses(env *session.Env, uses []report.Use) error {
	if len(uses) == 0 {
		fmt.Fprintln(env.Out, "no reading came from it")
		return nil
	}
	tw := tabwriter.NewWriter(env.Out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(tw, "JOB\tCHECK\tATTEMPT\tENTRY\tWHEN\tREADING\tAS TYPED")
	for _, u := range uses {
		late := ""
		if !u.InDate {
			late = "  OUT OF DATE"
		}
		fmt.Fprintf(tw, "%s\t%s\t%d\t%d\t%s\t%s\t%s%s\n", u.Job, u.Check, u.Attempt, u.Entry, u.At.Format("2006-01-02 15:04"), u.Label, u.Typed, late)
	}
	return tw.Flush()
}
