package session

import (
	"fmt"
	"io"
	"strings"
	"time"

	"handback/checks"
	"handback/checks/plan"
	"handback/report"
)

// PrintAgainst tells what stands against a job beside its checks and hold points.
func PrintAgainst(w io.Writer, o report.Overall) {
	for _, text := range o.Against {
		fmt.Fprintf(w, "  ! %s\n", text)
	}
}

// Moment reads when something was done, which is not to come.
func (s *Session) Moment(typed string) (time.Time, error) {
	now := s.Env.Now()
	a, err := checks.ParseAnswer(checks.Field{Key: "time", Sort: checks.Instant}, s.Job.Plan, typed, now)
	if err != nil {
		return time.Time{}, err
	}
	if a.Time().After(now.Add(time.Minute)) {
		return time.Time{}, fmt.Errorf("%s is still to come: type when it was done", ClockText(a.Time(), now))
	}
	return a.Time(), nil
}

// PrintHold tells how a hold stands and whether its step may be done.
func (s *Session) PrintHold(h *plan.Hold, position string) bool {
	out, width, now := s.Env.Out, s.Env.Width(), s.Env.Now()
	fmt.Fprintf(out, "\n%s\n", headed(position, "HOLD "+h.ID, &h.Step, width))
	s.PrintPlant(&h.Step)
	s.PrintRemarks(h.ID)
	gaps := s.Job.Gaps(h, now)
	if len(gaps) == 0 {
		fmt.Fprintln(out, Wrapped("free: proceed only on the instruction of the person in control", "  ", width))
		s.printCounts(h, now, width)
		return true
	}
	fmt.Fprintln(out, "  HOLD: do not proceed. Outstanding:")
	PrintGaps(out, gaps)
	s.printOverrides(&h.Step, s.Job.Refusals(&h.Step, report.Stepped{}, now))
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
		fmt.Fprintln(s.Env.Out, Wrapped("valid: "+strings.Join(out, ", "), "  ", width))
	}
}

// PrintGaps tells what a hold waits for, one line a check, step or rule.
func PrintGaps(w io.Writer, gaps []report.Gap) {
	var steps []string
	for _, g := range gaps {
		if g.Step != "" && g.Left == "" {
			steps = append(steps, g.Step)
			continue
		}
		mark := ""
		if g.Stop {
			mark = "STOP "
		}
		if g.Check == "" {
			fmt.Fprintf(w, "  ! %s: %s\n", g.Name(), g.Why)
			continue
		}
		fmt.Fprintf(w, "  ! %s (%s): %s%s\n", g.Check, g.Verdict, mark, g.Why)
	}
	if len(steps) > 0 {
		fmt.Fprintf(w, "  ! not done: %s\n", strings.Join(steps, ", "))
	}
}
