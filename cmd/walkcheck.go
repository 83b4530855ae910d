package cmd

import (
	"context"
	"errors"
	"fmt"
	"strings"

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
		w.say("  not stored: %v; the job is read again\n", err)
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
		if !judged { // skipped
			return nil
		}
		f := w.job.State(c.ID).Judged().Finding
		printFinding(w.env.Out, f, briefly)
		if f.Verdict == checks.Pass {
			return nil
		}
		again, err := w.repeat(ctx, c)
		if err != nil || !again {
			return err
		}
	}
}

// repeat asks whether a check that did not pass is taken again.
func (w *walker) repeat(ctx context.Context, c *checks.Check) (bool, error) {
	for {
		typed, err := w.in.prompt(ctx, "  repeat WHY to take it again, Enter to go on: ")
		if err != nil {
			return false, err
		}
		if typed == "" {
			return false, nil
		}
		if why, ok := strings.CutPrefix(typed, "repeat "); ok {
			w.again = strings.TrimSpace(why)
			return true, nil
		}
		done, err := w.command(ctx, c.ID, typed)
		if err != nil {
			return false, err
		}
		if !done {
			w.say("  %q: repeat WHY, Enter, note WORDS or quit\n", typed)
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
		w.say("%s\n", wrapped("caution: "+text, "  ", 78))
	}
	if c.Note != "" {
		w.say("%s\n", wrapped(c.Note, "  ", 78))
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
// false when the check was skipped.
func (w *walker) rows(ctx context.Context, c *checks.Check) (judged bool, err error) {
	w.heading(c)
	in := w.job.Input(c, w.env.Now())
	if len(in.Answers) > 0 {
		w.say("  goes on after %d answers already kept\n", len(in.Answers))
	}
	for at := firstOpen(checks.Rows(in.Form()), in.Answers); ; {
		in = w.job.Input(c, w.env.Now())
		rows := checks.Rows(in.Form())
		if at >= len(rows) { // everything was answered before, only the judgement is missing
			_, draft := w.judgement(in, w.attempt(c.ID), "")
			return true, w.recordAll(ctx, draft)
		}
		step, err := w.row(ctx, in, rows[at], at == len(rows)-1)
		if err != nil {
			return false, err
		}
		switch step {
		case rowBack:
			at = max(0, at-1)
		case rowSkipped:
			return false, nil
		case rowJudged:
			return true, nil
		default:
			at++
		}
	}
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

type rowStep int

const (
	rowNext rowStep = iota
	rowBack
	rowSkipped
	rowJudged
)

// row asks the fields of one row until each is answered or left out. Every
// accepted line is stored; the last of the form is stored with the judgement.
func (w *walker) row(ctx context.Context, in checks.Input, row []checks.Field, last bool) (rowStep, error) {
	left := unanswered(row, in.Answers)
	for _, text := range []string{left[0].Hint, expectText(left[0])} {
		if text != "" {
			w.say("  %s\n", text)
		}
	}
	keep := ""
	for {
		typed, err := w.in.prompt(ctx, rowPrompt(left, w.by))
		if err != nil {
			return 0, err
		}
		step, done, err := w.rowCommand(ctx, in.Check, typed)
		if err != nil || step != rowNext {
			return step, err
		}
		if done {
			continue
		}
		if typed == "" && optional(left) {
			if !last {
				return rowNext, nil
			}
			_, draft := w.judgement(in, w.attempt(in.Check.ID), "")
			return rowJudged, w.recordAll(ctx, draft)
		}
		got, n, err := w.parse(in, left, typed)
		if err != nil {
			w.say("  %v\n", err)
			continue
		}
		if keep, err = w.doubted(ctx, in, got); err != nil {
			return 0, err
		}
		if keep == againWord {
			continue
		}
		judged, err := w.accept(ctx, &in, got, keep, last && n == len(left))
		if err != nil {
			return 0, err
		}
		if left = left[n:]; len(left) == 0 {
			if judged {
				return rowJudged, nil
			}
			return rowNext, nil
		}
	}
}

// unanswered are the open fields of a row, or all of them when it is asked anew.
func unanswered(row []checks.Field, a checks.Answers) []checks.Field {
	for i, f := range row {
		if _, ok := a[f.Key]; !ok {
			return row[i:]
		}
	}
	return row
}

func optional(fields []checks.Field) bool {
	for _, f := range fields {
		if f.Need {
			return false
		}
	}
	return true
}

// rowCommand runs back, skip and the words good at any question.
func (w *walker) rowCommand(ctx context.Context, c *checks.Check, typed string) (rowStep, bool, error) {
	why, isSkip := strings.CutPrefix(typed, "skip ")
	switch {
	case typed == "back":
		return rowBack, true, nil
	case typed == "skip":
		w.say("  a skip needs its reason: skip WHY\n")
		return rowNext, true, nil
	case isSkip:
		return rowSkipped, true, w.record(ctx, report.KindSkip, c.ID, report.Skipped{Why: strings.TrimSpace(why)})
	}
	done, err := w.command(ctx, c.ID, typed)
	return rowNext, done, err
}

// accept echoes the answers as understood and stores them, with the judgement
// when they are the last.
func (w *walker) accept(ctx context.Context, in *checks.Input, got checks.Answers, kept string, last bool) (bool, error) {
	form := in.Form()
	var echo []string
	for _, f := range form {
		a, ok := got[f.Key]
		if !ok {
			continue
		}
		a.Kept = kept
		got[f.Key] = a
		in.Answers[f.Key] = a
		echo = append(echo, answerText(f, a))
	}
	n := w.attempt(in.Check.ID)
	drafts := []records.Draft{{Kind: report.KindRead, Check: in.Check.ID, Data: report.Read{Attempt: n, Answers: got, Why: w.takeAgain(in.Check.ID)}}}
	if last {
		_, judge := w.judgement(*in, n, "")
		drafts = append(drafts, judge)
	}
	if err := w.recordAll(ctx, drafts...); err != nil {
		return false, err
	}
	fmt.Fprintf(w.env.Out, "  kept: %s\n", strings.Join(echo, ", "))
	return last, nil
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
