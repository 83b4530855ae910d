package cmd

import (
	"context"
	"fmt"
	"io"
	"strings"
	"time"

	"handback/checks"
	"handback/checks/plan"
	"handback/records/chain"
	"handback/report"
)

// hold stops the walk until the step behind it was taken, a check is repeated,
// or the person leaves.
func (w *walker) hold(ctx context.Context, h *plan.Hold) error {
	for shown, free := false, false; ; {
		if it, _ := w.job.Next(w.env.Now()); it.Hold == nil || it.Hold.ID != h.ID {
			return nil // a reading above the hold fell due meanwhile
		}
		if !shown {
			free = printHold(w.env.Out, w.job, h, w.env.Now(), w.position(h.ID))
			shown = true
		}
		prompt := "  repeat CHECK WHY, note WORDS or quit: "
		if free {
			prompt = "  taken, or taken 14:05, once it has been; repeat CHECK WHY, note WORDS or quit: "
		}
		typed, err := w.in.prompt(ctx, prompt)
		if err != nil {
			return err
		}
		if typed == "" { // what was put right or accepted elsewhere meanwhile is seen
			if err := w.load(ctx, w.job.ID); err != nil {
				return err
			}
			shown = false
			continue
		}
		done, err := w.holdWord(ctx, h, typed)
		if err != nil || done {
			return err
		}
	}
}

// holdWord does what was typed at a hold. done is true when the walk may go on.
func (w *walker) holdWord(ctx context.Context, h *plan.Hold, typed string) (bool, error) {
	word, rest := cutWord(typed)
	switch word {
	case "taken":
		if rest == "" {
			rest = "now"
		}
		draft, err := w.stepDraft(h, rest)
		if err != nil {
			w.in.refuse("  %v\n", err)
			return false, nil
		}
		if err := w.recordAll(ctx, draft); err != nil {
			return false, err
		}
		fmt.Fprintf(w.env.Out, "  taken %s\n", clockText(w.job.Steps[h.ID].Taken, w.env.Now()))
		w.sayJudgedAgain("")
		return true, nil
	case "undone":
		id, why, _ := strings.Cut(rest, " ")
		return w.holdUndone(ctx, id, strings.TrimSpace(why))
	case "repeat":
		id, why, _ := strings.Cut(rest, " ")
		return w.holdRepeat(ctx, id, strings.TrimSpace(why))
	}
	done, err := w.command(ctx, "", typed)
	if err == nil && !done {
		w.in.refuse("  %q: taken, repeat CHECK WHY, note WORDS or quit\n", typed)
	}
	return false, err
}

func (w *walker) holdRepeat(ctx context.Context, id, why string) (bool, error) {
	c := w.job.Plan.Check(id)
	if c == nil {
		w.in.refuse("  %q is not a check above this hold\n", id)
		return false, nil
	}
	if h := w.job.HoldAbove(id); h != nil {
		w.in.refuse("  check %s lies behind hold %s, whose step was not taken\n", id, h.ID)
		return false, nil
	}
	if w.job.State(id).Judged() != nil {
		if err := plan.Reasoned(why); err != nil {
			w.in.refuse("  a repeat needs its reason: repeat %s WHY: %v\n", id, err)
			return false, nil
		}
	}
	w.again = why
	return true, w.check1(ctx, c)
}

// holdUndone records that the step of a hold above was undone.
func (w *walker) holdUndone(ctx context.Context, id, why string) (bool, error) {
	h := w.job.Plan.Hold(id)
	if h == nil {
		w.in.refuse("  no hold %q: undone HOLD WHY\n", id)
		return false, nil
	}
	draft, err := w.undoDraft(h, "now", why)
	if err != nil {
		w.in.refuse("  %v\n", err)
		return false, nil
	}
	if err := w.recordAll(ctx, draft); err != nil {
		return false, err
	}
	fmt.Fprintf(w.env.Out, "  hold %s is closed again\n", h.ID)
	w.sayJudgedAgain("")
	return true, nil
}

// stepDraft is the entry that says the step behind a hold was taken, or why it
// cannot be recorded: the hold stands, or the time does not fit.
func (s *session) stepDraft(h *plan.Hold, typed string) (chain.Draft, error) {
	if _, taken := s.job.Steps[h.ID]; taken && !s.job.Retakable(h) {
		return chain.Draft{}, fmt.Errorf("the step of hold %s was recorded as taken before; when it was undone since, record that with: %s", h.ID, s.env.hint("undone", s.job.ID, h.ID, "--why", "WHY"))
	}
	taken, err := s.moment(typed)
	if err != nil {
		return chain.Draft{}, err
	}
	if above := s.job.HoldBefore(h.ID); above != nil {
		return chain.Draft{}, fmt.Errorf("hold %s lies behind hold %s, whose step was not taken", h.ID, above.ID)
	}
	for _, u := range s.job.Undos {
		if u.Done.After(taken) && !s.env.Now().Before(u.At) {
			return chain.Draft{}, fmt.Errorf("taken at %s, but the step of hold %s was undone at %s: type when it was taken after that", taken.Format("15:04:05"), u.Hold, u.Done.Format("15:04:05"))
		}
	}
	if gaps := s.job.Gaps(h, taken); len(gaps) > 0 {
		return chain.Draft{}, fmt.Errorf("hold %s stands: %s: %s", h.ID, gaps[0].Check, gaps[0].Why)
	}
	for _, id := range h.Needs {
		if judged := s.job.State(id).Judged(); judged.At.Truncate(time.Minute).After(taken) {
			return chain.Draft{}, fmt.Errorf("taken at %s, but %s was judged only at %s: a step is taken after its checks", taken.Format("15:04:05"), id, judged.At.Format("15:04:05"))
		}
	}
	return chain.Draft{Kind: report.KindStep, Data: report.Stepped{Hold: h.ID, Action: h.Action, Taken: taken.Format(time.RFC3339)}}, nil
}

// moment reads when something was done, which is not to come.
func (s *session) moment(typed string) (time.Time, error) {
	now := s.env.Now()
	a, err := checks.ParseAnswer(checks.Field{Key: "time", Sort: checks.Instant}, s.job.Plan, typed, now)
	if err != nil {
		return time.Time{}, err
	}
	if a.Time().After(now.Add(time.Minute)) {
		return time.Time{}, fmt.Errorf("%s is still to come: type when it was done", a.Time().Format("15:04:05"))
	}
	return a.Time(), nil
}

// undoDraft is the entry that says the step of a hold was undone, or why it cannot be
// recorded.
func (s *session) undoDraft(h *plan.Hold, typed, why string) (chain.Draft, error) {
	if err := s.job.Undoable(h); err != nil {
		return chain.Draft{}, err
	}
	if err := plan.Reasoned(why); err != nil {
		return chain.Draft{}, fmt.Errorf("why the step of hold %s was undone is wanted: %w", h.ID, err)
	}
	done, err := s.moment(typed)
	if err != nil {
		return chain.Draft{}, err
	}
	if step := s.job.Steps[h.ID]; done.Before(step.Taken) && !s.env.Now().Before(step.At) { // unless the clock was set back since
		return chain.Draft{}, fmt.Errorf("undone at %s, but the step was taken at %s", done.Format("15:04:05"), step.Taken.Format("15:04:05"))
	}
	return chain.Draft{Kind: report.KindUndo, Data: report.Undone{Hold: h.ID, Done: done.Format(time.RFC3339), Why: why}}, nil
}

// printHold tells how a hold stands and whether its step may be taken.
func printHold(w io.Writer, j *report.Job, h *plan.Hold, now time.Time, position string) bool {
	fmt.Fprintf(w, "\n[%s] HOLD %s: %s\n", position, h.ID, h.Action)
	gaps := j.Gaps(h, now)
	if len(gaps) == 0 {
		fmt.Fprintln(w, "  every check it needs passes or is conceded; the person licensed to decide decides")
		printCounts(w, j, h, now)
		return true
	}
	fmt.Fprintln(w, "  HOLD STANDS: the step must not be taken. Missing:")
	printGaps(w, gaps)
	return false
}

// printCounts tells until when the checks of a free hold count, the soonest first.
func printCounts(w io.Writer, j *report.Job, h *plan.Hold, now time.Time) {
	var out []string
	for _, c := range j.Counting(h, now) {
		out = append(out, fmt.Sprintf("%s until %s", c.Check, clockText(c.Until, now)))
	}
	if len(out) > 0 {
		fmt.Fprintf(w, "  counts: %s\n", strings.Join(out, ", "))
	}
}

// printGaps tells what a hold waits for, one line a check.
func printGaps(w io.Writer, gaps []report.Gap) {
	for _, g := range gaps {
		mark := ""
		if g.Stop {
			mark = "STOP "
		}
		fmt.Fprintf(w, "  ! %s (%s): %s%s\n", g.Check, g.Verdict, mark, g.Why)
	}
}
