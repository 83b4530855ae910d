package cmd

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"handback/checks"
	"handback/checks/plan"
	"handback/report"
)

type walkOptions struct {
	env            *Env
	job, by, check string
}

func newWalk(env *Env) *cobra.Command {
	o := &walkOptions{env: env}
	c := &cobra.Command{
		Use: "walk JOB", Short: "be led through the checks of a job", Args: exactly("JOB"),
		Long: `Be led through the checks of a job, from the next open one. Values of one row may
be typed on one line (249.1 248.7 249.0), with units (0.249 kV) and a decimal
comma. Every accepted line is on the disk before the next question; whatever
happens, walk goes on from there. A check that is read over hours is left between
its readings and taken up again when the next one is due.

At any question: back, skip WHY, note WORDS, quit, help. A reading that cannot be
right is asked again; keep WHY keeps it. A hold point stops the walk until its
checks pass; taken says that its step has been taken.`,
		Example:           "  handback walk t2-return-1\n  handback walk t2-return-1 --check volts-t2",
		ValidArgsFunction: completeJobs(env, nil),
		RunE: func(c *cobra.Command, args []string) error {
			o.job = args[0]
			return runWalk(c.Context(), o)
		},
	}
	c.Flags().StringVar(&o.by, "by", "", "who is testing, a person of the plan; its only technician when not given")
	c.Flags().StringVar(&o.check, "check", "", "take this check now, again if it was judged")
	return c
}

// walker leads one person through one job.
type walker struct {
	*session
	in        *lines
	again     string          // why the next attempt repeats one
	cautioned map[string]bool // cautions said in full
}

var (
	errQuit  = errors.New("quit")
	errMoved = errors.New("the job was added to elsewhere")
)

func runWalk(ctx context.Context, o *walkOptions) error {
	s, err := openWrite(ctx, o.env, o.job, o.by)
	if err != nil {
		return err
	}
	defer s.close()
	w := &walker{session: s, in: newLines(o.env), cautioned: map[string]bool{}}
	w.say("%s, as %s; back, skip WHY, note WORDS, quit and help at any question\n", s.job.ID, s.job.PersonName(s.by))
	w.sayOpen()
	if o.check != "" {
		c, err := s.check(o.check)
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
		it, ok := w.job.Next(w.env.Now())
		var err error
		switch {
		case !ok:
			return w.end()
		case it.Hold != nil:
			err = w.hold(ctx, it.Hold)
		default:
			err = w.check1(ctx, it.Check)
		}
		if err != nil && !errors.Is(err, errMoved) {
			return err
		}
	}
}

// once takes one named check, again if it was judged.
func (w *walker) once(ctx context.Context, c *plan.Check) error {
	if err := w.barred(c); err != nil {
		return err
	}
	if h := w.job.HoldAbove(c.ID); h != nil {
		return fmt.Errorf("check %s lies behind hold %s, whose step was not taken; go on with: %s", c.ID, h.ID, w.env.hint("walk", w.job.ID))
	}
	if a := w.job.State(c.ID).Last(); a != nil && a.Judged {
		why, err := w.in.prompt(ctx, fmt.Sprintf("%s was judged %s; why again: ", c.ID, a.Finding.Verdict))
		if err != nil {
			return err
		}
		if why == "" {
			return usagef("a repeat needs its reason")
		}
		if err := reasons(why); err != nil {
			return err
		}
		w.again = why
	}
	return w.check1(ctx, c)
}

// sayOpen names the checks that were judged and did not pass, so that who comes
// back to a job knows what waits behind.
func (w *walker) sayOpen() {
	var open []string
	for _, c := range w.job.Plan.Checks() {
		s := w.job.State(c.ID)
		if a := s.Judged(); a != nil && a.Finding.Verdict != checks.Pass && !s.IsConceded() {
			open = append(open, fmt.Sprintf("%s (%s)", c.ID, s.Verdict()))
		}
	}
	if len(open) > 0 {
		w.say("%s\n", wrapped("taken and not passed: "+strings.Join(open, ", "), "", w.in.width()))
	}
}

// leave says how the walk ended and what to type next.
func (w *walker) leave(err error) error {
	next := w.env.hint("walk", w.job.ID)
	var in inCheck
	switch {
	case errors.Is(err, errQuit):
		w.say("\nleft; every accepted line is kept; go on with: %s\n", next)
		return nil
	case errors.Is(err, errInterrupted):
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
	if s, due, ok := w.job.Waiting(w.env.Now()); ok {
		fmt.Fprintf(w.env.Out, "\nnothing else is open: the next line of %s falls due at %s\n", s.Check.ID, w.dueText(due))
		w.say("go on then with: %s\n", w.env.hint("walk", w.job.ID))
		return nil
	}
	o, err := w.job.Standing(w.env.Now())
	if err != nil {
		return err
	}
	fmt.Fprintf(w.env.Out, "\nend of the plan: %s\n", o.Words)
	printAgainst(w.env.Out, o)
	w.say("see what needs a look: %s\nmake the handover: %s\n", w.env.hint("flags", w.job.ID), w.env.hint("handover", w.job.ID))
	return nil
}

func (w *walker) say(format string, args ...any) { fmt.Fprintf(w.env.Err, format, args...) }

// position is the step's number of all steps.
func (w *walker) position(id string) string {
	items := w.job.Plan.Items()
	for i, it := range items {
		if it.Check != nil && it.Check.ID == id || it.Hold != nil && it.Hold.ID == id {
			return fmt.Sprintf("%d/%d", i+1, len(items))
		}
	}
	return ""
}

// Words good at a question, and at a hold point. Capitals do not count.
const walkHelp = `  back        ask the line before again
  skip WHY    leave this check open and go on; a hold point will wait for it
  note WORDS  record words about this check
  quit        leave; walk goes on from here
`

const holdHelp = `  taken              the step was taken just now; taken 14:05 when it was earlier
  repeat CHECK WHY   take a check above this hold again
  undone HOLD WHY    the step of a hold above was undone: opened, made dead again
  note WORDS         record words about the job
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
	case word == "note" && rest == "":
		w.say("  a note needs words: note WORDS\n")
		return true, nil
	case word == "note":
		if err := w.record(ctx, report.KindNote, check, report.Noted{Text: rest}); err != nil {
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
