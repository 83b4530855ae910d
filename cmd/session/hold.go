package session

import (
	"fmt"
	"io"
	"strings"
	"time"

	"handback/checks"
	"handback/checks/network"
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

func rulesOf(refused []network.Refusal) []string {
	var out []string
	for _, r := range refused {
		out = append(out, string(r.Rule))
	}
	return out
}

// behind says that a step waits for one above it.
func (s *Session) behind(st, above *plan.Step) error {
	what, open := "step", "which is neither done nor left"
	if s.Job.Plan.Hold(above.ID) != nil {
		what, open = "hold", "whose step was not done"
	}
	err := fmt.Errorf("step %s lies behind %s %s (%s), %s", st.ID, what, above.ID, above.Action, open)
	return Apart(err, Parts{Code: CodeOrder, Where: "step", Met: st.ID, Accepted: []string{above.ID}})
}

// someone is the id of a person of the plan who is called by id or name, or the name in
// words of one outside it.
func (s *Session) someone(called string) string {
	called = strings.Join(strings.Fields(called), " ")
	for _, p := range s.Job.Plan.People {
		if strings.EqualFold(called, p.ID) || strings.EqualFold(called, strings.Join(strings.Fields(p.Name), " ")) {
			return p.ID
		}
	}
	return called
}

// fits says why a step cannot have been done at a time, nil when it can.
func (s *Session) fits(st *plan.Step, at time.Time) error {
	now := s.Env.Now()
	for _, u := range s.Job.Undos {
		if u.Done.After(at) && !now.Before(u.At) {
			return fmt.Errorf("done at %s, but the step %s was undone at %s: type when it was done after that", at.Format("15:04:05"), u.Step, u.Done.Format("15:04:05"))
		}
	}
	for _, it := range s.Job.Plan.Items() {
		o := it.Does()
		if o != nil && o.ID == st.ID {
			return nil
		}
		if o == nil || it.Hold != nil && s.Job.Plan.Hold(st.ID) != nil { // hold points are timed by their checks
			continue
		}
		if is, done := s.Job.Steps[o.ID]; done && is.Taken.Truncate(time.Minute).After(at) && !now.Before(is.At) {
			return fmt.Errorf("done at %s, but the step %s above it was done only at %s", at.Format("15:04:05"), o.ID, is.Taken.Format("15:04:05"))
		}
	}
	return nil
}

func gapNames(gaps []report.Gap) []string {
	var out []string
	for _, g := range gaps {
		out = append(out, g.Name()+": "+g.Why)
	}
	return out
}

// freed says what a hold point still waits for, nil when for nothing but the rules.
func (s *Session) freed(h *plan.Hold, at time.Time) error {
	gaps := s.Job.Gaps(h, at)
	for _, g := range gaps {
		if g.Rule == "" {
			way := ""
			if s.Job.Decided() != s.Job.Plan {
				way = "; an engineer accepts the plan as amended with: " + s.Env.Hint("amend", s.Job.ID, "--accept", "--by", "ENGINEER", "--why", "WHY")
			}
			return Apart(fmt.Errorf("hold %s: do not proceed: %s: %s%s", h.ID, g.Name(), g.Why, way), Parts{Code: CodeHold, Where: "hold", Met: h.ID, Each: gapNames(gaps)})
		}
	}
	for _, id := range h.Needs {
		if judged := s.Job.State(id).LastJudged(); judged != nil && judged.At.Truncate(time.Minute).After(at) {
			return fmt.Errorf("done at %s, but %s was judged only at %s: a step is done after its checks", at.Format("15:04:05"), id, judged.At.Format("15:04:05"))
		}
	}
	return nil
}
