package walk

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"

	"handback/checks"
	"handback/checks/plan"
	"handback/cmd/session"
	"handback/records/chain"
	"handback/report"
)

// Options say which job is walked, who tests, and which check alone is taken.
type Options struct {
	Env            *session.Env
	Job, By, Check string

	// Photo makes the entry that attaches a photograph which a check asks for.
	Photo func(j *report.Job, c *plan.Check, photo, file string) (chain.Draft, error)
}

// walker leads one person through one job.
type walker struct {
	*session.Session
	in        *session.Lines
	photo     func(j *report.Job, c *plan.Check, photo, file string) (chain.Draft, error)
	repeatWhy string          // why the next attempt repeats one
	cautioned map[string]bool // cautions said in full
}

var (
	errQuit  = errors.New("quit")
	errMoved = errors.New("the job was added to elsewhere")
)

// Run leads through the job until it ends, or the person or the input leaves it.
func Run(ctx context.Context, o *Options) error {
	s, err := session.OpenWrite(ctx, o.Env, o.Job, o.By)
	if err != nil {
		return err
	}
	defer s.Close()
	w := &walker{Session: s, in: session.NewLines(o.Env), photo: o.Photo, cautioned: map[string]bool{}}
	w.say("%s, as %s; back, skip WHY, note WORDS, quit and help at any question\n", s.Job.ID, s.Job.PersonName(s.By))
	w.sayOpen()
	if o.Check != "" {
		c, err := s.Check(o.Check)
		if err != nil {
			return err
		}
		err = w.once(ctx, c)
		return w.leave(err)
	}
	return w.leave(w.all(ctx))
}

// all takes the open steps one after another.
func (w *walker) all(ctx context.Context) error {
	for {
		it, ok := w.Job.Next(w.Env.Now())
		var err error
		switch {
		case !ok:
			return w.end()
		case it.Hold != nil:
			err = w.atHold(ctx, it.Hold)
		case it.Step != nil:
			err = w.atStep(ctx, it.Step)
		default:
			err = w.take(ctx, it.Check)
		}
		if err != nil && !errors.Is(err, errMoved) {
			return err
		}
	}
}

// once takes one named check, again if it was judged.
func (w *walker) once(ctx context.Context, c *plan.Check) error {
	if err := w.Barred(c); err != nil {
		return err
	}
	if h := w.Job.HoldAbove(c.ID); h != nil {
		return fmt.Errorf("check %s lies behind hold %s, whose step was not done; go on with: %s", c.ID, h.ID, w.Env.Hint("walk", w.Job.ID))
	}
	if a := w.Job.State(c.ID).Last(); a != nil && a.Judged {
		why, err := w.in.Prompt(ctx, fmt.Sprintf("%s was judged %s; why again: ", c.ID, a.Finding.Verdict))
		if err != nil {
			return err
		}
		if why == "" {
			return session.Usagef("a repeat needs its reason")
		}
		if err := session.Reasons(why); err != nil {
			return err
		}
		w.repeatWhy = why
	}
	return w.take(ctx, c)
}

// sayOpen names the checks that were judged and did not pass, so that who comes
// back to a job knows what waits behind.
func (w *walker) sayOpen() {
	var open []string
	for _, c := range w.Job.Plan.Checks() {
		s := w.Job.State(c.ID)
		if a := s.LastJudged(); a != nil && a.Finding.Verdict != checks.Pass && !s.IsConceded() {
			open = append(open, fmt.Sprintf("%s (%s)", c.ID, s.Verdict()))
		}
	}
	if len(open) > 0 {
		w.say("%s\n", session.Wrapped("taken and not passed: "+strings.Join(open, ", "), "", w.in.Width()))
	}
}

// leave says how the walk ended and what to type next.
func (w *walker) leave(err error) error {
	next := w.Env.Hint("walk", w.Job.ID)
	var in inCheck
	switch {
	case errors.Is(err, errQuit):
		w.say("\nleft; every accepted line is kept; go on with: %s\n", next)
		return nil
	case errors.Is(err, session.ErrInterrupted):
		w.say("go on with: %s\n", next)
	case errors.As(err, &in) && errors.Is(err, io.EOF):
		return fmt.Errorf("the input ended inside check %s; what was accepted is kept; go on with: %s", in.check, next)
	case errors.Is(err, io.EOF):
		w.say("\nthe input ended; go on with: %s\n", next)
		return nil
	}
	return err
}

// inCheck marks an error that came inside a check.
type inCheck struct {
	check string
	error
}

func (e inCheck) Unwrap() error { return e.error }

// end tells how the job stands when no step is open, or only one that waits for
// its time.
func (w *walker) end() error {
	if s, due, ok := w.Job.Waiting(w.Env.Now()); ok {
		fmt.Fprintf(w.Env.Out, "\nnothing else is open: the next line of %s falls due at %s\n", s.Check.ID, w.dueText(due))
		w.say("go on then with: %s\n", w.Env.Hint("walk", w.Job.ID))
		return nil
	}
	o, err := w.Job.Standing(w.Env.Now())
	if err != nil {
		return err
	}
	fmt.Fprintf(w.Env.Out, "\nend of the plan: %s\n", o.Words)
	session.PrintAgainst(w.Env.Out, o)
	w.say("see what needs a look: %s\nmake the handover: %s\n", w.Env.Hint("flags", w.Job.ID), w.Env.Hint("handover", w.Job.ID))
	return nil
}

func (w *walker) say(format string, args ...any) { fmt.Fprintf(w.Env.Err, format, args...) }

// position is the step's number of all steps.
func (w *walker) position(id string) string {
	items := w.Job.Plan.Items()
	for i, it := range items {
		if it.ID() == id {
			return fmt.Sprintf("%d/%d", i+1, len(items))
		}
	}
	return ""
}

// Words good at a question, and at a hold point. Capitals do not count.
const walkHelp = `  back        ask the line before again
  skip WHY    leave this check open and go on; a hold point will wait for it
  note WORDS  record words about this check
  photo       attach the photographs that this check still lacks
  not there: WHY  the answer where a point does not exist
  amend       how the plan is changed: another instrument, a point more or less
  quit        leave; walk goes on from here
`

const holdHelp = `  done               the step was done just now; done 14:05 when it was earlier
  done WHEN with WHO a second person confirmed it: done now with jonas
  done STEP          a step above that was left is done after all
  repeat CHECK WHY   take a check above this hold again
  undone STEP WHY    a step above was undone: opened, made dead again
  note WORDS         record words about the job
  photo              attach the photographs that checks above still lack
  amend              how the plan is changed
  quit               leave; walk goes on from here
  Enter              look again at what is missing
`

// command runs a word that is no answer. done is false for an answer.
func (w *walker) command(ctx context.Context, check, typed string) (done bool, err error) {
	word, rest := cutWord(typed)
	switch {
	case word == "quit" && rest == "":
		return true, errQuit
	case rest == "" && (word == "help" || word == "?"):
		if check == "" {
			w.say("%s", holdHelp)
		} else {
			w.say("%s", walkHelp)
		}
		return true, nil
	case word == "photo" && rest == "":
		return true, w.photos(ctx, check)
	case word == "amend":
		was := w.Job.Force()
		if err := w.Load(ctx, w.Job.ID); err != nil {
			return true, err
		}
		if w.Job.Force() != was { // done elsewhere since
			w.say("  the plan was amended: the job is read again\n")
			return true, errMoved
		}
		w.say("  the plan is changed by a command of its own, then type amend once more; another instrument:\n    %s\n  anything else, by the whole plan as it should be:\n    %s\n",
			w.Env.Hint("amend", w.Job.ID, "--instrument", "ID", "serial=NUMBER", "due=2027-03-31", "like=ID", "--why", "WHY"), w.Env.Hint("amend", w.Job.ID, "PLAN", "--why", "WHY"))
		return true, nil
	case word == "note" && rest == "":
		w.say("  a note needs words: note WORDS\n")
		return true, nil
	case word == "note":
		if err := w.record(ctx, report.EntryNote, check, report.Noted{Text: rest}); err != nil {
			return true, err
		}
		w.say("  noted\n")
		return true, nil
	}
	return false, nil
}

// cutWord parts a typed line into its first word, in small letters, and the rest.
func cutWord(typed string) (word, rest string) {
	word, rest, _ = strings.Cut(typed, " ")
	return strings.ToLower(word), strings.TrimSpace(rest)
}
