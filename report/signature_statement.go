package report

import (
	"fmt"
	"strings"
	"time"

	"handback/checks"
	"handback/records"
)

// NewStatement is what a person of the plan would sign about the job as it stands at
// its last entry, but for the documents that show it. The time is kept to the second.
func (j *Job) NewStatement(person *checks.Person, role string, at time.Time) (records.Statement, error) {
	data, err := j.HandoverData(j.Head().At)
	if err != nil {
		return records.Statement{}, err
	}
	head := j.Head()
	return records.Statement{V: 1, Job: j.ID, Entries: head.Seq, Head: head.Hash, PlanHash: j.PlanHash, Role: role, Person: person.ID,
		Name: oneLine(person.Name), At: at.Truncate(time.Second), Verdict: j.Overall(head.At).Code, Stops: j.StandingStops(), Handover: records.HashFile(data)}, nil
}

// StatementWords are what a statement of the job says, in lines for its signer.
func (j *Job) StatementWords(s records.Statement) []string {
	out := []string{
		fmt.Sprintf("I, %s, %s of job %s, sign its record as it stands at entry %d.", s.Name, s.Role, s.Job, s.Entries),
		"verdict: " + s.Verdict + " (" + j.Overall(j.Head().At).Words + ")",
		"stops that stand: " + stopWords(s.Stops),
		"signed: " + stamp(s.At),
		"head hash of entry " + itoa(s.Entries) + ": " + s.Head,
		"plan, SHA-256: " + s.PlanHash,
		"handover data, SHA-256: " + s.Handover,
		"workbook that shows it, SHA-256: " + s.Workbook,
		"page that shows it, SHA-256: " + s.Page,
	}
	switch s.Role {
	case "technician":
		return append(out, "As technician I say that the readings recorded in my name are those I took.")
	case "engineer":
		return append(out, "As engineer I say that I have looked at the findings, the flags and the concessions.")
	}
	return append(out, "As owner I say that I have received this record.")
}

// stopWords tell stops to a signer.
func stopWords(stops []records.Stop) string {
	var out []string
	for _, s := range stops {
		out = append(out, fmt.Sprintf("%s, attempt %d: %s", s.Check, s.Attempt, s.Text))
	}
	if len(out) == 0 {
		return "none"
	}
	return strings.Join(out, "; ")
}
