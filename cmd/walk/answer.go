package walk

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"slices"

	"handback/checks"
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
	rowOther // what is asked has changed: an instrument, or readings taken over
)

// row asks the fields of one row until each is answered or left out, all of them
// when it is asked anew. Every accepted line is stored; the last of the form is
// stored with the judgement.
func (t *taking) row(ctx context.Context, anew bool) (rowEnd, error) {
	w, row := t.w, t.rows[t.at]
	left, stands := unanswered(row, t.in.Answers), t.standing(row, anew)
	if anew {
		left = row
	}
	for {
		typed, err := t.ask(ctx, left, stands)
		if err != nil {
			return 0, err
		}
		step, done, err := t.rowCommand(ctx, typed)
		if step == rowBack && len(left) < len(row) { // back within the row: from its start
			left, stands = row, t.standing(row, true)
			continue
		}
		if err != nil || step != rowNext {
			return step, err
		}
		if done {
			continue
		}
		if typed == "" && (stands || optional(left)) {
			return t.leaveRow(ctx)
		}
		if more := t.alike(typed); len(left) == len(row) && more > 0 {
			left = slices.Concat(t.rows[t.at : t.at+more+1]...)
			t.at += more
		}
		got, n, err := w.parse(t.in, left, typed)
		if err != nil {
			w.in.Refuse("  %v\n", err)
			var wrong wrongWord
			errors.As(err, &wrong)
			w.in.Again(typed, wrong.word)
			continue
		}
		if len(got) == 0 { // all of it left open
			if left, stands = left[n:], false; len(left) > 0 {
				continue
			}
			return rowNext, nil
		}
		step, err = t.store(ctx, left[:n], got, t.at == len(t.rows)-1 && n == len(left), n < len(row))
		if err == nil && step == rowAgain {
			continue
		}
		if err != nil || step != rowNext {
			return step, err
		}
		if left, stands = left[n:], false; len(left) == 0 {
			return rowNext, nil
		}
	}
}

// store stores what was typed to a row, once its day and its doubts are settled; rowAgain
// when the line is to be typed again.
func (t *taking) store(ctx context.Context, left []checks.Field, got checks.Answers, last, echo bool) (rowEnd, error) {
	if again, err := t.otherDay(ctx, left, got); err != nil || again {
		return rowAgain, err
	}
	keep, step, err := t.doubted(ctx, got)
	if err != nil || step != rowNext {
		return step, err
	}
	judged, err := t.accept(ctx, got, keep, last, echo)
	if err != nil || judged {
		return rowJudged, err
	}
	t.look()
	return rowNext, nil
}

// leaveRow passes a row whose answers stand or may be left out.
func (t *taking) leaveRow(ctx context.Context) (rowEnd, error) {
	if t.at < len(t.rows)-1 {
		return rowNext, nil
	}
	t.in.At = t.w.Env.Now()
	return rowJudged, t.judge(ctx)
}

// standing shows what was answered before in a row that is gone back to, and tells
// whether all of it may stand as it is.
func (t *taking) standing(row []checks.Field, anew bool) bool {
	all := true
	for _, f := range row {
		_, has := t.in.Answers[f.Key]
		all = all && has
	}
	if before := t.w.echo(row, t.in.Answers); before != "" && (all || anew) {
		t.w.say("  stored before: %s\n", before)
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

// rowCommand runs back, skip, use, anew and the words good at any question. The id of an
// instrument alone is use.
func (t *taking) rowCommand(ctx context.Context, typed string) (rowEnd, bool, error) {
	w := t.w
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
		return rowSkipped, true, w.record(ctx, report.EntrySkip, t.check.ID, report.Skipped{Why: rest})
	case word == "use", rest == "" && t.in.Plan.Meter(word) != nil && t.rows[t.at][0].Sort != checks.MeterUsed:
		if word != "use" {
			rest = word
		}
		return t.useOther(ctx, rest)
	case word == "anew" && rest == "":
		w.readAnew = t.check.ID
		t.look()
		return rowOther, true, nil
	}
	done, err := w.command(ctx, t.check.ID, typed)
	return rowNext, done, err
}

// useOther takes another instrument or person: with the next line where nothing is
// stored yet, else at once, and what was read with the one before is asked again.
func (t *taking) useOther(ctx context.Context, rest string) (rowEnd, bool, error) {
	key, a, err := t.w.use(t.in, rest)
	if err != nil {
		t.w.in.Refuse("  %v\n", err)
		return rowNext, true, nil
	}
	if no := t.in.With(checks.Answers{key: a}).Refused(); len(no) > 0 {
		t.w.in.Refuse("  refused: %s\n", report.Words(t.check.Kind, no[0].Said))
		return rowNext, true, nil
	}
	stored := t.w.Job.Input(t.check, t.w.Env.Now())
	t.using[key] = a
	if _, has := stored.Answers[key]; has {
		got := checks.Answers{key: a}
		draft := chain.Draft{Kind: report.EntryRead, Check: t.check.ID, Data: report.Read{Attempt: t.w.Attempt(t.check.ID), Answers: got}}
		if err := t.w.recordAll(ctx, draft); err != nil {
			return 0, true, err
		}
		delete(t.using, key)
	}
	t.look()
	t.leadWith()
	return rowOther, true, nil
}

// accept stores the answers, with what goes along with them, and with the judgement when
// they are the last. What was understood otherwise than typed is said, and what is a part
// of a row.
func (t *taking) accept(ctx context.Context, got checks.Answers, kept string, last, part bool) (bool, error) {
	w, form := t.w, t.in.Form()
	for {
		in := t.in.With(got)
		in.At = w.Env.Now()
		if kept != "" {
			session.KeepDoubted(in, got, kept)
		}
		all := maps.Clone(t.pend)
		maps.Copy(all, got)
		n := w.Attempt(t.check.ID)
		drafts := []chain.Draft{{At: in.At, Kind: report.EntryRead, Check: t.check.ID, Data: report.Read{Attempt: n, Answers: all, Why: w.takeAgain(t.check.ID)}}}
		done := last && len(session.MissingKeys(in)) == 0 || len(in.StopsAtOnce()) > 0
		if done {
			_, judge := w.Judgement(in, n)
			drafts = append(drafts, judge)
		}
		err := w.recordAll(ctx, drafts...)
		if errors.Is(err, errMoved) {
			if again, err := t.moved(ctx, form, got, n); err != nil || !again {
				return false, errors.Join(err, errMovedUnless(err))
			}
			continue
		}
		if err != nil {
			return false, err
		}
		t.stored()
		if text := w.otherwise(form, got, part); text != "" {
			fmt.Fprintln(w.Env.Out, session.Wrapped("stored: "+text, "  ", w.Env.Width()))
		}
		if !done {
			w.sayOut(in, got)
		}
		return done, nil
	}
}

func errMovedUnless(err error) error {
	if err != nil {
		return nil
	}
	return errMoved
}

// moved decides about a line that came between what somebody else stored: it is stored
// behind theirs where nothing of it was answered there; else it becomes a note, so that
// it is not lost, and the walk goes on from how things stand. again is true for the first.
func (t *taking) moved(ctx context.Context, form []checks.Field, got checks.Answers, attempt int) (again bool, err error) {
	w := t.w
	t.look()
	clash := w.Attempt(t.check.ID) != attempt || w.Barred(t.check) != nil
	for key := range got {
		_, has := t.in.Answers[key]
		_, pending := t.pend[key]
		clash = clash || has && !pending
	}
	if !clash {
		return true, nil
	}
	text := w.echo(form, got)
	w.in.Refuse("  not stored: this was answered elsewhere meanwhile. Yours is stored as a note: %s\n", text)
	return false, w.record(ctx, report.EntryNote, t.check.ID, report.Noted{Text: "typed while the check was answered elsewhere: " + text})
}
