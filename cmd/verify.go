package cmd

import (
	"cmp"
	"context"
	"errors"
	"fmt"

	"github.com/spf13/cobra"

	"handback/cmd/session"
	"handback/records"
	"handback/records/chain"
	"handback/report"
	"handback/report/fork"
	"handback/report/seal"
	"handback/report/trust"
)

type verifyOptions struct {
	env       *session.Env
	job, plan string
	signers   string
	json      bool
	asked     policyOptions
}

const verifyLong = `Hash every entry of a job again, follow the chain, judge every attempt again from
its answers and compare; hash every attachment again. With --plan FILE, show that the
file is the plan the job was opened with. Exit status 4 when anything differs.

Verdicts, readings, values and digests are compared, never sentences or layout: a
record, a bag and a workbook of every version are verified alike. What was compared
stands in the answer as shown, what could not be as not compared.

In the place of JOB may stand a bag that pack made: a folder, a file ending in .zip,
or - for such a file from stdin. It is taken for hostile: names and sizes are looked at
before anything in it is read, and nothing is unpacked. Then every file is held against the
manifests, the record is verified as in a book, and the handover is compared by the
data it carries. Where the record book here holds the job, the two are compared too.
Nothing in a bag changes after it was packed: where a file in it has words that this
program does not write, nothing may be wrong, but not all could be compared, and the
exit status is 5.

Of a bag from which an archive removed something (archive redact) what is left is compared,
and of what went the hashes. Nothing is judged again: the exit status is 5, and what
--require asks for is refused.

Or a handover workbook, ending in .xlsx. The data it carries and its named cells,
which hold every reading, value and verdict, are held against the job in the record
book. It may have been filled in, printed, recoloured, or have got sheets and columns
of other people: that is not compared, and the exit status stays 0. Where a program
saved it without what its formulas come to, the exit status is 5.

Every signature is checked: that the key signed these bytes, that the statement says
what the record says at that entry, that the workbook and the page that were signed
are kept as they were, that the person could sign so, and that the key is listed for
them in the plan. The plan is part of the record: with a list of allowed signers that you
had before, --allowed-signers FILE, that list is trusted instead, for acceptances too. What
was signed by a key that the list does not have is by a key not known: nothing is wrong with
the record, and the exit status is 5. By a key that it lists for another person, role or
time it is refused. The time a key was used at is what its owner's clock said, unless a
time stamp (stamp) vouches for it, by an authority that --tsa-ca FILE leads to.

With --require engineer,owner a record is refused, with exit status 4, that is not
signed so as it stands, by keys to which the list gives the role: a line of the list says
namespaces="handback-statement,handback-statement-engineer,handback-acceptance". The role
that the plan gives does not count. With --require acceptances one is refused in which
anything that had to be accepted is not, with a signature by such a key; with --require
ready, a job that is not ready. --head and --entries tell what a copy from elsewhere
knows, so that a record cut short is refused.
--policy FILE says all that for every record:
  require: [engineer, owner]       roles that must have signed; acceptances; ready
  allowed_signers: FILE            whose keys are trusted, and as what
  revoked_keys: FILE               key revocation list of ssh-keygen -k, or public keys
  revoked: [{key: SHA256:…, from: 2026-05-01T00:00:00Z, why: lost}]
  clock_ahead: 10m                 how far an entry may be ahead of the clock here
  must: [head, entries, stamp]     what must be known of each record from elsewhere:
  known: [{job: t2-return-1, entries: 57, head: …}]
  tsa_ca: FILE                     authorities whose time stamps are believed
The files lie beside it. Several records are verified one after another, and so are
the bags in a folder; with --json each is one line, whose status is the exit status
it has alone.

This shows that nothing in the record was changed, swapped, put in or taken out
between its entries. It does not show who typed it, nor that the newest entries were
not cut off: for that compare the head hash with a signed or printed copy.`

func newVerify(env *session.Env) *cobra.Command {
	o := &verifyOptions{env: env}
	c := &cobra.Command{
		Use: "verify JOB...", Short: "show that a record, a bag or a handover is intact, and signed as asked", Args: atLeast("JOB"),
		Long:              verifyLong,
		Example:           "  handback verify t2-return-1\n  handback verify t2-return-1.zip\n  handback verify handover.xlsx\n  handback verify --policy intake.yaml --json received/",
		ValidArgsFunction: completeJobOrFile(env),
		RunE:              func(c *cobra.Command, args []string) error { return runVerify(c.Context(), o, args) },
	}
	jsonFlag(c, &o.json)
	signersFlag(c, &o.signers)
	o.asked.flags(c)
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
	Stamps     []trust.Stamp   `json:"stamps"` // times that an authority vouches for

	Acceptances []trust.Acceptance `json:"acceptances"`

	What        string   `json:"what"`           // job, bag or workbook
	File        string   `json:"file,omitempty"` // the bag or workbook
	Attachments int      `json:"attachments"`
	Shown       []string `json:"shown"`        // what was compared and agrees, when there are no faults
	NotCompared []string `json:"not_compared"` // what was not compared in this run
	NotShown    string   `json:"not_shown"`    // what no comparison shows
	Notes       []string `json:"notes"`        // what came later or cannot be told

	Removed []seal.Removal `json:"removed,omitempty"` // from a bag, since it was packed

	partly  bool         // something was not compared that the answer hangs on
	unknown map[int]bool // by the entry of what was signed: nothing tells whose key it was

	Attempts int      `json:"attempts"` // judged again
	Faults   []string `json:"faults"`
	Refused  []string `json:"refused"` // what was asked of it and is not so
	Status   int      `json:"status"`  // exit status that it has alone
}

// newVerifyReport counts what a job holds; of no job it says nothing.
func newVerifyReport(j *report.Job) verifyReport {
	r := verifyReport{Faults: []string{}, Refused: []string{}, Notes: []string{}, Shown: []string{}, NotCompared: []string{}, Signatures: []signatureLine{}, Stamps: []trust.Stamp{}, Acceptances: []trust.Acceptance{}}
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

func runVerify(ctx context.Context, o *verifyOptions, args []string) error {
	if err := o.ask(); err != nil {
		return err
	}
	targets, lines := o.targets(ctx, args)
	if lines {
		if o.asked.known != (trust.Known{}) {
			return session.Usagef("--head and --entries tell of one record: for several a policy file has known:")
		}
		return o.verifyMany(ctx, targets)
	}
	o.job = targets[0]
	done := o.env.Working("verifying %s", o.job)
	r, err := o.examine(ctx)
	done()
	if err != nil {
		return err
	}
	if err := o.show(r, false); err != nil {
		return err
	}
	return r.outcome()
}

// examine verifies a job of the book, or a file.
func (o *verifyOptions) examine(ctx context.Context) (verifyReport, error) {
	if o.isFile(ctx) {
		if _, err := listJobs(ctx, o.env); errors.Is(err, records.ErrNoBook) && !isWorkbook(o.job) {
			return verifyReport{}, err // it was named; without any a bag is verified alone
		}
		return o.verifyFile(ctx)
	}
	r, err := o.verifyJob(ctx)
	if errors.Is(err, records.ErrDamaged) || errors.Is(err, session.ErrIntegrity) {
		r = newVerifyReport(nil)
		r.Job, r.Faults = o.job, []string{err.Error()}
	} else if err != nil {
		return r, err
	}
	r.What, r.NotShown = "job", jobNotShown
	return r, nil
}

func (o *verifyOptions) verifyJob(ctx context.Context) (verifyReport, error) {
	s, err := session.OpenSeen(ctx, o.env, o.job)
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
	for _, seq := range fork.Missing(s.Job.Entries, s.Job.Lines) {
		r.Faults = append(r.Faults, fmt.Sprintf("the continuation that entry %d joins is not in the book", seq))
	}
	r.Notes = append(r.Notes, forkNotes(s.Job)...)
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

// forkNotes tell the forks of a job.
func forkNotes(j *report.Job) []string {
	var out []string
	for _, f := range j.Forks() {
		out = append(out, "the job "+j.ForkWords(f))
	}
	return out
}

// samePlan holds the file of --plan, when there is one, against the plan of the job.
func (o *verifyOptions) samePlan(hash string, r *verifyReport) error {
	if o.plan == "" {
		return nil
	}
	data, err := gathered(o.env, o.plan)
	if err != nil {
		return err
	}
	if h := chain.HashPlan(data); h != hash {
		r.Faults = append(r.Faults, fmt.Sprintf("%s is not the plan the job was opened with: its SHA-256 is %s; the job goes on with the plan it holds", o.plan, h))
	} else {
		r.Shown = append(r.Shown, o.plan+" is the plan the job was opened with")
	}
	return nil
}

// show prints what verifying showed, on one line of several.
func (o *verifyOptions) show(r verifyReport, line bool) error {
	if !o.json {
		o.print(r)
		return nil
	}
	r.Status = exitStatus(r.outcome())
	if line {
		return printLine(o.env.Out, r)
	}
	return printJSON(o.env.Out, r)
}

// outcome is how verifying ends.
func (r verifyReport) outcome() error {
	of := "job " + r.Job
	if r.File != "" {
		of = r.What + " " + r.File
	}
	switch {
	case len(r.Faults) > 0:
		return fmt.Errorf("%s: %w: %s", of, session.ErrIntegrity, report.Count(len(r.Faults), "fault", "faults"))
	case len(r.Refused) > 0:
		return fmt.Errorf("%s: %w: %s", of, session.ErrRefused, r.Refused[0])
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
		fmt.Fprintf(w, "%s: %s, head %s\nplan SHA-256 %s\n", r.Job, report.Count(r.Entries, "entry", "entries"), r.Head, cmp.Or(r.PlanHash, "not known"))
		if len(r.Removed) > 0 {
			fmt.Fprintln(w, "REDUCED: something was removed from it; nothing was judged again")
		} else {
			fmt.Fprintf(w, "%s judged again\n", report.Count(r.Attempts, "attempt", "attempts"))
		}
	}
	if r.Attachments > 0 {
		fmt.Fprintln(w, report.Count(r.Attachments, "attachment", "attachments"))
	}
	for _, g := range r.Signatures {
		fmt.Fprintf(w, "entry %d: %s\n  key %s: %s\n", g.Entry, g.Words, g.Key, r.worth(g.Entry, g.Good, g.Doubt))
	}
	for _, x := range r.Acceptances {
		worth := ""
		if x.Key != "" {
			worth = "\n  key " + x.Key + ": " + r.worth(x.Entry, x.Good, x.Doubt)
		}
		fmt.Fprintf(w, "entry %d: %s%s\n", x.Entry, x.Words, worth)
	}
	for _, f := range r.Faults {
		fmt.Fprintf(w, "FAULT: %s\n", f)
	}
	for _, f := range r.Refused {
		fmt.Fprintf(w, "REFUSED: %s\n", f)
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

// worth says what a signature shows.
func (r verifyReport) worth(entry int, good bool, doubt string) string {
	switch {
	case r.unknown[entry]:
		return "by a key not known"
	case doubt != "":
		return "NOT GOOD"
	case !good:
		return "fits what it signs; whose it is, is not shown"
	}
	return "good"
}
