package session

import (
	"strconv"

	"handback/checks"
	"handback/checks/plan"
)

// What a shell may offer of a job, each with its words behind a tab.

// PeopleIDs offers the people of a plan in a role, all of them for "".
func PeopleIDs(p *plan.Plan, role string) []string {
	var out []string
	for _, q := range p.People {
		if role == "" || q.Role == role {
			out = append(out, q.ID+"\t"+q.Name+", "+q.Role)
		}
	}
	return out
}

// MeterIDs offers the instruments of a job's plan.
func MeterIDs(s *Session) []string {
	var out []string
	for _, m := range s.Job.Plan.Meters {
		out = append(out, m.ID+"\t"+m.Name)
	}
	return out
}

// MayOverride offers the rules that the plan lets somebody override at some step.
func MayOverride(s *Session) []string {
	var out []string
	for _, it := range s.Job.Plan.Items() {
		if st := it.Does(); st != nil {
			for _, r := range st.Leave {
				out = append(out, string(r)+"\t"+st.ID)
			}
		}
	}
	return out
}

// SignedEntries offers the entries that are signatures.
func (s *Session) SignedEntries() []string {
	var out []string
	for _, g := range s.Job.Signatures {
		out = append(out, strconv.Itoa(g.Seq)+"\t"+g.Statement.Role+" "+g.Statement.Person)
	}
	return out
}

// Choices are what may be answered to a field, where that is one of a few.
func Choices(p *plan.Plan, f checks.Field) []string {
	switch f.Sort {
	case checks.Choice:
		return f.Options
	case checks.MeterUsed:
		return plan.IDsOf(p.Meters, func(m plan.Meter) string { return m.ID })
	case checks.Initials:
		return plan.IDsOf(p.People, func(q plan.Person) string { return q.ID })
	case checks.Instant:
		return []string{"now"}
	}
	return nil
}
