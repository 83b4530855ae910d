package walk

import (
	"context"
	"fmt"
	"strings"

	"handback/checks/plan"
)

// atHold stops the walk until the step behind it was done, a check is repeated,
// or the person leaves.
func (w *walker) atHold(ctx context.Context, h *plan.Hold) error {
	for shown, free := false, false; ; {
		if it, _ := w.Job.Next(w.Env.Now()); it.Hold == nil || it.Hold.ID != h.ID {
			return nil // a reading above the hold fell due meanwhile
		}
		if !shown {
			w.above = stepAbove
			free = w.PrintHold(h, w.position(h.ID))
			shown = true
		}
		prompt := "  repeat CHECK WHY, quit, help: "
		if free {
			prompt = "  done, or done 14:05; repeat CHECK WHY, quit, help: "
			if h.Confirm {
				prompt = "  done with WHO; repeat CHECK WHY, quit, help: "
			}
		}
		typed, err := w.in.Prompt(ctx, prompt)
		if err != nil {
			return err
		}
		if typed == "" { // what was put right or accepted elsewhere meanwhile is seen
			if err := w.Load(ctx, w.ID); err != nil {
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
	case "done":
		id, when, _ := strings.Cut(rest, " ")
		if left := w.Job.LeftNow(id); left != nil { // one above, after all
			return w.done(ctx, w.Job.Plan.Step(id), when)
		}
		return w.done(ctx, &h.Step, rest)
	case "undone":
		id, why, _ := strings.Cut(rest, " ")
		return w.undone(ctx, id, strings.TrimSpace(why))
	case "repeat":
		id, why, _ := strings.Cut(rest, " ")
		return w.holdRepeat(ctx, id, strings.TrimSpace(why))
	}
	done, err := w.command(ctx, "", typed)
	if err == nil && !done {
		w.in.Refuse("  %q is not known here: type done, repeat CHECK WHY, note WORDS or quit\n", typed)
		w.in.Again(typed, "")
	}
	return false, err
}

func (w *walker) holdRepeat(ctx context.Context, id, why string) (bool, error) {
	c := w.Job.Plan.Check(id)
	if c == nil {
		w.in.Refuse("  %q is not a check above this hold\n", id)
		return false, nil
	}
	if h := w.Job.HoldAbove(id); h != nil {
		w.in.Refuse("  check %s lies behind hold %s, whose step was not done\n", id, h.ID)
		return false, nil
	}
	if w.Job.State(id).LastJudged() == nil {
		return true, w.take(ctx, c)
	}
	if !w.repeats(c, why) {
		return false, nil
	}
	return true, w.take(ctx, c)
}

// onThatDay asks about a time of day that is yesterday's or lies ahead. It tells whether
// it is taken.
func (w *walker) onThatDay(ctx context.Context, typed string) (bool, error) {
	at, err := w.Moment(typed)
	if err != nil { // told where the step is recorded
		return true, nil
	}
	text := w.unlikely(typed, at)
	if text == "" {
		return true, nil
	}
	answer, err := w.in.Prompt(ctx, fmt.Sprintf("  %s; Enter: yes, or type no: ", text))
	return answer == "", err
}
