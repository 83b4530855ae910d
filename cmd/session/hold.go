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
		return time.Time{}, fmt.Errorf("%s is still to come: type when it was done", a.Time().Format("15:04:05"))
	}
	return a.Time(), nil
}

// PrintHold tells how a hold stands and whether its step may be taken.
func PrintHold(w io.Writer, j *report.Job, h *plan.Hold, now time.Time, position string) bool {
	fmt.Fprintf(w, "\n[%s] HOLD %s: %s\n", position, h.ID, h.Action)
	printAsked(w, &h.Step)
	PrintPlant(w, j, &h.Step, now)
	gaps := j.Gaps(h, now)
	if len(gaps) == 0 {
		fmt.Fprintln(w, "  every check it needs passes or is conceded; the person licensed to decide decides")
		printCounts(w, j, h, now)
		return true
	}
	fmt.Fprintln(w, "  HOLD STANDS: the step must not be taken. Missing:")
	PrintGaps(w, gaps)
	return false
}

// printCounts tells until when the checks of a free hold count, the soonest first.
func printCounts(w io.Writer, j *report.Job, h *plan.Hold, now time.Time) {
	var out []string
	for _, c := range j.Counting(h, now) {
		out = append(out, fmt.Sprintf("%s until %s", c.Check, ClockText(c.Until, now)))
	}
	if len(out) > 0 {
		fmt.Fprintf(w, "  counts: %s\n", strings.Join(out, ", "))
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
