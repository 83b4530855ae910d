package walk

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"
	"time"

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

	// Photo makes the entry that attaches a photograph which a check or a step asks for.
	Photo func(j *report.Job, of plan.Item, photo, file string) (chain.Draft, error)

	// Ended hears how the walk ended, and of which check where it ended inside one; nil where nobody asks.
	Ended func(s *session.Session, how, check string) error
}

// How a walk ends.
const (
	NothingLeft = "nothing-left" // to take
	Left        = "quit"
	InputEnded  = "input-ended"
	Interrupted = "interrupted"
	Failed      = "failed"
)

// walker leads one person through one job.
type walker struct {
	*session.Session
	in        *session.Lines
	photo     func(j *report.Job, of plan.Item, photo, file string) (chain.Draft, error)
	repeatWhy string          // why the next attempt repeats one
	keeping   *keeping        // what the next attempt keeps of the one it repeats
	cautioned map[string]bool // cautions said in this stage
	hinted    map[string]bool // hints and sources of targets that were said
	headed    map[string]bool // checks told in this stage
	staged    string          // the stage they were said in
	above     string          // what stands right above: stepAbove, passAbove, the check that is waited for
	began     int             // the first entry that this walk may have made
	failed    int             // checks judged in this walk that did not pass
	inHand    string          // the instruments as they were told last
	ahead     string          // a line that was typed before its question came
	last      *plan.Check     // the check that was judged last in this walk
	listed    map[string]bool // steps below one, shown with it
	readAnew  string          // the check whose readings are not taken over from others
}

// Where a step or a pass stands right above, no line is left blank below it.
const (
	stepAbove = "step"
	passAbove = "pass"
)

var (
	errQuit  = errors.New("quit")
	errMoved = errors.New("the job was added to elsewhere")
)

// errGo leaves what is asked for another check.
type errGo struct{ check *plan.Check }

func (e errGo) Error() string { return "on to check " + e.check.ID }

// Run leads through the job until it ends, or the person or the input leaves it.
func Run(ctx context.Context, o *Options) error {
	s, err := session.OpenGoing(ctx, o.Env, o.Job, o.By)
	if err != nil {
		return err
	}
	defer s.Close()
	s.Walking = true
	w := &walker{Session: s, in: session.NewLines(o.Env), photo: o.Photo, hinted: map[string]bool{}, listed: map[string]bool{}, began: s.Job.Head().Seq + 1}
	w.say("%s, as %s; type help for the words you can type\n", s.Job.ID, s.Job.PersonName(s.By))
	w.sayOpen()
	if o.Check == "" {
		return w.leave(w.all(ctx, nil), o.Ended)
	}
	c, err := s.Check(o.Check)
	if err != nil {
		return err
	}
	err = w.once(ctx, c)
	var on errGo
	if errors.As(err, &on) {
		err = w.all(ctx, on.check)
	}
	return w.leave(err, o.Ended)
}

// all takes the open steps one after another, a named check first.
func (w *walker) all(ctx context.Context, first *plan.Check) error {
	for {
		it, ok := w.Job.Next(w.Env.Now())
		_, _, waits := w.Job.Waiting(w.Env.Now())
		var err error
		switch {
		case first != nil:
			err = w.take(ctx, first)
			first = nil
		case !ok && waits:
			err = w.wait(ctx)
		case !ok:
			return w.end()
		case it.Hold != nil:
			err = w.atHold(ctx, it.Hold)
		case it.Step != nil:
			err = w.atStep(ctx, it.Step)
		default:
			err = w.take(ctx, it.Check)
		}
		var on errGo
		if errors.As(err, &on) {
			first, err = on.check, nil
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
		why, err := w.in.Prompt(ctx, fmt.Sprintf("%s was judged %s; reason to take it again: ", c.ID, a.Finding.Verdict))
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

// sayOpen names the checks that were judged and did not pass, every stop that stands, and what a review ordered or
// asked, so that who comes back to a job, or goes on with another's, knows what waits behind.
func (w *walker) sayOpen() {
	var open []string
	for _, c := range w.Job.Plan.Checks() {
		s := w.Job.State(c.ID)
		if a := s.LastJudged(); a != nil && a.Finding.Verdict != checks.Pass && !s.IsConceded() {
			open = append(open, fmt.Sprintf("%s (%s)", c.ID, s.Verdict()))
		}
	}
	if len(open) > 0 {
		w.say("taken and not passed: %s\n", strings.Join(open, ", "))
	}
	for _, stop := range w.Job.StandingStops() {
		w.say("STOP at %s: %s\n", stop.Check, stop.Text)
	}
	for _, text := range w.Job.StandingRemarks() {
		w.say("! %s\n", text)
	}
}

// leave says how the walk ended and what to type next.
func (w *walker) leave(err error, ended func(s *session.Session, how, check string) error) error {
	next := w.Env.Hint("walk", w.Job.ID)
	talk := func(format string, args ...any) { fmt.Fprintf(w.Env.Err, format, args...) } // a command is not broken
	var in inCheck
	errors.As(err, &in)
	how := Failed
	switch {
	case err == nil:
		how = NothingLeft
	case errors.Is(err, errQuit):
		talk("left; every accepted line is stored; go on with: %s\n", next)
		how, err = Left, nil
	case errors.Is(err, session.ErrInterrupted):
		talk("go on with: %s\n", next)
		how = Interrupted
	case in.check != "" && errors.Is(err, io.EOF):
		how, err = InputEnded, fmt.Errorf("the input ended inside check %s; what was accepted is stored; go on with: %s", in.check, next)
	case errors.Is(err, io.EOF):
		talk("\nthe input ended; go on with: %s\n", next)
		how, err = InputEnded, nil
	}
	if ended != nil {
		err = cmp.Or(err, ended(w.Session, how, in.check))
	}
	return err
}

// inCheck marks an error that came inside a check.
type inCheck struct {
	check string
	error
}

func (e inCheck) Unwrap() error { return e.error }

// wait waits for the time of the next reading, with a countdown. What is typed when it
// has come is that reading.
func (w *walker) wait(ctx context.Context) error {
	s, due, _ := w.Job.Waiting(w.Env.Now())
	if w.above != s.Check.ID {
		w.above = s.Check.ID
		fmt.Fprintf(w.Env.Out, "nothing else is open: the next line of %s falls due at %s\n", s.Check.ID, w.dueText(due))
	}
	t := &taking{w: w, check: s.Check, using: checks.Answers{}}
	t.look()
	shared, labels := s.Check.ID+", ", []string{"its next reading"}
	if rows, at := t.asked(), t.firstOpen(); at < len(rows) {
		shared, labels = session.SharedStart(rows[at])
	}
	for {
		within := min(10*time.Minute, max(time.Second, due.Sub(w.Env.Now())))
		typed, err := w.in.PromptWithin(ctx, fmt.Sprintf("  %sdue %s: %s: ", shared, w.dueText(due), strings.Join(labels, ", ")), within)
		if err != nil && !errors.Is(err, session.ErrLate) {
			return err
		}
		if again := w.Load(ctx, w.ID); again != nil { // others may add to the job meanwhile
			return again
		}
		if _, _, waits := w.Job.Waiting(w.Env.Now()); !waits {
			if word, _ := cutWord(typed); !isWord(word) {
				w.ahead = typed
				return nil
			}
		}
		done := typed == ""
		if !done {
			if done, err = w.command(ctx, "", typed); err != nil {
				return err
			}
		}
		if _, ok := w.Job.Next(w.Env.Now()); ok {
			return nil
		}
		switch {
		case !done:
			w.in.Refuse("  %q: the reading of %s is not due before %s\n", shortened(typed), s.Check.ID, w.dueText(due))
		case typed == "":
			w.say("  %s falls due at %s\n", s.Check.ID, w.dueText(due))
		}
	}
}

// end tells how the job stands when no step is open.
func (w *walker) end() error {
	o, err := w.Job.Standing(w.Env.Now())
	if err != nil {
		return err
	}
	fmt.Fprintf(w.Env.Out, "\nend of the plan: %s\n", o.Words)
	session.PrintAgainst(w.Env.Out, o)
	for _, r := range w.Job.Remarks {
		if r.Sort == report.RemarkQuestion && w.Job.Stands(r) {
			fmt.Fprintf(w.Env.Err, "answer %s: %s\n", r.Name(), w.Env.Hint("answer", w.Job.ID, strconv.Itoa(r.Remark), "TEXT"))
		}
	}
	fmt.Fprintf(w.Env.Err, "see the open points: %s\nmake the handover: %s\n", w.Env.Hint("flags", w.Job.ID), w.Env.Hint("handover", w.Job.ID))
	return nil
}

func (w *walker) say(format string, args ...any) { w.in.Say(format, args...) }

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
