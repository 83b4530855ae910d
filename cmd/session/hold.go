package session

import (
	"fmt"
	"io"
	"strings"
	"time"

	"handback/checks"
	"handback/checks/plan"
	"handback/records/chain"
	"handback/report"
)

// Hold finds a hold point of the plan.
func (s *Session) Hold(id string) (*plan.Hold, error) {
	if h := s.Job.Plan.Hold(id); h != nil {
		return h, nil
	}
	return nil, Usagef("no hold %q in job %s: there are %s", id, s.Job.ID, idsOf(HoldIDs(s)))
}

// PrintAgainst tells what stands against a job beside its checks and hold points.
func PrintAgainst(w io.Writer, o report.Overall) {
	for _, text := range o.Against {
		fmt.Fprintf(w, "  ! %s\n", text)
	}
}

// StepDraft is the entry that says the step behind a hold was taken, or why it
// cannot be recorded: the hold stands, or the time does not fit.
func (s *Session) StepDraft(h *plan.Hold, typed string) (chain.Draft, error) {
	if _, taken := s.Job.Steps[h.ID]; taken && !s.Job.Retakable(h) {
		return chain.Draft{}, fmt.Errorf("the step of hold %s was recorded as taken before; when it was undone since, record that with: %s", h.ID, s.Env.Hint("undone", s.Job.ID, h.ID, "--why", "WHY"))
	}
	taken, err := s.Moment(typed)
	if err != nil {
		return chain.Draft{}, err
	}
	if above := s.Job.HoldBefore(h.ID); above != nil {
		return chain.Draft{}, fmt.Errorf("hold %s lies behind hold %s, whose step was not taken", h.ID, above.ID)
	}
	for _, u := range s.Job.Undos {
		if u.Done.After(taken) && !s.Env.Now().Before(u.At) {
			return chain.Draft{}, fmt.Errorf("taken at %s, but the step of hold %s was undone at %s: type when it was taken after that", taken.Format("15:04:05"), u.Hold, u.Done.Format("15:04:05"))
		}
	}
	if gaps := s.Job.Gaps(h, taken); len(gaps) > 0 {
		return chain.Draft{}, fmt.Errorf("hold %s stands: %s: %s", h.ID, gaps[0].Check, gaps[0].Why)
	}
	for _, id := range h.Needs {
		if judged := s.Job.State(id).LastJudged(); judged.At.Truncate(time.Minute).After(taken) {
			return chain.Draft{}, fmt.Errorf("taken at %s, but %s was judged only at %s: a step is taken after its checks", taken.Format("15:04:05"), id, judged.At.Format("15:04:05"))
		}
	}
	return chain.Draft{Kind: report.EntryStep, Data: report.Stepped{Hold: h.ID, Action: h.Action, Taken: taken.Format(time.RFC3339)}}, nil
}

// Moment reads when something was done, which is not to come.
func (s *Session) Moment(typed string) (time.Time, error) {
	now := s.Env.Now()
	a, err := checks.ParseAnswer(checks.Field{Key: "time", Sort: checks.Instant}, s.Job.Plan, typed, now)
	if err != nil {
		return time.Time{}, err
	}
	if a.Time().After(now.Add(time.Minute)) {
		return time.Time{}, fmt.Errorf("%s is still to come: type when it was done", a.Time().Format("15:04:05"))
	}
	return a.Time(), nil
}

// UndoDraft is the entry that says the step of a hold was undone, or why it cannot be
// recorded.
func (s *Session) UndoDraft(h *plan.Hold, typed, why string) (chain.Draft, error) {
	if err := s.Job.Undoable(h); err != nil {
		return chain.Draft{}, err
	}
	if err := plan.Reasoned(why); err != nil {
		return chain.Draft{}, fmt.Errorf("why the step of hold %s was undone is wanted: %w", h.ID, err)
	}
	done, err := s.Moment(typed)
	if err != nil {
		return chain.Draft{}, err
	}
	if step := s.Job.Steps[h.ID]; done.Before(step.Taken) && !s.Env.Now().Before(step.At) { // unless the clock was set back since
		return chain.Draft{}, fmt.Errorf("undone at %s, but the step was taken at %s", done.Format("15:04:05"), step.Taken.Format("15:04:05"))
	}
	return chain.Draft{Kind: report.EntryUndo, Data: report.Undone{Hold: h.ID, Done: done.Format(time.RFC3339), Why: why}}, nil
}

// PrintHold tells how a hold stands and whether its step may be done.
func (s *Session) PrintHold(h *plan.Hold, position string) bool {
	out, width, now := s.Env.Out, s.Env.Width(), s.Env.Now()
	s.Env.Bold(out)
	fmt.Fprintf(out, "\n%s\n", Wrapped(fmt.Sprintf("[%s] HOLD %s: %s", position, h.ID, h.Action), "", width))
	s.Env.Normal(out)
	gaps := s.Job.Gaps(h, now)
	if len(gaps) == 0 {
		fmt.Fprintln(out, Wrapped("free: proceed only on the instruction of the person in control", "  ", width))
		s.printCounts(h, now, width)
		return true
	}
	s.Env.Bold(out)
	fmt.Fprintln(out, "  HOLD: do not proceed. Outstanding:")
	s.Env.Normal(out)
	PrintGaps(out, gaps)
	return false
}

// printCounts tells until when the checks of a free hold count that do so for hours at
// most, the soonest first.
func (s *Session) printCounts(h *plan.Hold, now time.Time, width int) {
	var out []string
	for _, c := range s.Job.Counting(h, now) {
		if s.Job.State(c.Check).LastJudged().Finding.Soon {
			out = append(out, fmt.Sprintf("%s until %s (%d min)", c.Check, ClockText(c.Until, now), int(c.Until.Sub(now).Minutes())))
		}
	}
	if len(out) > 0 {
		fmt.Fprintln(s.Env.Out, Wrapped("counts: "+strings.Join(out, ", "), "  ", width))
	}
}

// PrintGaps tells what a hold waits for, one line a check.
func PrintGaps(w io.Writer, gaps []report.Gap) {
	for _, g := range gaps {
		mark := ""
		if g.Stop {
			mark = "STOP "
		}
		fmt.Fprintf(w, "  ! %s (%s): %s%s\n", g.Check, g.Verdict, mark, g.Why)
	}
}
