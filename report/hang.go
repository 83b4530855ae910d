package report

import (
	"time"

	"handback/checks"
	"handback/checks/calc"
)

// Hang is what it hangs on whether a check is closed.
type Hang int

const (
	HangsOnVerdict Hang = iota // closed when it passes
	HangsOnStop                // a stop stands: closed only when that falls and it passes
	Accepted                   // conceded: closed as long as the finding is the one accepted
	HangsOnRecord              // open whatever its verdict: not taken, not complete or stale
)

// hangs tells on what it hangs at a time; see gap.
func (j *Job) hangs(s *State, now time.Time) Hang {
	g, open := j.gap(s, now)
	a := s.LastJudged()
	switch {
	case g.Stop:
		return HangsOnStop
	case !open && s.IsConceded():
		return Accepted
	case open && (a == nil || g.Verdict != a.Finding.Verdict || g.Why != a.Told.Why()):
		return HangsOnRecord
	}
	return HangsOnVerdict
}

// What a check may stand as. These words are handover data.
const (
	StandsOpen     = "open"
	StandsStop     = "stop"
	StandsAccepted = "conceded"
	StandsClosed   = "closed"
	StandsTakenOut = "taken out" // of the plan, by an amendment
)

// StandsBy chooses what a check stands as that hangs on h and came to a verdict, over what
// it comes to. A concession or a stop holds for the verdict it was given for, the former as
// long as nothing was changed.
func StandsBy(h Hang, was checks.Verdict) calc.Choice {
	shows := func(v checks.Verdict) calc.Test { return calc.Shows{Cell: checks.CellVerdict, Word: v.Shown()} }
	rest := calc.If{Test: shows(checks.Pass), Then: calc.Word(StandsClosed), Else: calc.Word(StandsOpen)}
	switch h {
	case HangsOnRecord:
		return calc.Word(StandsOpen)
	case HangsOnStop:
		return calc.If{Test: shows(was), Then: calc.Word(StandsStop), Else: rest}
	case Accepted:
		return calc.If{Test: calc.All{shows(was), calc.Equals{Cell: checks.CellChanged}}, Then: calc.Word(StandsAccepted), Else: rest}
	}
	return rest
}

// Stands tells whether a check with a verdict is closed; see Overall.
func Stands(h Hang, v checks.Verdict) string {
	return calc.Decide(StandsBy(h, v), func(string) calc.Content { return calc.Content{Word: v.Shown()} })
}
