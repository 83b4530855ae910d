package walk

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"handback/checks/plan"
	"handback/report"
)

const stepHelp = `  done               it was done just now; done 14:05 when it was earlier
  done 14:05 14:06   it and the next below it, each at its time
  done WHEN with WHO a second person confirmed it: done with jonas
  done override RULE WHY  where the plan lets a rule be overridden
  left WHY           it is not done, and why; holds below wait for it
  undone STEP WHY    a step above was undone: opened, made dead again
  Enter              look again
` + anyHelp

// atStep stops the walk at a plain step until it was done or left, or the person leaves.
func (w *walker) atStep(ctx context.Context, st *plan.Step) error {
	var run []*plan.Step
	for shown, free := false, false; ; {
		if it, _ := w.Job.Next(w.Env.Now()); it.Step == nil || it.Step.ID != st.ID {
			return nil // a reading above it fell due meanwhile, or it was done elsewhere
		}
		st = w.Job.Plan.Step(st.ID)
		if !shown {
			if w.above != stepAbove && w.above != passAbove {
				fmt.Fprintln(w.Env.Out)
			}
			w.above = stepAbove
			free = w.PrintStep(st, w.position(st.ID))
			if run = nil; free {
				run = w.run(st)
			}
			for _, next := range run {
				if !w.listed[next.ID] { // once is enough
					w.PrintAct(next, w.position(next.ID))
					w.listed[next.ID] = true
				}
			}
			shown = true
		}
		prompt := "  done, or done 14:05; left WHY, quit, help: "
		switch {
		case !free:
			prompt = "  undone STEP WHY, left WHY, quit, help: "
		case st.Confirm:
			prompt = "  done with WHO; left WHY, quit, help: "
		case len(run) > 0:
			prompt = "  done, or a time for each: done 14:05 14:06; help: "
		}
		typed, err := w.in.Prompt(ctx, prompt)
		if err != nil {
			return err
		}
		if typed == "" {
			if err := w.Load(ctx, w.ID); err != nil {
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
		if times := strings.Fields(rest); len(times) > 1 && !slices.ContainsFunc(times[:2], func(t string) bool { return t == "with" || t == "override" }) {
			return w.doneInTurn(ctx, st, times)
		}
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
		w.in.Refuse("  %q is not known here: type done, left WHY, undone STEP WHY, note WORDS or quit\n", typed)
		w.in.Again(typed, "")
	}
	return false, err
}

// mostInTurn is how many steps are shown, and recorded by one line, at most (our choice).
const mostInTurn = 9

// run is the plain steps right below one that one line may record with it, each with its
// own time: up to a check, a hold point, or a step that a second person confirms.
func (w *walker) run(st *plan.Step) []*plan.Step {
	var out []*plan.Step
	items := w.Job.Plan.Items()
	i := slices.IndexFunc(items, func(it plan.Item) bool { return it.Step == st })
	if i < 0 || st.Confirm {
		return nil
	}
	for _, it := range items[i+1:] {
		if it.Step == nil || it.Step.Confirm || len(out) == mostInTurn-1 {
			break
		}
		if _, done := w.Job.Steps[it.Step.ID]; !done && w.Job.LeftNow(it.Step.ID) == nil {
			out = append(out, it.Step)
		}
	}
	return out
}

// doneInTurn records a step and those below it as done, each at its time. The first that
// cannot be recorded ends it; those before it are stored.
func (w *walker) doneInTurn(ctx context.Context, st *plan.Step, times []string) (bool, error) {
	steps := append([]*plan.Step{st}, w.run(st)...)
	if len(times) > len(steps) {
		w.in.Refuse("  %d times for %s: one each\n", len(times), report.Count(len(steps), "step", "steps"))
		return false, nil
	}
	for i, at := range times {
		if ok, err := w.done(ctx, steps[i], at); err != nil || !ok {
			return i > 0, err
		}
	}
	return true, nil
}

// done records that a step was done: said is when, and with whom.
func (w *walker) done(ctx context.Context, st *plan.Step, said string) (bool, error) {
	said, overridden, _ := strings.Cut(" "+said, " override ")
	at, with, _ := strings.Cut(said+" ", " with ")
	if at = strings.TrimSpace(at); at == "" {
		at = "now"
	}
	if with = strings.TrimSpace(with); st.Confirm && with == "" {
		w.in.Refuse("  a second person confirms it: done with WHO\n")
		return false, nil
	}
	if ok, err := w.onThatDay(ctx, at); err != nil || !ok {
		return false, err
	}
	did := report.Stepped{Confirmed: with}
	if overridden != "" {
		var err error
		if did.Overrides, err = w.overrides(ctx, st, overridden); err != nil {
			return false, err
		}
	}
	draft, err := w.StepDraft(st, did, at)
	if err != nil {
		w.in.Refuse("  %v\n", err)
		return false, nil
	}
	if err := w.recordAll(ctx, draft); err != nil {
		return false, err
	}
	for _, r := range w.Job.Steps[st.ID].Overridden {
		fmt.Fprintf(w.Env.Out, "  OVERRIDDEN, rule %s: it stays on the handover\n", r.Rule)
	}
	w.TellJudgedAgain("")
	return true, w.photos(ctx, st.ID)
}

// undone records that a step above was undone.
func (w *walker) undone(ctx context.Context, id, why string) (bool, error) {
	st := w.Job.Plan.Step(id)
	if st == nil {
		w.in.Refuse("  no step %q: undone STEP WHY\n", id)
		return false, nil
	}
	draft, err := w.UndoDraft(st, "now", why, nil)
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
	w.TellJudgedAgain("")
	return true, nil
}
