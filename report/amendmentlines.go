package report

import "fmt"

// AmendmentLine is an amendment of the plan as a handover shows it.
type AmendmentLine struct {
	Entry                     int
	By, When, Why, File, Hash string
	Accepted                  string // who accepted it, or that nobody did
	Open                      bool   // nobody did
	Differs                   []string
}

func (j *Job) amendmentLines() []AmendmentLine {
	var out []AmendmentLine
	for _, a := range j.Amendments {
		out = append(out, AmendmentLine{Entry: a.Seq, By: j.PersonName(a.By), When: Stamp(a.At), Why: a.Why, File: a.PlanFile, Hash: a.PlanHash,
			Accepted: j.acceptedWords(a), Open: a.Accepted == nil || a.Void != "", Differs: DiffersWords(a.Differs)})
	}
	return out
}

// TakenOutLine is a check that an amendment took out of the plan, with its attempts.
type TakenOutLine struct {
	Check, Title, Kind string
	Entry              int // the amendment
	Attempts           []string
}

func (j *Job) takenOutLines() []TakenOutLine {
	var out []TakenOutLine
	for _, s := range j.TakenOut {
		line := TakenOutLine{Check: s.Check.ID, Title: s.Check.Title, Kind: s.Check.Kind.Name, Entry: s.Out}
		for _, a := range s.Attempts {
			p := j.attemptPage(s, a)
			words := fmt.Sprintf("attempt %d by %s, %s: ", p.Number, p.By, p.When)
			for i, r := range p.Readings {
				if i > 0 {
					words += ", "
				}
				words += r.Label + " " + r.Typed
			}
			if a.Judged {
				words += "; " + p.Verdict.String()
				if why := a.Told.Why(); why != "" {
					words += ": " + why
				}
			} else {
				words += "; not judged"
			}
			line.Attempts = append(line.Attempts, words)
		}
		out = append(out, line)
	}
	return out
}
