package walk

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"handback/checks"
	"handback/checks/plan"
	"handback/cmd/session"
	"handback/records"
	"handback/records/chain"
	"handback/report"
)

// record adds one entry; errMoved when somebody else added to the job meanwhile,
// after reading what they added.
func (w *walker) record(ctx context.Context, kind, check string, data any) error {
	return w.recordAll(ctx, chain.Draft{Kind: kind, Check: check, Data: data})
}

func (w *walker) recordAll(ctx context.Context, drafts ...chain.Draft) error {
	err := w.Add(ctx, drafts...)
	var moved *records.MovedError
	if errors.As(err, &moved) {
		w.in.Refuse("  not stored: %v; the job is read again\n", err)
		if err := w.Load(ctx, w.Job.ID); err != nil {
			return err
		}
		return errMoved
	}
	return err
}

// take takes one check to its verdict, and again while the person repeats it.
func (w *walker) take(ctx context.Context, c *plan.Check) error {
	for {
		judged, err := w.rows(ctx, c)
		if err != nil {
			if errors.Is(err, errMoved) {
				return err
			}
			return inCheck{c.ID, err}
		}
		if !judged { // skipped, or waiting for its next reading
			return nil
		}
		f := w.Job.State(c.ID).LastJudged().Finding
		session.PrintFinding(w.Env.Out, c.Kind, f, session.Briefly)
		w.SayJudgedAgain(c.ID)
		if f.Verdict == checks.Pass {
			return w.photos(ctx, c.ID)
		}
		again, err := w.repeat(ctx, c, f)
		if err != nil {
			return err
		}
		if !again {
			return w.photos(ctx, c.ID)
		}
	}
}

// repeat asks whether a check that did not pass is taken again. Nobody passes a
// stop by leaning on Enter, and behind plant that is not proved dead there is no
// going on: it is proved again, or left.
func (w *walker) repeat(ctx context.Context, c *plan.Check, f checks.Finding) (bool, error) {
	stop, live := !f.Stop.None(), !f.Stop.None() && c.Kind.Proves
	leave, question := ", Enter", "  repeat WHY to take it again, Enter to go on: "
	switch {
	case live:
		leave, question = "", "  treat the plant as live; repeat WHY to prove it dead again, quit to leave: "
	case stop:
		leave, question = ", on", "  repeat WHY to take it again, on to go on: "
	}
	w.in.Refuse("") // what was typed ahead did not know of the verdict
	for {
		typed, err := w.in.Prompt(ctx, question)
		if err != nil {
			return false, err
		}
		word, rest := cutWord(typed)
		switch {
		case typed == "" && !stop, word == "on" && rest == "" && !live:
			return false, nil
		case word == "repeat" && rest == "":
			w.in.Refuse("  a repeat needs its reason: repeat WHY\n")
			continue
		case word == "repeat":
			if err := session.Reasons(rest); err != nil {
				w.in.Refuse("  %v\n", err)
				continue
			}
			w.repeatWhy = rest
			return true, nil
		}
		done, err := w.command(ctx, c.ID, typed)
		if err != nil {
			return false, err
		}
		if !done {
			w.in.Refuse("  %q: repeat WHY%s, note WORDS or quit\n", typed, leave)
		}
	}
}

// heading tells a check before its first question.
func (w *walker) heading(c *plan.Check) {
	fmt.Fprintf(w.Env.Out, "\n[%s] %s: %s (%s)\n", w.position(c.ID), c.ID, session.Place(c.Title, c.At), c.Kind.Name)
	for _, text := range c.Kind.Cautions {
		if w.cautioned[text] { // said in full before: its first sentence will do
			text, _, _ = strings.Cut(text, ". ")
		}
		w.cautioned[text] = true
		w.say("%s\n", session.Wrapped("caution: "+text, "  ", w.in.Width()))
	}
	if c.Note != "" {
		w.say("%s\n", session.Wrapped(c.Note, "  ", w.in.Width()))
	}
	if m := w.Job.Plan.Meter(c.Meter); m != nil {
		state := "in date to " + m.Due.Format("2006-01-02")
		if !m.InDate(w.Env.Now()) {
			state = "OUT OF DATE since " + m.Due.Format("2006-01-02") + ": readings will not count"
		}
		w.say("  instrument %s: %s, serial %s, %s\n", m.ID, m.Name, m.Serial, state)
	}
}

// rows asks the open lines of a check and judges it with the last one. judged is
// false when the check was skipped, or its next line is not due yet.
func (w *walker) rows(ctx context.Context, c *plan.Check) (judged bool, err error) {
	if err := w.Barred(c); err != nil {
		w.in.Refuse("  %v\n", err)
		return false, nil
	}
	w.heading(c)
	in := w.Job.Input(c, w.Env.Now())
	if len(in.Answers) > 0 {
		w.say("%s\n", session.Wrapped("already kept: "+w.echo(in.Form(), in.Answers), "  ", w.in.Width()))
	}
	filling := false // lines left open further up are filled, those between stand
	for at, anew := firstOpen(asked(in), in.Answers), false; ; {
		in = w.Job.Input(c, w.Env.Now())
		rows := asked(in)
		if gap := firstMissing(rows, in.Answers); at >= len(rows) && gap >= 0 {
			at, filling = gap, true // left open, or fell away with the instrument they were taken with
		}
		if at >= len(rows) { // everything was answered before, only the judgement is missing
			_, draft := w.Judgement(in, w.Attempt(c.ID))
			return true, w.recordAll(ctx, draft)
		}
		step, err := w.row(ctx, in, rows[at], at == len(rows)-1, anew)
		if err != nil {
			return false, err
		}
		anew = step == rowBack
		switch step {
		case rowBack:
			if at == 0 {
				w.in.Refuse("  this is the first line of the check; to take another one: %s\n", w.Env.Hint("walk", w.Job.ID, "--check", "ID"))
			}
			at = max(0, at-1)
		case rowSkipped:
			return false, nil
		case rowJudged:
			return true, nil
		default:
			if at++; filling {
				at = len(rows)
			}
		}
		if due, waits := w.Job.Waits(w.Job.State(c.ID), w.Env.Now()); step == rowNext && waits {
			w.say("  the next line falls due at %s; walk comes back to it\n", w.dueText(due))
			return false, nil
		}
	}
}

// asked are the rows of a form that the walk asks: what is known already is left out.
func asked(in checks.Input) [][]checks.Field {
	return checks.Rows(slices.DeleteFunc(slices.Clone(in.Form()), func(f checks.Field) bool { return f.Known }))
}

// dueText is a moment to come and how far it is off.
func (w *walker) dueText(due time.Time) string {
	now := w.Env.Now()
	return fmt.Sprintf("%s, in %d min", session.ClockText(due, now), int(math.Ceil(due.Sub(now).Minutes())))
}

// firstOpen is the row after the last one that holds an answer, or that row
// itself while one of its needed fields is open.
func firstOpen(rows [][]checks.Field, a checks.Answers) int {
	at := 0
	for i, row := range rows {
		open, any := false, false
		for _, f := range row {
			_, has := a[f.Key]
			any = any || has
			open = open || !has && f.Need
		}
		if any && open {
			return i
		}
		if any {
			at = i + 1
		}
	}
	return at
}

// firstMissing is the first row with a needed field that is not answered, -1 when
// there is none.
func firstMissing(rows [][]checks.Field, a checks.Answers) int {
	return slices.IndexFunc(rows, func(row []checks.Field) bool {
		return slices.ContainsFunc(row, func(f checks.Field) bool { _, has := a[f.Key]; return f.Need && !has })
	})
}

// echo is answers as understood, in the order of the form.
func (w *walker) echo(form []checks.Field, answers checks.Answers) string {
	var out []string
	for _, f := range form {
		if a, ok := answers[f.Key]; ok {
			out = append(out, session.AnswerText(f, a, w.Env.Now()))
		}
	}
	return strings.Join(out, ", ")
}

// sayOut tells at once which of the new answers fail by themselves or stand
// outside what was expected: the verdict comes only with the last line.
func (w *walker) sayOut(in checks.Input, got checks.Answers) {
	in.At = w.Env.Now()
	said := map[string]bool{}
	for _, r := range checks.Judge(in).Reasons {
		if len(r.Fields) != 1 || r.Verdict != checks.Fail {
			continue
		}
		if _, ok := got[r.Fields[0]]; ok {
			fmt.Fprintf(w.Env.Out, "  ! %s\n", report.Words(in.Check.Kind, r.Said))
			said[r.Fields[0]] = true
		}
	}
	for _, f := range in.Form() {
		a, ok := got[f.Key]
		if e := f.Expect; ok && a.NotThere == "" && e != nil && !said[f.Key] && !(a.Value >= e.Low && a.Value <= e.High) {
			fmt.Fprintf(w.Env.Out, "  ! %s is outside what is expected\n", session.AnswerText(f, a, in.At))
		}
	}
}

// takeAgain gives the reason of a repeat to the first line of its attempt.
func (w *walker) takeAgain(check string) string {
	a := w.Job.State(check).Last()
	if a == nil || !a.Judged {
		return ""
	}
	why := w.repeatWhy
	w.repeatWhy = ""
	return why
}
