package cmd

import (
	"context"
	"errors"
	"fmt"

	"github.com/spf13/cobra"

	"handback/cmd/session"
	"handback/records"
	"handback/records/chain"
	"handback/report"
	"handback/report/seal"
)

type verifyOptions struct {
	env       *session.Env
	job, plan string
	signers   string
	json      bool
}

func newVerify(env *session.Env) *cobra.Command {
	o := &verifyOptions{env: env}
	c := &cobra.Command{
		Use: "verify JOB", Short: "show that a record, a bag or a handover is intact", Args: exactly("JOB"),
		Long: `Hash every entry of a job again, follow the chain, judge every attempt again from
its answers and compare; hash every attachment again. With --plan FILE, show that the
file is the plan the job was opened with. Exit status 4 when anything differs.

Verdicts, readings, values and digests are compared, never sentences or layout: a
record, a bag and a workbook of every version are verified alike. What was compared
stands in the answer as shown, what could not be as not compared.

In the place of JOB may stand a bag that pack made: a folder, or a file
ending in .zip. It is taken for hostile: names and sizes are looked at before
anything in it is read, and nothing is unpacked. Then every file is held against the
manifests, the record is verified as in a book, and the handover is compared by the
data it carries. Where the record book here holds the job, the two are compared too.
Nothing in a bag changes after it was packed: where a file in it has words that this
program does not write, nothing may be wrong, but not all could be compared, and the
exit status is 5.

Or a handover workbook, ending in .xlsx. The data it carries and its named cells,
which hold every reading, value and verdict, are held against the job in the record
book. It may have been filled in, printed, recoloured, or have got sheets and columns
of other people: that is not compared, and the exit status stays 0. Where a program
saved it without what its formulas come to, the exit status is 5.

Every signature is checked: that the key signed these bytes, that the statement says
what the record says at that entry, that the workbook and the page that were signed
are kept as they were, that the person could sign so, and that the key is listed for
them in the plan. The plan is part of the record: with a list of
allowed signers that you had before, --allowed-signers FILE, that list is trusted
instead. The time a key was used at is what its owner's clock said.

This shows that nothing in the record was changed, swapped, put in or taken out
between its entries. It does not show who typed it, nor that the newest entries were
not cut off: for that compare the head hash with a signed or printed copy.`,
		Example:           "  handback verify t2-return-1\n  handback verify t2-return-1.zip\n  handback verify handover.xlsx",
		ValidArgsFunction: completeJobOrFile(env),
		RunE:              taking(runVerify, o, &o.job),
	}
	jsonFlag(c, &o.json)
	signersFlag(c, &o.signers)
	c.Flags().StringVar(&o.plan, "plan", "", "plan file that should be the one the job was opened with")
	return c
}

// verifyReport is what verifying showed.
type verifyReport struct {
	Job        string          `json:"job"`
	Entries    int             `json:"entries"`
	Head       string          `json:"head"`
	PlanHash   string          `json:"plan_hash"`
	Signatures []signatureLine `json:"signatures"`

	What        string   `json:"what"`           // job, bag or workbook
	File        string   `json:"file,omitempty"` // the bag or workbook
	Attachments int      `json:"attachments"`
	Shown       []string `json:"shown"`        // what was compared and agrees, when there are no faults
	NotCompared []string `json:"not_compared"` // what was not compared in this run
	NotShown    string   `json:"not_shown"`    // what no comparison shows
	Notes       []string `json:"notes"`        // what came later or cannot be told

	partly bool // something was not compared that the answer hangs on

	Attempts int      `json:"attempts"` // judged again
	Faults   []string `json:"faults"`
}

// newVerifyReport counts what a job holds; of no job it says nothing.
func newVerifyReport(j *report.Job) verifyReport {
	r := verifyReport{Faults: []string{}, Notes: []string{}, Shown: []string{}, NotCompared: []string{}, Signatures: []signatureLine{}}
	if j == nil {
		return r
	}
	r.Job, r.Entries, r.Head, r.PlanHash, r.Attachments = j.ID, len(j.Entries), j.Head().Hash, j.PlanHash, len(j.Attachments)
	for _, st := range j.States {
		for _, a := range st.Attempts {
			if a.Judged {
				r.Attempts++
			}
		}
	}
	return r
}

// take adds what examining showed.
func (r *verifyReport) take(x seal.Examined) {
	r.Faults, r.Notes = append(r.Faults, x.Faults...), append(r.Notes, x.Notes...)
	r.Shown, r.NotCompared = append(r.Shown, x.Shown...), append(r.NotCompared, x.Missed...)
	r.partly = r.partly || x.Partly
}

func runVerify(ctx context.Context, o *verifyOptions) error {
	if o.isFile(ctx) {
		if _, err := listJobs(ctx, o.env); errors.Is(err, records.ErrNoBook) && !isWorkbook(o.job) {
			return err // it was named; without any a bag is verified alone
		}
		return o.verifyFile(ctx)
	}
	r, err := o.verifyJob(ctx)
	if errors.Is(err, records.ErrDamaged) || errors.Is(err, session.ErrIntegrity) {
		r = newVerifyReport(nil)
		r.Job, r.Faults = o.job, []string{err.Error()}
	} else if err != nil {
		return err
	}
	r.What, r.NotShown = "job", jobNotShown
	return o.answer(r)
}

func (o *verifyOptions) verifyJob(ctx context.Context) (verifyReport, error) {
	s, err := session.OpenRead(ctx, o.env, o.job)
	if err != nil {
		return verifyReport{}, err
	}
	defer s.Close()
	readFiles(s, ctx)
	r := newVerifyReport(s.Job)
	r.Shown = append(r.Shown, jobShown)
	r.Faults = append(append(r.Faults, s.Job.Differs...), s.Job.RuleFaults()...)
	for _, f := range chain.CheckChain(s.Job.Entries) {
		r.Faults = append(r.Faults, f.String())
	}
	for _, a := range s.Job.Attachments {
		if _, err := s.Book.File(ctx, a.SHA256); err != nil {
			r.Faults = append(r.Faults, fmt.Sprintf("entry %d, attachment %s: %v", a.Seq, a.Name, err))
		}
	}
	if len(r.Faults) == 0 {
		r.take(seal.ExamineSigned(s.Job))
	}
	if err := o.signatures(s.Job, &r); err != nil {
		return r, err
	}
	return r, o.samePlan(s.Job.PlanHash, &r)
}

// samePlan holds the file of --plan, when there is one, against the plan of the job.
func (o *verifyOptions) samePlan(hash string, r *verifyReport) error {
	if o.plan == "" {
		return nil
	}
	data, err := readFile(o.plan, chain.MaxPlan)
	if err != nil {
		return fmt.Errorf("plan %s: %w", o.plan, err)
	}
	if h := chain.HashPlan(data); h != hash {
		r.Faults = append(r.Faults, fmt.Sprintf("%s is not the plan the job was opened with: its SHA-256 is %s; the job goes on with the plan it holds", o.plan, h))
	} else {
		r.Shown = append(r.Shown, o.plan+" is the plan the job was opened with")
	}
	return nil
}

func (o *verifyOptions) answer(r verifyReport) error {
	if o.json {
		if err := printJSON(o.env.Out, r); err != nil {
			return err
		}
	} else {
		o.print(r)
	}
	of := "job " + r.Job
	if r.File != "" {
		of = r.What + " " + r.File
	}
	switch {
	case len(r.Faults) > 0:
		return fmt.Errorf("%s: %w: %s", of, session.ErrIntegrity, report.Count(len(r.Faults), "fault", "faults"))
	case r.partly:
		return fmt.Errorf("%s: %w: see not compared", of, session.ErrPartly)
	}
	return nil
}

func (o *verifyOptions) print(r verifyReport) {
	w := o.env.Out
	if r.File != "" {
		fmt.Fprintf(w, "%s %s\n", r.What, r.File)
	}
	if r.Head != "" {
		fmt.Fprintf(w, "%s: %s, head %s\nplan SHA-256 %s\n%s judged again\n",
			r.Job, report.Count(r.Entries, "entry", "entries"), r.Head, r.PlanHash, report.Count(r.Attempts, "attempt", "attempts"))
	}
	if r.Attachments > 0 {
		fmt.Fprintln(w, report.Count(r.Attachments, "attachment", "attachments"))
	}
	for _, g := range r.Signatures {
		worth := "good"
		switch {
		case g.Doubt != "":
			worth = "NOT GOOD"
		case !g.Good:
			worth = "fits what it signs; whose it is, is not shown"
		}
		fmt.Fprintf(w, "entry %d: %s\n  key %s: %s\n", g.Entry, g.Words, g.Key, worth)
	}
	for _, f := range r.Faults {
		fmt.Fprintf(w, "FAULT: %s\n", f)
	}
	for _, n := range r.Notes {
		fmt.Fprintf(w, "note: %s\n", n)
	}
	if len(r.Faults) == 0 {
		whole := "record intact"
		if r.partly {
			whole = "what was compared is intact"
		}
		fmt.Fprintln(w, whole)
		for _, s := range r.Shown {
			fmt.Fprintf(w, "shown: %s\n", s)
		}
	}
	for _, n := range r.NotCompared {
		fmt.Fprintf(w, "not compared: %s\n", n)
	}
	if len(r.Faults) == 0 {
		fmt.Fprintf(w, "not shown: %s\n", r.NotShown)
	}
}
