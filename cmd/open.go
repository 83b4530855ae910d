package cmd

import (
	"context"
	"encoding/hex"
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"handback/checks/plan"
	"handback/cmd/session"
	"handback/records"
	"handback/records/chain"
	"handback/report"
	"handback/report/switching"
)

type openOptions struct {
	env      *session.Env
	file, by string
}

func newOpen(env *session.Env) *cobra.Command {
	o := &openOptions{env: env}
	c := &cobra.Command{
		Use: "open PLAN", Short: "put a plan to work as a job", Args: exactly("PLAN"),
		Long: `Put a plan to work as a job. The plan is frozen into the job as it stands now: a
later change of the file changes nothing here; so are the files of its form. The job's name is printed; its
entries go to the record book. A plan that plan check objects to is not opened, nor one
whose dry run breaks a rule that nobody may override; what else the dry run refuses or
leaves over is said. Where a job of the plan is under way in the same book, that is said
first.`,
		Example: "  handback open plan.yaml",
		RunE:    taking(runOpen, o, &o.file),
	}
	c.Flags().StringVar(&o.by, "by", "", "who opens it, a person of the plan; the plan's only technician when not given")
	return c
}

func runOpen(ctx context.Context, o *openOptions) error {
	data, plan, err := readPlan(o.env, o.file)
	if err != nil {
		return err
	}
	tellDryRun(o.env, o.file, plan)
	by, err := o.env.Person(plan, o.by)
	if err != nil {
		return err
	}
	dressed, err := formDrafts(o.file, by, plan)
	if err != nil {
		return err
	}
	nonce := make([]byte, 16)
	if _, err := io.ReadFull(o.env.Random, nonce); err != nil {
		return fmt.Errorf("no random bytes for the job: %w", err)
	}
	book, err := records.OpenOrCreate(ctx, o.env.Book)
	if err != nil {
		return err
	}
	defer book.Close()
	if err := tellOpen(ctx, o.env, book, plan); err != nil {
		return err
	}
	opening := report.Opening{Title: plan.Title, PlanFile: filepath.Base(inputName(o.file)), Program: o.env.Program}
	if !plan.UnsignedAcceptance {
		opening.Acceptances = report.AcceptancesSigned
	}
	draft := chain.Draft{At: o.env.Now(), By: by, Kind: report.EntryOpen, Data: opening}
	if err := chain.PlainTexts(draft.Data); err != nil {
		return err
	}
	for i := range dressed {
		dressed[i].At = draft.At
	}
	e, err := book.NewJob(ctx, plan.ID, draft, data, hex.EncodeToString(nonce), dressed...)
	if err != nil {
		return err
	}
	entries, err := book.Entries(ctx, e.Job)
	if err != nil {
		return err
	}
	o.env.Added(e.Job, entries...)
	fmt.Fprintln(o.env.Out, e.Job)
	fmt.Fprintf(o.env.Err, "%s is open in %s\ngo on with: %s\n", plan.Title, book.Path(), o.env.Hint("walk", e.Job))
	tellKeys(o.env, plan)
	return nil
}

// tellOpen says which job of a plan is under way already: the same command typed twice
// makes two jobs, and readings would be spread over both.
func tellOpen(ctx context.Context, env *session.Env, book *records.Book, plan *plan.Plan) error {
	jobs, err := book.Jobs(ctx)
	if err != nil {
		return err
	}
	for _, j := range slices.Backward(jobs) {
		if !strings.EqualFold(j.ID[:max(0, strings.LastIndexByte(j.ID, '-'))], plan.ID) {
			continue
		}
		entries, err := book.Entries(ctx, j.ID)
		if err != nil {
			return err
		}
		job, err := session.FoldJob(ctx, book, entries)
		if err != nil || job.Overall(env.Now()).Ready { // what is wrong with another job is no matter here
			continue
		}
		fmt.Fprintf(env.Err, "job %s of this plan was opened %s and is under way (%s); to go on with that one: %s\nwhat follows is another job\n",
			j.ID, j.Opened.Format("2006-01-02 15:04"), job.Overall(env.Now()).Words, env.Hint("walk", j.ID))
		return nil
	}
	return nil
}

// tellKeys says that nothing can be accepted in a job: that nobody who decides has a key cannot
// be put right once it is open, for an amendment is accepted with a key that was listed before.
func tellKeys(env *session.Env, p *plan.Plan) {
	if !p.UnsignedAcceptance && !slices.ContainsFunc(p.People, decides) {
		fmt.Fprintf(env.Err, "warning: the plan lists no key of an engineer or an owner: nothing that does not pass, nor a change of the plan, can be accepted in this job; a key for it is made with: %s\n", env.Hint("key", "new", "--output", "FILE"))
	}
}

// tellDryRun says what the dry run of a plan refuses or leaves over. What nobody may
// override has kept the plan from being opened already.
func tellDryRun(env *session.Env, file string, p *plan.Plan) {
	if switching.Clean(p) {
		return
	}
	for i, it := range p.Items() {
		if l := switching.At(p, i+1); l != nil && len(l.Refused) > 0 {
			fmt.Fprintf(env.Err, "warning: step %s is refused by the dry run\n", it.ID())
		}
	}
	for _, words := range switching.Left(p) {
		fmt.Fprintf(env.Err, "warning: %s\n", words)
	}
	fmt.Fprintf(env.Err, "%s; what stands in the way: %s\n", switching.Summary(p), env.Hint("plan", "check", file))
}
