package cmd

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"handback/checks"
	"handback/records"
	"handback/report"
)

// record adds one entry; errMoved when somebody else added to the job meanwhile,
// after reading what they added.
func (w *walker) record(ctx context.Context, kind, check string, data any) error {
	return w.recordAll(ctx, records.Draft{Kind: kind, Check: check, Data: data})
}

func (w *walker) recordAll(ctx context.Context, drafts ...records.Draft) error {
	err := w.add(ctx, drafts...)
	var moved *records.MovedError
	if errors.As(err, &moved) {
		w.in.refuse("  not stored: %v; the job is read again\n", err)
		if err := w.load(ctx, w.job.ID); err != nil {
			return err
		}
		return errMoved
	}
	return err
}

// check1 takes one check to its verdict, and again while the person repeats it.
func (w *walker) check1(ctx context.Context, c *checks.Check) error {
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
		f := w.job.State(c.ID).Judged().Finding
		printFinding(w.env.Out, c.Kind, f, briefly)
		w.sayJudgedAgain(c.ID)
		if f.Verdict == checks.Pass {
			return nil
		}
		again, err := w.repeat(ctx, c, f)
		if err != nil || !again {
			return err
		}
	}
}

// repeat asks whether a check that did not pass is taken again. Nobody passes a
// stop by leaning on Enter, and behind plant that is not proved dead there is no
// going on: it is proved again, or left.
func (w *walker) repeat(ctx context.Context, c *checks.Check, f checks.Finding) (bool, error) {
	stop, live := !f.Stop.None(), !f.Stop.None() && c.Kind.Proves
	leave, question := ", Enter", "  repeat WHY to take it again, Enter to go on: "
	switch {
	case live:
		leave, question = "", "  treat the plant as live; repeat WHY to prove it dead again, quit to leave: "
	case stop:
		leave, question = ", on", "  repeat WHY to take it again, on to go on: "
	}
	w.in.refuse("") // what was typed ahead did not know of the verdict
	for {
		typed, err := w.in.prompt(ctx, question)
		if err != nil {
			return false, err
		}
		word, rest := cutWord(typed)
		switch {
		case typed == "" && !stop, word == "on" && rest == "" && !live:
			return false, nil
		case word == "repeat" && rest == "":
			w.in.refuse("  a repeat needs its reason: repeat WHY\n")
			continue
		case word == "repeat":
			if err := reasons(rest); err != nil {
				w.in.refuse("  %v\n", err)
				continue
			}
			w.again = rest
			return true, nil
		}
		done, err := w.command(ctx, c.ID, typed)
		if err != nil {
			return false, err
		}
		if !done {
			w.in.refuse("  %q: repeat WHY%s, note WORDS or quit\n", typed, leave)
		}
	}
}

// heading tells a check before its first question.
func (w *walker) heading(c *checks.Check) {
	fmt.Fprintf(w.env.Out, "\n[%s] %s: %s (%s)\n", w.position(c.ID), c.ID, place(c.Title, c.At), c.Kind.Name)
	for _, text := range c.Kind.Cautions {
		if w.cautioned[text] { // said in full before: its first sentence will do
			text, _, _ = strings.Cut(text, ". ")
		}
		w.cautioned[text] = true
		w.say("%s\n", wrapped("caution: "+text, "  ", w.in.width()))
	}
	if c.Note != "" {
		w.say("%s\n", wrapped(c.Note, "  ", w.in.width()))
	}
	if m := w.job.Plan.Meter(c.Meter); m != nil {
		state := "in date to " + m.Due.Format("2006-01-02")
		if !m.InDate(w.env.Now()) {
			state = "OUT OF DATE since " + m.Due.Format("2006-01-02") + ": readings will not count"
		}
		w.say("  instrument %s: %s, serial %s, %s\n", m.ID, m.Name, m.Serial, state)
	}
}

// rows asks the open lines of a check and judges it with the last one. judged is
// false when the check was skipped, or its next line is not due yet.
func (w *walker) rows(ctx context.Context, c *checks.Check) (judged bool, err error) {
	if err := w.barred(c); err != nil {
		w.in.refuse("  %v\n", err)
		return false, nil
	}
	w.heading(c)
	in := w.job.Input(c, w.env.Now())
	if len(in.Answers) > 0 {
		w.say("%s\n", wrapped("already kept: "+w.echo(in.Form(), in.Answers), "  ", w.in.width()))
	}
	for at, anew := firstOpen(asked(in), in.Answers), false; ; {
		in = w.job.Input(c, w.env.Now())
		rows := asked(in)
		if gap := firstMissing(rows, in.Answers); at >= len(rows) && gap >= 0 {
			at = gap // readings fell away with the instrument they were taken with
		}
		if at >= len(rows) { // everything was answered before, only the judgement is missing
			_, draft := w.judgement(in, w.attempt(c.ID))
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
				w.in.refuse("  this is the first line of the check; to take another one: %s\n", w.env.hint("walk", w.job.ID, "--check", "ID"))
			}
			at = max(0, at-1)
		case rowSkipped:
			return false, nil
		case rowJudged:
			return true, nil
		default:
			at++
		}
		if due, waits := w.job.Waits(w.job.State(c.ID), w.env.Now()); step == rowNext && waits {
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
	now := w.env.Now()
	return fmt.Sprintf("%s, in %d min", clockText(due, now), int(math.Ceil(due.Sub(now).Minutes())))
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
			out = append(out, answerText(f, a, w.env.Now()))
		}
	}
	return strings.Join(out, ", ")
}

// sayOut tells at once which of the new answers fail by themselves or stand
// outside what was expected: the verdict comes only with the last line.
func (w *walker) sayOut(in checks.Input, got checks.Answers) {
	in.At = w.env.Now()
	said := map[string]bool{}
	for _, r := range checks.Judge(in).Reasons {
		if len(r.Fields) != 1 || r.Verdict != checks.Fail {
			continue
		}
		if _, ok := got[r.Fields[0]]; ok {
			fmt.Fprintf(w.env.Out, "  ! %s\n", report.Words(in.Check.Kind, r.Said))
			said[r.Fields[0]] = true
		}
	}
	for _, f := range in.Form() {
		a, ok := got[f.Key]
		if e := f.Expect; ok && e != nil && !said[f.Key] && !(a.Value >= e.Low && a.Value <= e.High) {
			fmt.Fprintf(w.env.Out, "  ! %s is outside what is expected\n", answerText(f, a, in.At))
		}
	}
}

// takeAgain gives the reason of a repeat to the first line of its attempt.
func (w *walker) takeAgain(check string) string {
	a := w.job.State(check).Last()
	if a == nil || !a.Judged {
		return ""
	}
	why := w.again
	w.again = ""
	return why
}
