package report

import (
	"fmt"
	"strings"
	"time"

	"handback/checks/plan"
)

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

// acceptedWords tell how an amendment stands.
func (j *Job) acceptedWords(a *Amendment) string {
	switch {
	case a.Void != "":
		return "no command takes it: " + a.Void
	case a.Accepted == nil:
		return "not accepted by an engineer"
	case a.Accepted.Seq == a.Seq:
		return "made by an engineer"
	}
	return fmt.Sprintf("accepted by %s, %s: %s", j.PersonName(a.Accepted.By), Stamp(a.Accepted.At), a.Accepted.Reason)
}

// amendmentsAgainst are the amendments that nobody has decided.
func (j *Job) amendmentsAgainst() []string {
	var out []string
	for _, a := range j.Amendments {
		if a.Accepted == nil || a.Void != "" {
			out = append(out, fmt.Sprintf("the plan was amended by %s (entry %d): %s", j.PersonName(a.By), a.Seq, j.acceptedWords(a)))
		}
	}
	return out
}

func (j *Job) amendmentFlags() []Flag {
	var out []Flag
	for _, a := range j.Amendments {
		out = append(out, Flag{Seq: a.Seq, What: FlagAmended, Open: a.Accepted == nil || a.Void != "",
			Text: fmt.Sprintf("by %s: %s; %s; %s", j.PersonName(a.By), a.Why, strings.Join(DiffersWords(a.Differs), "; "), j.acceptedWords(a))})
	}
	for _, s := range j.TakenOut {
		if n := len(s.Attempts); n > 0 {
			out = append(out, Flag{Seq: s.Out, Check: s.Check.ID, What: FlagAmended, Text: fmt.Sprintf("taken out of the plan, with %s on record", Count(n, "attempt", "attempts"))})
		}
	}
	return out
}

// DiffersWords tell each difference of two versions of a plan in a line.
func DiffersWords(all []plan.Difference) []string {
	var out []string
	for _, d := range all {
		was, is := CutRunes(Flat(d.Was), 160), CutRunes(Flat(d.Is), 160)
		switch {
		case was == "":
			out = append(out, d.Path+": new: "+is)
		case is == "":
			out = append(out, d.Path+": taken out: "+was)
		default:
			out = append(out, d.Path+": was "+was+", is "+is)
		}
	}
	return out
}

func (j *Job) concessionLine(s *State, c *Concession) ConcessionLine {
	line := ConcessionLine{Check: s.Check.ID, Title: s.Check.Title, Engineer: j.PersonName(c.Engineer), When: Stamp(c.At),
		Verdict: c.Verdict.String(), Reason: c.Reason, Of: c.Of()}
	if c.Skip == 0 {
		line.Finding = s.Attempts[c.Attempt-1].Told.Why()
	} else if skip, err := Decode[Skipped](j.Entries[c.Skip-1]); err == nil {
		line.Finding = "skipped: " + skip.Why
	}
	return line
}

func (j *Job) holdLine(h *plan.Hold, now time.Time) HoldLine {
	line := HoldLine{ID: h.ID, Action: h.Action}
	if s, ok := j.Steps[h.ID]; ok {
		line.Taken, line.By, line.Did, line.Open = Stamp(s.Taken), j.PersonName(s.By), j.didWords(s), s.Open
		return line
	}
	line.Open = j.Gaps(h, now)
	return line
}

// HoldLine is what became of a hold point.
type HoldLine struct {
	ID, Action, Taken, By string
	Did                   string // what else was recorded with it
	Open                  []Gap  // what it waits for; once taken, what it waited for then
}
