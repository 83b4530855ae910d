package cmd

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"handback/checks"
	"handback/checks/plan"
	"handback/cmd/session"
	"handback/records/chain"
	"handback/report"
)

type enterOptions struct {
	env                    *session.Env
	job, check, by, file   string
	pairs                  []string
	repeat, keep, pastHold string
	dryRun                 bool
}

func newEnter(env *session.Env) *cobra.Command {
	o := &enterOptions{env: env}
	c := &cobra.Command{
		Use: "enter JOB CHECK key=value…", Short: "record readings of one check without being asked", Args: atLeast("JOB", "CHECK"),
		Long: `Record readings of one check, all or none: key=value arguments, or lines of
key = value in a file (- for stdin; # begins a comment). The check is judged once
every needed key is there. handback kinds KIND lists the keys of a kind.`,
		Example: `  handback enter t2-return-1 hv meter=vt-3 "value=6.55 kV"
  handback enter t2-return-1 volts-t2 --file volts.txt`,
		ValidArgsFunction: completeReadings(env, false),
		RunE: func(c *cobra.Command, args []string) error {
			o.job, o.check, o.pairs = args[0], args[1], args[2:]
			return runEnter(c.Context(), o)
		},
	}
	c.Flags().StringVar(&o.by, "by", "", "who read them, a person of the plan; its only technician when not given")
	c.Flags().StringVar(&o.file, "file", "", "file of key = value lines; - for stdin")
	c.Flags().StringVar(&o.repeat, "repeat", "", "why a judged check is taken again")
	c.Flags().StringVar(&o.keep, "keep", "", "why a doubtful reading is stored as it is")
	c.Flags().StringVar(&o.pastHold, "past-hold", "", "why readings behind a standing hold point are recorded; the handover says so")
	c.Flags().BoolVar(&o.dryRun, "dry-run", false, "judge them and tell what they come to, and store nothing")
	return c
}

func runEnter(ctx context.Context, o *enterOptions) error {
	pairs, err := o.readPairs()
	if err != nil {
		return err
	}
	s, c, err := session.OpenFor(ctx, o.env, o.job, o.by, (*session.Session).Check, o.check)
	if err != nil {
		return err
	}
	defer s.Close()
	s.DryRun = o.dryRun
	if err := o.allowed(s, c); err != nil {
		return err
	}
	in := s.Job.Input(c, o.env.Now())
	got, err := parsePairs(in, pairs)
	if err != nil {
		return fmt.Errorf("%w; nothing was stored", err)
	}
	in = in.With(got)
	if err := kept(in, got, o.keep); err != nil {
		return err
	}
	return o.store(ctx, s, in, got)
}

// allowed refuses readings that the order of the plan or a verdict forbids.
func (o *enterOptions) allowed(s *session.Session, c *plan.Check) error {
	if err := session.Reasons(o.repeat, o.keep, o.pastHold); err != nil {
		return err
	}
	if err := s.Barred(c); err != nil {
		return err
	}
	if h := s.Job.HoldAbove(c.ID); h != nil && o.pastHold == "" {
		err := fmt.Errorf("check %s lies behind hold %s (%s), whose step was not done; record it with: %s, or say why with --past-hold", c.ID, h.ID, h.Action, s.Env.Hint("done", s.Job.ID, h.ID))
		return session.Apart(err, session.Parts{Code: session.CodeOrder, Where: "check", Met: c.ID, Accepted: []string{h.ID}})
	}
	if a := s.Job.State(c.ID).Last(); a != nil && a.Judged && o.repeat == "" {
		err := fmt.Errorf("check %s was judged %s; take it again with --repeat WHY, or put a slip right with: %s key=value", c.ID, a.Finding.Verdict, s.Env.Hint("correct", s.Job.ID, c.ID))
		return session.Apart(err, session.Parts{Code: session.CodeDone, Where: "check", Met: c.ID})
	}
	return nil
}

// kept refuses readings that cannot be right, unless they are kept for a reason: then
// it marks them.
func kept(in checks.Input, got checks.Answers, why string) error {
	if no := in.Refused(); len(no) > 0 {
		return aboutReading(got, no[0], session.CodeRefused, fmt.Errorf("refused: %s; nothing was stored", report.Words(in.Check.Kind, no[0].Said)))
	}
	open := session.OpenDoubts(in)
	if len(open) == 0 {
		return nil
	}
	if why == "" {
		return aboutReading(got, open[0], session.CodeDoubt, fmt.Errorf("check the entry: %s; nothing was stored; correct it, or store it as it is with --keep WHY", report.Words(in.Check.Kind, open[0].Said)))
	}
	session.KeepDoubted(in, got, why)
	return nil
}

// aboutReading says of an error which reading it is about.
func aboutReading(got checks.Answers, d checks.Doubt, code string, err error) error {
	for _, key := range d.Fields {
		if a, ok := got[key]; ok {
			return session.Apart(err, session.Parts{Code: code, Where: key, Met: a.Typed})
		}
	}
	return session.Apart(err, session.Parts{Code: code})
}

func (o *enterOptions) store(ctx context.Context, s *session.Session, in checks.Input, got checks.Answers) error {
	n := s.Attempt(in.Check.ID)
	first := report.Read{Attempt: n, Answers: got}
	if last := s.Job.State(in.Check.ID).Last(); last == nil || last.Judged {
		first.Why = o.repeat
		if s.Job.HoldAbove(in.Check.ID) != nil {
			first.PastHold = o.pastHold
		}
	}
	drafts := []chain.Draft{{At: in.At, Kind: report.EntryRead, Check: in.Check.ID, Data: first}}
	done := session.Complete(in)
	if done {
		_, judge := s.Judgement(in, n)
		drafts = append(drafts, judge)
	}
	if err := s.Add(ctx, drafts...); err != nil {
		return err
	}
	became := "stored"
	if o.dryRun {
		became = "understood"
	}
	for _, field := range in.Form() {
		if a, ok := got[field.Key]; ok {
			fmt.Fprintf(o.env.Err, "  %s: %s\n", became, session.AnswerText(field, a, o.env.Now()))
		}
	}
	if !done {
		fmt.Fprintf(o.env.Out, "%s: %s; not judged yet, still needed: %s\n", in.Check.ID, became, strings.Join(session.MissingKeys(in), ", "))
		if due, ok := s.Job.Due(s.Job.State(in.Check.ID)); ok {
			fmt.Fprintf(o.env.Out, "%s: the next line falls due at %s\n", in.Check.ID, session.ClockText(due, o.env.Now()))
		}
		return nil
	}
	fmt.Fprintf(o.env.Out, "%s, attempt %d:\n", in.Check.ID, n)
	session.PrintFinding(o.env.Out, in.Check.Kind, s.Job.State(in.Check.ID).LastJudged().Finding, session.Briefly)
	s.SayJudgedAgain(in.Check.ID)
	return nil
}

// readPairs gathers key=value from the arguments and the file.
func (o *enterOptions) readPairs() ([]string, error) {
	pairs := o.pairs
	if o.file != "" {
		data, err := readText(o.env, o.file, maxInput)
		if err != nil {
			return nil, err
		}
		for i, line := range strings.Split(string(data), "\n") {
			line = strings.TrimSpace(line)
			if line == "" || strings.HasPrefix(line, "#") {
				continue
			}
			if !strings.Contains(line, "=") {
				return nil, fmt.Errorf("%s:%d: %q: a line of key = value is wanted", o.file, i+1, line)
			}
			pairs = append(pairs, line)
		}
	}
	switch {
	case len(pairs) > 0:
	case o.file == "-":
		return nil, errors.New("stdin holds no readings: lines of key = value are wanted")
	case o.file != "":
		return nil, fmt.Errorf("%s holds no readings: lines of key = value are wanted", o.file)
	default:
		return nil, session.Usagef("no readings: give key=value, or --file")
	}
	return pairs, nil
}

// parsePairs reads key=value pairs as answers of a form.
func parsePairs(in checks.Input, pairs []string) (checks.Answers, error) {
	form := in.Form()
	got := checks.Answers{}
	for _, pair := range pairs {
		key, value, ok := strings.Cut(pair, "=")
		key, value = strings.TrimSpace(key), strings.TrimSpace(value)
		if !ok {
			return nil, session.Usagef("%q: key=value is wanted", pair)
		}
		f, known := checks.FieldNamed(form, key)
		if !known {
			keys := checks.KeysOf(form)
			return nil, session.Apart(fmt.Errorf("check %s asks no %q: it asks %s", in.Check.ID, key, strings.Join(keys, ", ")), session.Parts{Where: "key", Met: key, Accepted: keys})
		}
		if _, twice := got[key]; twice {
			return nil, fmt.Errorf("%s is given twice", key)
		}
		a, err := checks.ParseAnswer(f, in.Plan, value, in.At)
		if err != nil {
			return nil, session.Apart(err, session.Parts{Where: key, Met: value, Accepted: []string{f.Accepts()}})
		}
		got[key] = a
	}
	return got, nil
}
