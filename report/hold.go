package report

import (
	"fmt"
	"time"

	"handback/checks"
)

// Gap is why a hold point stands: a check it needs that does not pass.
type Gap struct {
	Check   string         `json:"check"`
	Title   string         `json:"title"`
	Verdict checks.Verdict `json:"verdict"`
	Why     string         `json:"why"`
	Stop    bool           `json:"stop"` // a stop: no concession lifts it
}

// Gaps lists what a hold point still waits for at a time, in plan order; none
// means its step may be taken as far as this record goes. Only a pass that has
// not gone stale, or a concession of a finding that is no stop, fills a gap.
func (j *Job) Gaps(h *checks.Hold, now time.Time) []Gap {
	out := []Gap{}
	for _, id := range h.Needs {
		if g, open := j.gap(j.State(id), j.staleAt(j.State(id), now)); open {
			out = append(out, g)
		}
	}
	return out
}

func (j *Job) gap(s *State, now time.Time) (Gap, bool) {
	g := Gap{Check: s.Check.ID, Title: s.Check.Title, Verdict: s.Verdict()}
	a := s.Judged()
	switch {
	case a == nil && s.Skip != nil:
		g.Why = "skipped: " + s.Skip.Why
	case a == nil && s.Last() != nil:
		g.Why = "begun, not complete" + j.dueWords(s)
	case a == nil:
		g.Why = "not taken"
	case a.Finding.Stop != "":
		g.Why, g.Stop = a.Finding.Stop, true
	case a.unjudged():
		g.Verdict, g.Why = checks.Missing, fmt.Sprintf("attempt %d was corrected and not judged again", a.Number)
	case s.Last() != a:
		g.Verdict, g.Why = checks.Missing, fmt.Sprintf("attempt %d is begun, not complete%s", s.Last().Number, j.dueWords(s))
	case a.Finding.Verdict == checks.Pass && !a.Finding.Until.IsZero() && now.After(a.Finding.Until):
		g.Verdict = checks.Missing
		g.Why = fmt.Sprintf("passed, but counted only until %s: take it again", a.Finding.Until.Format("15:04:05"))
	case a.Finding.Verdict == checks.Pass || s.IsConceded():
		return Gap{}, false
	default:
		g.Why = a.Finding.Why()
	}
	return g, true
}

// dueWords says when the next line of a begun check falls due, "" when it waits
// for no time.
func (j *Job) dueWords(s *State) string {
	if due, ok := j.Due(s); ok {
		return ": the next line falls due at " + due.Format("2006-01-02 15:04")
	}
	return ""
}

// HoldAbove is the nearest hold point above a check whose step was not taken,
// nil when the way is free.
func (j *Job) HoldAbove(check string) *checks.Hold {
	var above *checks.Hold
	for _, it := range j.Plan.Items() {
		if it.Check != nil && it.Check.ID == check {
			return above
		}
		if it.Hold != nil && above == nil {
			if _, taken := j.Steps[it.Hold.ID]; !taken {
				above = it.Hold
			}
		}
	}
	return above
}

// Next is the first step still open, in plan order: a check without a judged
// attempt that was not skipped, or a hold whose step was not taken. A check whose
// next line is not due yet is passed over. ok is false at the end of the plan.
func (j *Job) Next(now time.Time) (item checks.Item, ok bool) {
	for _, it := range j.Plan.Items() {
		if it.Hold != nil {
			if _, taken := j.Steps[it.Hold.ID]; !taken {
				return it, true
			}
			continue
		}
		s := j.State(it.Check.ID)
		if _, waits := j.Waits(s, now); s.isOpen() && !waits {
			return it, true
		}
	}
	return checks.Item{}, false
}

// isOpen tells whether a check is still to be taken: not judged and not skipped.
func (s *State) isOpen() bool {
	return s.Skip == nil && (s.Last() == nil || !s.Last().Judged)
}

// Due is when the next line of a begun check falls due. ok is false when it waits
// for no time.
func (j *Job) Due(s *State) (due time.Time, ok bool) {
	a := s.Last()
	if s.Check.Kind.Due == nil || a == nil || !s.isOpen() {
		return time.Time{}, false
	}
	return s.Check.Kind.Due(j.Input(s.Check, a.First))
}

// dueSlack is how long before its time a line may be read: who comes on the minute
// should not be sent away for seconds.
const dueSlack = time.Minute

// Waits is when the next line of a begun check falls due. ok is false when it waits
// for no time, or has it within a minute.
func (j *Job) Waits(s *State, now time.Time) (due time.Time, ok bool) {
	due, ok = j.Due(s)
	return due, ok && due.Sub(now) > dueSlack
}

// Waiting is the check that falls due soonest of those whose next line is not due
// yet. ok is false when none waits.
func (j *Job) Waiting(now time.Time) (s *State, due time.Time, ok bool) {
	for _, t := range j.States {
		if at, waits := j.Waits(t, now); waits && (!ok || at.Before(due)) {
			s, due, ok = t, at, true
		}
	}
	return s, due, ok
}

// Overall is the verdict on the whole job.
type Overall struct {
	Ready bool   // every check passes or is conceded, every hold's step was taken, no stop stands
	Words string // in one line
}

// Overall says whether the plant is ready for service, as far as this record goes. Its
// words stand in signed statements and are compared with them: new words would make
// every signature given before look false.
func (j *Job) Overall(now time.Time) Overall {
	open, stops, conceded := 0, 0, 0
	for _, s := range j.States {
		g, gap := j.gap(s, j.staleAt(s, now))
		switch {
		case g.Stop:
			stops++
			open++
		case gap:
			open++
		case s.IsConceded():
			conceded++
		}
	}
	holds := 0
	for _, it := range j.Plan.Items() {
		if it.Hold == nil {
			continue
		}
		if _, ok := j.Steps[it.Hold.ID]; !ok {
			holds++
		}
	}
	return overall(stops, open, holds, conceded)
}

// overall is the verdict on a job of so many stops, open checks, hold points whose
// step was not taken, and concessions.
func overall(stops, open, holds, conceded int) Overall {
	switch {
	case stops > 0:
		return Overall{false, fmt.Sprintf("STOP: %s, %s open", Count(stops, "stop stands", "stops stand"), Count(open, "check", "checks"))}
	case open > 0 || holds > 0:
		return Overall{false, fmt.Sprintf("not ready: %s and %s open", Count(open, "check", "checks"), Count(holds, "hold point", "hold points"))}
	case conceded > 0:
		return Overall{true, fmt.Sprintf("ready, with %s", Count(conceded, "concession", "concessions"))}
	}
	return Overall{true, "ready: every check passes"}
}

// staleAt is the moment a finding's freshness counts at: once the step it was
// for has been taken, the moment of the step; until then now.
func (j *Job) staleAt(s *State, now time.Time) time.Time {
	for _, it := range j.Plan.Items() {
		if it.Hold == nil {
			continue
		}
		step, taken := j.Steps[it.Hold.ID]
		for _, id := range it.Hold.Needs {
			if id == s.Check.ID && taken {
				return step.Taken
			}
		}
	}
	return now
}

// Count is a number with its noun: 1 check, 2 checks.
func Count(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

// HoldBefore is the nearest hold point above a hold whose step was not taken,
// nil when there is none.
func (j *Job) HoldBefore(hold string) *checks.Hold {
	for _, it := range j.Plan.Items() {
		if it.Hold == nil {
			continue
		}
		if it.Hold.ID == hold {
			return nil
		}
		if _, taken := j.Steps[it.Hold.ID]; !taken {
			return it.Hold
		}
	}
	return nil
}
