package walk

import (
	"context"
	"errors"
	"fmt"
	"math"
	"strings"
	"time"

	"handback/checks"
	"handback/checks/plan"
	"handback/cmd/session"
	"handback/records"
	"handback/records/chain"
	"handback/report"
)

// record adds one entry. Where somebody else added to the job meanwhile it is added
// behind theirs: it hangs on no other.
func (w *walker) record(ctx context.Context, kind, check string, data any) error {
	for {
		err := w.recordAll(ctx, chain.Draft{Kind: kind, Check: check, Data: data})
		if !errors.Is(err, errMoved) {
			return err
		}
	}
}

// recordAll adds entries; errMoved when somebody else added to the job meanwhile, after
// reading what they added.
func (w *walker) recordAll(ctx context.Context, drafts ...chain.Draft) error {
	err := w.Add(ctx, drafts...)
	var moved *records.MovedError
	if errors.As(err, &moved) {
		if err := w.Load(ctx, w.ID); err != nil {
			return err
		}
		return errMoved
	}
	return err
}

// take takes one check to its verdict, and again while the person repeats it.
func (w *walker) take(ctx context.Context, c *plan.Check) error {
	for again := false; ; again = true {
		judged, err := w.rows(ctx, c, again)
		var on errGo
		if errors.Is(err, errMoved) || errors.As(err, &on) {
			return err
		}
		if err != nil {
			return inCheck{c.ID, err}
		}
		if !judged { // skipped, or waiting for its next reading
			return nil
		}
		w.last = c
		f := w.Job.State(c.ID).LastJudged().Finding
		w.Env.TellFinding(c.Kind, f)
		w.TellJudgedAgain(c.ID)
		if w.above = ""; f.Verdict == checks.Pass {
			w.above = passAbove
			return w.photos(ctx, c.ID)
		}
		w.failed++
		repeated, err := w.repeat(ctx, c, f)
		if err != nil {
			return err
		}
		if !repeated {
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
		case word == "repeat":
			if w.repeats(c, rest) {
				return true, nil
			}
			continue
		}
		done, err := w.command(ctx, c.ID, typed)
		if err != nil {
			return false, err
		}
		if !done {
			w.in.Refuse("  %q is not known here: type repeat WHY%s, note WORDS or quit\n", typed, leave)
		}
	}
}

// heading tells a check before its first question, unless it is taken up again in the same
// walk and on the same plant. Each caution is said in full once a stage.
func (w *walker) heading(c *plan.Check) bool {
	if stage := w.stage(); stage != w.staged {
		w.staged, w.cautioned, w.headed = stage, map[string]bool{}, map[string]bool{}
	}
	if w.headed[c.ID] && len(w.Job.Input(c, w.Env.Now()).Answers) > 0 {
		return false
	}
	w.headed[c.ID] = true
	var cautions []string
	for i, text := range c.Kind.Cautions {
		if !w.cautioned[text] || i == 0 && c.Kind.Proves { // until proved dead it is live, each time
			w.cautioned[text] = true
			cautions = append(cautions, text)
		}
	}
	if w.above != stepAbove && w.above != passAbove || len(cautions) > 0 {
		fmt.Fprintln(w.Env.Out)
	}
	fmt.Fprintln(w.Env.Out, session.Wrapped(fmt.Sprintf("[%s] %s: %s", w.position(c.ID), c.ID, session.Place(c.Title, c.At)), "", w.Env.Width()))
	w.PrintRemarks(c.ID)
	for _, text := range cautions {
		w.say("  caution: %s\n", text)
	}
	return true
}

// stage is what the plant's state hangs on: the steps done, undone and found otherwise
// that may make it live, dead or earthed. While it stays the same, so does what care asks.
func (w *walker) stage() string {
	stage := fmt.Sprint(len(w.Job.Undos), " ", len(w.Job.Found), " ", w.failed)
	for _, is := range w.Job.Done {
		if st := w.Job.Plan.Step(is.Did.ID()); st == nil || w.Job.Plan.Switches(st) {
			stage += fmt.Sprint(" ", is.Seq)
		}
	}
	return stage
}

// rows asks the open lines of a check and judges it with the last one. judged is
// false when the check was skipped, or its next line is not due yet.
func (w *walker) rows(ctx context.Context, c *plan.Check, again bool) (judged bool, err error) {
	if err := w.Barred(c); err != nil {
		w.in.Refuse("  %v\n", err)
		return false, nil
	}
	fresh := !again && w.heading(c)
	t := &taking{w: w, check: c, using: checks.Answers{}}
	t.begin(fresh)
	t.at = t.firstOpen()
	filling := false // lines left open further up are filled, those between stand
	for anew := false; ; {
		t.look()
		t.rows = t.asked()
		if gap := firstMissing(t.rows, t.in.Answers); t.at >= len(t.rows) && gap >= 0 {
			t.at, filling = gap, true // left open, or fell away with the instrument they were taken with
		}
		if t.at >= len(t.rows) { // nothing is left to ask, only the judgement is missing
			return true, t.judge(ctx)
		}
		step, err := t.row(ctx, anew)
		if err != nil {
			return false, err
		}
		anew = step == rowBack
		switch step {
		case rowBack:
			if t.at == 0 {
				if err := w.backAcross(ctx, c); err != nil {
					return false, err
				}
			}
			t.at = max(0, t.at-1)
		case rowSkipped:
			return false, nil
		case rowJudged:
			return true, nil
		case rowOther:
			t.at = t.firstOpen()
		default:
			if t.at++; filling {
				t.at = len(t.rows)
			}
		}
		if due, waits := w.Job.Waits(w.Job.State(c.ID), w.Env.Now()); step == rowNext && waits {
			if _, open := w.Job.Next(w.Env.Now()); open {
				w.say("  the next line falls due at %s; walk comes back to it\n", w.dueText(due))
			}
			return false, nil
		}
	}
}

// dueText is a moment to come and how far it is off.
func (w *walker) dueText(due time.Time) string {
	now := w.Env.Now()
	return fmt.Sprintf("%s, in %d min", strings.TrimSuffix(session.ClockText(due, now), ":00"), int(math.Ceil(due.Sub(now).Minutes())))
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

// sayOut tells at once which of the new answers do not pass by themselves or stand
// outside what was expected: the verdict comes only with the last line.
func (w *walker) sayOut(in checks.Input, got checks.Answers) {
	in.At = w.Env.Now()
	said := map[string]bool{}
	for _, r := range checks.Judge(in).Reasons {
		if len(r.Fields) != 1 || r.Verdict != checks.Fail && r.Verdict != checks.Inconclusive {
			continue
		}
		if _, ok := got[r.Fields[0]]; ok {
			fmt.Fprintln(w.Env.Out, session.Wrapped("! "+report.Words(in.Check.Kind, r.Said), "  ", w.Env.Width()))
			said[r.Fields[0]] = true
		}
	}
	for _, f := range in.Form() {
		a, ok := got[f.Key]
		if e := f.Expect; ok && a.NotThere == "" && e != nil && !said[f.Key] && !(a.Value >= e.Low && a.Value <= e.High) {
			fmt.Fprintln(w.Env.Out, session.Wrapped(fmt.Sprintf("! %s is outside what is expected", session.AnswerText(f, a, in.At)), "  ", w.Env.Width()))
		}
	}
}
