package report

import (
	"time"

	"handback/checks"
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
	a := s.Judged()
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
	standsOpen     = "open"
	standsStop     = "stop"
	standsAccepted = "conceded"
	standsClosed   = "closed"
)

// stands tells whether a check with a verdict is closed; see Overall.
func stands(h Hang, v checks.Verdict) string {
	switch {
	case h == HangsOnStop:
		return standsStop
	case h == Accepted:
		return standsAccepted
	case h == HangsOnRecord || v != checks.Pass:
		return standsOpen
	}
	return standsClosed
}
