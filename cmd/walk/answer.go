package walk

import (
	"context"
	"fmt"

	"handback/checks"
	"handback/checks/plan"
	"handback/cmd/session"
	"handback/records/chain"
	"handback/report"
)

type rowEnd int

const (
	rowNext rowEnd = iota
	rowAgain
	rowBack
	rowSkipped
	rowJudged
)

// row asks the fields of one row until each is answered or left out, all of them
// when it is asked anew. Every accepted line is stored; the last of the form is
// stored with the judgement.
func (w *walker) row(ctx context.Context, in checks.Input, row []checks.Field, last, anew bool) (rowEnd, error) {
	left := unanswered(row, in.Answers)
	stands := w.standing(row, in.Answers, anew)
	if anew {
		left = row
	}
	w.sayAim(left)
	for {
		typed, err := w.in.Prompt(ctx, rowPrompt(left, w.By, stands))
		if err != nil {
			return 0, err
		}
		step, done, err := w.rowCommand(ctx, in.Check, typed)
		if step == rowBack && len(left) < len(row) { // back within the row: from its start
			left, stands = row, w.standing(row, in.Answers, true)
			continue
		}
		if err != nil || step != rowNext {
			return step, err
		}
		if done {
			continue
		}
		if typed == "" && (stands || optional(left)) {
			return w.leaveRow(ctx, in, last)
		}
		got, n, err := w.parse(in, left, typed)
		if err != nil {
			w.in.Refuse("  %v\n", err)
			continue
		}
		if len(got) == 0 { // all of it left open
			if left, stands = left[n:], false; len(left) > 0 {
				continue
			}
			return rowNext, nil
		}
		keep, step, err := w.doubted(ctx, in, got)
		if err != nil || step == rowBack || step == rowSkipped {
			return step, err
		}
		if step == rowAgain {
			continue
		}
		judged, err := w.accept(ctx, &in, got, keep, last && n == len(left))
		if err != nil {
			return 0, err
		}
		if judged {
			return rowJudged, nil
		}
		if left, stands = left[n:], false; len(left) > 0 {
			continue
		}
		return rowNext, nil
	}
}

// sayAim tells what to look at in a row, and what is expected of it.
func (w *walker) sayAim(left []checks.Field) {
	for _, text := range []string{left[0].Hint, session.ExpectText(left)} {
		if text != "" {
			w.say("  %s\n", text)
		}
	}
}

// leaveRow passes a row whose answers stand or may be left out.
func (w *walker) leaveRow(ctx context.Context, in checks.Input, last bool) (rowEnd, error) {
	if !last {
		return rowNext, nil
	}
	in.At = w.Env.Now()
	_, draft := w.Judgement(in, w.Attempt(in.Check.ID))
	return rowJudged, w.recordAll(ctx, draft)
}

// standing shows what was answered before in a row that is gone back to, and tells
// whether all of it may stand as it is.
func (w *walker) standing(row []checks.Field, a checks.Answers, anew bool) bool {
	all := true
	for _, f := range row {
		_, has := a[f.Key]
		all = all && has
	}
	if kept := w.echo(row, a); kept != "" && (all || anew) {
		w.say("%s\n", session.Wrapped("kept before: "+kept, "  ", w.in.Width()))
	}
	return all
}

// unanswered are the fields of a row that are open, or all of them.
func unanswered(row []checks.Field, a checks.Answers) []checks.Field {
	var left []checks.Field
	for _, f := range row {
		if _, ok := a[f.Key]; !ok {
			left = append(left, f)
		}
	}
	if left == nil {
		return row
	}
	return left
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
func (w *walker) rowCommand(ctx context.Context, c *plan.Check, typed string) (rowEnd, bool, error) {
	word, rest := cutWord(typed)
	switch {
	case word == "back" && rest == "":
		return rowBack, true, nil
	case word == "skip" && rest == "":
		w.in.Refuse("  a skip needs its reason: skip WHY\n")
		return rowNext, true, nil
	case word == "skip" && session.Reasons(rest) != nil:
		w.in.Refuse("  %v\n", session.Reasons(rest))
		return rowNext, true, nil
	case word == "skip":
		return rowSkipped, true, w.record(ctx, report.EntrySkip, c.ID, report.Skipped{Why: rest})
	}
	done, err := w.command(ctx, c.ID, typed)
	return rowNext, done, err
}

// accept echoes the answers as understood and stores them, with the judgement
// when they are the last.
func (w *walker) accept(ctx context.Context, in *checks.Input, got checks.Answers, kept string, last bool) (bool, error) {
	form := in.Form()
	*in = in.With(got)
	in.At = w.Env.Now()
	if kept != "" {
		session.KeepDoubted(*in, got, kept)
	}
	n := w.Attempt(in.Check.ID)
	drafts := []chain.Draft{{At: in.At, Kind: report.EntryRead, Check: in.Check.ID, Data: report.Read{Attempt: n, Answers: got, Why: w.takeAgain(in.Check.ID)}}}
	last = last && len(session.MissingKeys(*in)) == 0 || len(in.StopsAtOnce()) > 0
	if last {
		_, judge := w.Judgement(*in, n)
		drafts = append(drafts, judge)
	}
	if err := w.recordAll(ctx, drafts...); err != nil {
		return false, err
	}
	fmt.Fprintf(w.Env.Out, "  kept: %s\n", w.echo(form, got))
	if !last {
		w.sayOut(*in, got)
	}
	return last, nil
}
