package cmd

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"handback/checks"
	"handback/checks/plan"
	"handback/cmd/session"
	"handback/records/chain"
	"handback/report"
	"handback/report/fieldsheet"
	"handback/report/grid"
)

type readOptions struct {
	env                            *session.Env
	job, file, by                  string
	keep, repeat, pastHold, before string
	form                           string // id of an import of the plan
	yes, json, formulas            bool
}

func newRead(env *session.Env) *cobra.Command {
	o := &readOptions{env: env}
	c := &cobra.Command{
		Use: "read JOB FILE", Short: "take readings back from a field sheet or a CSV file", Args: exactly("JOB", "FILE"),
		Long: `Take readings back from a field sheet (made by handback sheet, saved as .xlsx) or
from a file of comma-separated values, whose columns the plan declares under
imports. It shows what was understood and what the checks would come to, asks once,
and stores all of it or none. Whatever is not clear is named with its cell or line,
and nothing is stored: a formula, a value that differs from one recorded meanwhile,
a time that may be of two days. The same file twice changes nothing.

With --json it prints what it understood and stores nothing, unless --yes.`,
		Example: `  handback read t2-return-1 sheet.xlsx
  handback read t2-return-1 sheet.xlsx --before energise --yes
  handback read t2-return-1 logger.csv --import logger`,
		ValidArgsFunction: completeJobAndFile(env),
		RunE:              taking(runRead, o, &o.job, &o.file),
	}
	f := c.Flags()
	f.StringVar(&o.by, "by", "", "who takes them back, a person of the plan; its only technician when not given")
	f.BoolVarP(&o.yes, "yes", "y", false, "store without asking")
	f.StringVar(&o.keep, "keep", "", "why a doubtful reading is stored as it is")
	f.StringVar(&o.repeat, "repeat", "", "why judged checks are taken again")
	f.StringVar(&o.before, "before", "", "take only checks above this hold point")
	f.StringVar(&o.pastHold, "past-hold", "", "why readings behind a standing hold point are recorded; the handover says so")
	f.StringVar(&o.form, "import", "", "import of the plan that declares the columns; its only one when not given")
	f.BoolVar(&o.formulas, "formulas", false, "take what formulas came to")
	jsonFlag(c, &o.json)
	return c
}

// intake is a proposal with what it would come to.
type intake struct {
	*fieldsheet.Proposal
	checks []intakeCheck
	adds   bool // something was staged
}

type intakeCheck struct {
	fieldsheet.Proposed
	input   checks.Input // with the answers that are recorded already
	form    []checks.Field
	missing []string
	finding *checks.Finding // nil while something is missing
}

// maxReadings bounds a file before it is read; what is in it has bounds of its own.
const maxReadings = 16 << 20

func runRead(ctx context.Context, o *readOptions) error {
	data, err := readText(o.env, o.file, maxReadings)
	if err != nil {
		return err
	}
	s, err := session.OpenWrite(ctx, o.env, o.job, o.by)
	if err != nil {
		return err
	}
	defer s.Close()
	if o.before != "" && s.Job.Plan.Hold(o.before) == nil {
		return session.NoSuch("--before", o.before, session.HoldIDs(s), "no hold point %q in job %s", o.before, s.Job.ID)
	}
	p, wrong, err := o.propose(s, data)
	var foreign grid.Foreign
	if o.json && errors.As(err, &foreign) {
		return errors.Join(printJSON(o.env.Out, o.refused([]fieldsheet.CellError{{Place: o.file, Cause: foreign.Error()}})), err)
	}
	if err != nil {
		return err
	}
	var in *intake
	if len(wrong) == 0 {
		if in, wrong, err = o.intake(s, p); err != nil {
			return err
		}
	}
	if len(wrong) > 0 {
		return o.refuse(wrong)
	}
	if o.json {
		if o.yes && in.adds {
			if err := s.Commit(ctx); err != nil {
				return err
			}
		}
		return printJSON(o.env.Out, in.document(o))
	}
	if err := in.show(o); err != nil || !in.adds {
		return err
	}
	if err := o.ask(ctx); err != nil {
		return err
	}
	if err := s.Commit(ctx); err != nil {
		return err
	}
	fmt.Fprintf(o.env.Err, "stored; how the job stands: %s\n", o.env.Hint("status", s.Job.ID))
	return nil
}

// propose reads the file as what it is: a workbook begins as a zip archive does, or
// as the compound files of old.
func (o *readOptions) propose(s *session.Session, data []byte) (*fieldsheet.Proposal, []fieldsheet.CellError, error) {
	how := fieldsheet.ReadingOptions{Now: o.env.Now(), Repeat: o.repeat}
	var p *fieldsheet.Proposal
	var wrong []fieldsheet.CellError
	var err error
	if bytes.HasPrefix(data, []byte("PK")) || bytes.HasPrefix(data, []byte("\xd0\xcf\x11\xe0")) {
		p, wrong, err = fieldsheet.Read(data, s.Job, fieldsheet.Options{ReadingOptions: how, Formulas: o.formulas})
	} else {
		var m *plan.Import
		if m, err = o.importOf(s.Job.Plan); err == nil {
			p, wrong, err = fieldsheet.ReadCSV(data, s.Job, m, how)
		}
	}
	if err != nil {
		var usage session.UsageError
		if errors.As(err, &usage) {
			return nil, nil, err
		}
		return nil, nil, fmt.Errorf("%s: %w; nothing was stored", o.file, err)
	}
	return p, wrong, nil
}

// importOf finds how the plan says a file of values is to be read.
func (o *readOptions) importOf(p *plan.Plan) (*plan.Import, error) {
	var ids []string
	for _, m := range p.Imports {
		ids = append(ids, m.ID)
	}
	switch m := p.Import(o.form); {
	case len(ids) == 0:
		return nil, fmt.Errorf("it is no workbook, and the plan declares no imports: a field sheet (.xlsx) is wanted, or a plan that says what the columns of a CSV file hold")
	case o.form == "" && len(ids) == 1:
		return &p.Imports[0], nil
	case m == nil:
		return nil, session.Apart(session.Usagef("say how the file is read with --import, one of %s", strings.Join(ids, ", ")), session.Parts{Where: "--import", Met: o.form, Accepted: ids})
	default:
		return m, nil
	}
}

// intake stages the readings check by check, each judged with what those above it in
// the file came to, and refuses what enter would refuse.
func (o *readOptions) intake(s *session.Session, p *fieldsheet.Proposal) (*intake, []fieldsheet.CellError, error) {
	if err := session.Reasons(o.keep, o.repeat, o.pastHold); err != nil {
		return nil, nil, err
	}
	in := &intake{Proposal: p}
	var wrong []fieldsheet.CellError
	for _, c := range p.Checks {
		if o.before != "" && !above(s.Job.Plan, c.Check.ID, o.before) {
			continue
		}
		if why := o.barred(s, c); why != "" {
			wrong = append(wrong, fieldsheet.CellError{Place: "check " + c.Check.ID, Cause: why})
			continue
		}
		refused, err := in.add(s, o, c)
		if err != nil {
			return nil, nil, err
		}
		wrong = append(wrong, refused...)
	}
	return in, wrong, nil
}

// barred says why readings of a check are not taken now, "" when they are.
func (o *readOptions) barred(s *session.Session, c fieldsheet.Proposed) string {
	if len(c.Answers) == 0 {
		return ""
	}
	if err := s.Barred(c.Check); err != nil {
		return strings.TrimPrefix(err.Error(), "check "+c.Check.ID+" ")
	}
	if h := s.Job.HoldAbove(c.Check.ID); h != nil && o.pastHold == "" {
		return fmt.Sprintf("it lies behind hold %s (%s), whose step was not done: take what is above with --before %s, record the step with: %s, then read the rest; or say why with --past-hold", h.ID, h.Action, h.ID, s.Env.Hint("done", s.Job.ID, h.ID))
	}
	return ""
}

// above tells whether a check stands above a hold point of the plan.
func above(p *plan.Plan, check, hold string) bool {
	for _, it := range p.Items() {
		if it.Hold != nil && it.Hold.ID == hold {
			return false
		}
		if it.Check != nil && it.Check.ID == check {
			return true
		}
	}
	return false
}

// add judges one check and stages what it would store.
func (in *intake) add(s *session.Session, o *readOptions, c fieldsheet.Proposed) ([]fieldsheet.CellError, error) {
	got, input := c.Answers, s.Job.Input(c.Check, o.env.Now())
	input = input.With(got)
	out := intakeCheck{Proposed: c, input: input, form: input.Form()}
	var drafts []chain.Draft
	for _, text := range c.Notes {
		drafts = append(drafts, chain.Draft{Kind: report.EntryNote, Check: c.Check.ID, Data: report.Noted{Text: text}})
	}
	if len(got) > 0 {
		if no := input.Refused(); len(no) > 0 {
			return doubtful(c, no, "refused: %s"), nil
		}
		if open := session.OpenDoubts(input); len(open) > 0 && o.keep == "" {
			return doubtful(c, open, "check the entry: %s; correct it, or store it as it is with --keep WHY"), nil
		} else if len(open) > 0 {
			session.KeepDoubted(input, got, o.keep)
		}
		read := report.Read{Attempt: c.Attempt, Answers: got, Why: c.Why}
		if c.Begins {
			read.PastHold = o.pastHoldOf(s, c.Check.ID)
		}
		drafts = append(drafts, chain.Draft{At: input.At, Kind: report.EntryRead, Check: c.Check.ID, Data: read})
		if out.missing = session.MissingKeys(input); session.Complete(input) {
			f, judge := s.Judgement(input, c.Attempt)
			out.finding, drafts = &f, append(drafts, judge)
		}
	}
	in.checks = append(in.checks, out)
	in.adds = in.adds || len(drafts) > 0
	return nil, s.Stage(drafts...)
}

// pastHoldOf is the reason for readings behind a hold that stands, "" where none does.
func (o *readOptions) pastHoldOf(s *session.Session, check string) string {
	if s.Job.HoldAbove(check) == nil {
		return ""
	}
	return o.pastHold
}

// doubtful tells readings that cannot be right, or are refused, at the cells they
// stand in.
func doubtful(c fieldsheet.Proposed, open []checks.Doubt, words string) []fieldsheet.CellError {
	var out []fieldsheet.CellError
	for _, d := range open {
		e := fieldsheet.CellError{Place: "check " + c.Check.ID, Cause: fmt.Sprintf(words, report.Words(c.Check.Kind, d.Said))}
		for _, key := range d.Fields {
			if place, ok := c.Places[key]; ok {
				e.Place, e.Met = place, c.Answers[key].Typed
				break
			}
		}
		out = append(out, e)
	}
	return out
}

// ask has the person confirm, once. Where nobody can answer it says how to go on.
func (o *readOptions) ask(ctx context.Context) error {
	if o.yes {
		return nil
	}
	l := session.NewLines(o.env)
	if l.Terminal == nil {
		return session.Usagef("nothing was stored: stdin is no terminal, so nobody can be asked; look at what stands above, and store it with --yes")
	}
	typed, err := l.Prompt(ctx, "store all of it? yes, or Enter to leave the record as it is: ")
	switch {
	case err != nil && !errors.Is(err, io.EOF):
		return err
	case !strings.EqualFold(typed, "yes") && !strings.EqualFold(typed, "y"):
		return errors.New("nothing was stored")
	}
	return nil
}
