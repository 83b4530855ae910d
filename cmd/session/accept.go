package session

import (
	"fmt"

	"handback/checks"
	"handback/records/chain"
	"handback/report"
)

// AcceptDraft is the entry by which an engineer accepts what a check came to, that it was
// skipped, or a device found otherwise; said tells it. Or why it cannot be accepted.
func (s *Session) AcceptDraft(what, engineer, reason string) (draft chain.Draft, said string, err error) {
	data := report.Conceded{Engineer: engineer, Verdict: checks.Missing, Reason: reason}
	by := s.Job.PersonName(engineer)
	if _, device := s.Job.StandingOf(what); device && s.Job.Plan.Check(what) == nil {
		if data.Found, err = s.Job.MayAcceptFound(what, engineer, reason); err != nil {
			return draft, "", err
		}
		said = fmt.Sprintf("%s, found otherwise (entry %d): accepted by %s: %s", s.Job.Plan.Network.Named(what), data.Found, by, reason)
		return chain.Draft{Kind: report.EntryConcede, Data: data}, said, nil
	}
	c, err := s.Check(what)
	if err != nil {
		return draft, "", err
	}
	st := s.Job.State(c.ID)
	if err := s.Job.MayAccept(st, engineer, reason); err != nil {
		return draft, "", err
	}
	if st.Skip != nil {
		data.Skip = st.Skip.Seq
		said = fmt.Sprintf("%s, skipped (%s): accepted as not done by %s: %s", c.ID, st.Skip.Why, by, reason)
		return chain.Draft{Kind: report.EntryConcede, Check: c.ID, Data: data}, said, nil
	}
	a := st.LastJudged()
	data.Attempt, data.Verdict, data.Stop = a.Number, a.Finding.Verdict, a.Finding.Stop.Code
	said = fmt.Sprintf("%s, attempt %d (%s): accepted by %s: %s", c.ID, a.Number, a.Finding.Verdict, by, reason)
	if a.Told.Stop != nil {
		said += fmt.Sprintf("\nTHE STOP STANDS: %s\nno concession lifts it; it stays on the first page of the handover; take the check again", a.Told.Stopping())
	}
	return chain.Draft{Kind: report.EntryConcede, Check: c.ID, Data: data}, said, nil
}
