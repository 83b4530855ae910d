package walk

import (
	"context"
	"fmt"
	"strings"

	"handback/checks/plan"
	"handback/cmd/session"
	"handback/report"
)

const stepHelp = `  done               it was done just now; done 14:05 when it was earlier
  done WHEN with WHO a second person confirmed it: done with jonas
  left WHY           it is not done, and why; hold points below wait for it
  undone STEP WHY    a step above was undone: opened, made dead again
  Enter              look again
` + anyHelp

// atStep stops the walk at a plain step until it was done or left, or the person leaves.
func (w *walker) atStep(ctx context.Context, st *plan.Step) error {
	for shown, free := false, false; ; {
		if it, _ := w.Job.Next(w.Env.Now()); it.Step == nil || it.Step.ID != st.ID {
			return nil // a reading above it fell due meanwhile, or it was done elsewhere
		}
		st = w.Job.Plan.Step(st.ID)
		if !shown {
			free = session.PrintStep(w.Env.Out, w.Job, st, w.Env.Now(), w.position(st.ID))
			shown = true
		}
		prompt := "  done, or done 14:05; left WHY, quit, help: "
		switch {
		case !free:
			prompt = "  undone STEP WHY, left WHY, quit, help: "
		case st.Confirm:
			prompt = "  done with WHO; left WHY, quit, help: "
		}
		typed, err := w.in.Prompt(ctx, prompt)
		if err != nil {
			return err
		}
		if typed == "" {
			if err := w.Load(ctx, w.Job.ID); err != nil {
				return err
			}
			shown = false
			continue
		}
		done, err := w.stepWord(ctx, st, typed)
		if err != nil || done {
			return err
		}
	}
}

// stepWord does what was typed at a plain step. done is true when the walk may go on.
func (w *walker) stepWord(ctx context.Context, st *plan.Step, typed string) (bool, error) {
	switch word, rest := cutWord(typed); word {
	case "done":
		return w.done(ctx, st, rest)
	case "undone":
		id, why, _ := strings.Cut(rest, " ")
		return w.undone(ctx, id, strings.TrimSpace(why))
	case "left":
		draft, err := w.LeftDraft(st, rest)
		if err != nil {
			w.in.Refuse("  %v\n", err)
			return false, nil
		}
		if err := w.recordAll(ctx, draft); err != nil {
			return false, err
		}
		fmt.Fprintf(w.Env.Out, "  left; hold points below wait for it\n")
		return true, nil
	case "help", "?":
		w.say("%s", stepHelp)
		return false, nil
	}
	done, err := w.command(ctx, "", typed)
	if err == nil && !done {
		w.in.Refuse("  %q: done, left WHY, undone STEP WHY, note WORDS or quit\n", typed)
	}
	return false, err
}

// done records that a step was done: said is when, and with whom.
func (w *walker) done(ctx context.Context, st *plan.Step, said string) (bool, error) {
	at, with, _ := strings.Cut(" "+said+" ", " with ")
	if at = strings.TrimSpace(at); at == "" {
		at = "now"
	}
	if ok, err := w.onThatDay(ctx, at); err != nil || !ok {
		return false, err
	}
	draft, err := w.StepDraft(st, report.Stepped{Confirmed: strings.TrimSpace(with)}, at)
	if err != nil {
		w.in.Refuse("  %v\n", err)
		return false, nil
	}
	if err := w.recordAll(ctx, draft); err != nil {
		return false, err
	}
	if at != "now" {
		fmt.Fprintf(w.Env.Out, "  done %s\n", session.ClockText(w.Job.Steps[st.ID].Taken, w.Env.Now()))
	}
	w.JudgedAgain("", w.Env.TellFinding)
	return true, nil
}

// undone records that a step above was undone.
func (w *walker) undone(ctx context.Context, id, why string) (bool, error) {
	st := w.Job.Plan.Step(id)
	if st == nil {
		w.in.Refuse("  no step %q: undone STEP WHY\n", id)
		return false, nil
	}
	draft, err := w.UndoDraft(st, "now", why)
	if err != nil {
		w.in.Refuse("  %v\n", err)
		return false, nil
	}
	if err := w.recordAll(ctx, draft); err != nil {
		return false, err
	}
	if w.Job.Plan.Hold(id) != nil {
		fmt.Fprintf(w.Env.Out, "  hold %s is closed again\n", id)
	} else {
		fmt.Fprintf(w.Env.Out, "  step %s is undone\n", id)
	}
	w.JudgedAgain("", w.Env.TellFinding)
	return true, nil
}
