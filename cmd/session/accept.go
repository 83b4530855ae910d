package session

import (
	"fmt"

	"handback/records/chain"
	"handback/report"
)

// Acceptance is what an engineer would sign who accepts a check as it stands, or a device
// found otherwise, and the entry that records it; or why it cannot be accepted.
func (s *Session) Acceptance(what, engineer, reason string) (chain.Acceptance, report.Conceded, error) {
	if _, device := s.Job.StandingOf(what); !device || s.Job.Plan.Check(what) != nil {
		c, err := s.Check(what)
		if err != nil {
			return chain.Acceptance{}, report.Conceded{}, err
		}
		what = c.ID
	}
	a, data, err := s.Job.NewAcceptance(what, engineer, reason)
	if err == nil {
		err = s.acceptedAlready(a, data, true)
	}
	return a, data, err
}

// Again says that who accepts without a signature did so before, nil when not.
func (s *Session) Again(a chain.Acceptance, data report.Conceded) error {
	return s.acceptedAlready(a, data, data.Signed != nil)
}

// acceptedAlready says that an engineer accepted the same finding or skip before, and that
// what shows it is as good as what is to come. Another engineer may accept it too.
func (s *Session) acceptedAlready(a chain.Acceptance, data report.Conceded, signed bool) error {
	st := s.Job.State(CheckAccepted(a))
	if st == nil || !st.IsConceded() || st.Concession.Engineer != data.Engineer || st.Concession.Skip != data.Skip || s.Job.Lapsed(st) != "" {
		return nil
	}
	proof := s.Job.Proof(st.Concession.Seq)
	if proof.Doubt() != "" && (signed || proof.Telephone != "" && data.Telephone == nil) {
		return nil
	}
	return fmt.Errorf("check %s, %s: %s accepted it already (entry %d; %s): nothing was recorded", st.Check.ID, st.Concession.Of(), s.Job.PersonName(data.Engineer), st.Concession.Seq, proof.Words())
}

// AcceptanceDraft is the entry of an acceptance. That of a device names no check.
func AcceptanceDraft(a chain.Acceptance, data report.Conceded) chain.Draft {
	return chain.Draft{Kind: report.EntryConcede, Check: CheckAccepted(a), Data: data}
}

// CheckAccepted is the check that an acceptance is about, "" for one of a device.
func CheckAccepted(a chain.Acceptance) string {
	if a.Accepts == chain.AcceptsFound {
		return ""
	}
	return a.Of
}

// AcceptedWords tell what was accepted, by whom and why.
func (s *Session) AcceptedWords(a chain.Acceptance, data report.Conceded) string {
	by := fmt.Sprintf("by %s: %s", s.Job.PersonName(data.Engineer), data.Reason)
	switch st := s.Job.State(a.Of); a.Accepts {
	case chain.AcceptsFound:
		return fmt.Sprintf("%s, found otherwise (entry %d): accepted %s", s.Job.Plan.Network.Named(a.Of), data.Found, by)
	case chain.AcceptsSkipped:
		return fmt.Sprintf("%s, skipped (%s): accepted as not done %s", a.Of, st.Skip.Why, by)
	default:
		said := fmt.Sprintf("%s, attempt %d (%s): accepted %s", a.Of, data.Attempt, data.Verdict, by)
		if told := st.LastJudged().Told; told.Stop != nil {
			said += fmt.Sprintf("\nTHE STOP STANDS: %s\nno concession lifts it; it stays on the first page of the handover; take the check again", told.Stopping())
		}
		return said
	}
}
