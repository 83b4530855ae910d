package session

import (
	"strings"
	"time"

	"handback/records/chain"
	"handback/report"
)

// RaiseDraft is the entry that raises a defect, the next in number, or why it cannot be
// recorded.
func (s *Session) RaiseDraft(r report.Raised) (chain.Draft, error) {
	if err := Reasons(r.What); err != nil || strings.TrimSpace(r.What) == "" {
		return chain.Draft{}, Usagef("say in words what is wrong: %q does not", r.What)
	}
	if _, err := time.Parse(time.DateOnly, r.Due); r.Due != "" && err != nil {
		return chain.Draft{}, Usagef("due %q is not a date: write 2026-06-30", r.Due)
	}
	if r.Holds != "" {
		if _, err := s.Step(r.Holds); err != nil {
			return chain.Draft{}, err
		}
	}
	r.Defect = len(s.Job.Defects) + 1
	return chain.Draft{Kind: report.EntryDefect, Data: r}, nil
}
