package report

import (
	"fmt"
	"strings"

	"handback/templates"
)

// summary is what the template of the text places. All of it is on one line each
// and free of control characters.
type summary struct {
	Job, Title, Site, Work, Permit string
	Opened, Last                   string
	Overall                        string
	Stops                          []Stop
	Checks                         []summaryCheck
	Holds                          []summaryHold
	Concessions                    []ConcessionLine
	Flags, Late                    []string
	Signatures                     []SignatureLine
	Attachments                    []summaryFile
	Entries                        int
	Head, Digest                   string
	Plan, PlanHash, Deferral       string
}

type summaryCheck struct{ Verdict, Number, ID, Title, Why string }

type summaryFile struct{ Check, Caption, Words, SHA256, By, When string }

type summaryHold struct {
	ID, Action, Words string
	Open              []string
}

// Text is the summary for a terminal or a mail: no line is longer than 80 signs.
// The error names what the template lacks.
func Text(d *Document) (string, error) {
	s := summary{Job: flat(d.Job), Title: flat(d.Title), Site: flat(d.Site), Work: flat(d.Work), Permit: flat(d.Permit), Opened: d.Opened, Last: d.Last,
		Overall: flat(overallWords(d.Overall)), Entries: d.Entries, Head: d.Head, Digest: d.Digest, Plan: flat(d.PlanID + ", file " + d.PlanFile), PlanHash: d.PlanHash, Deferral: Deferral}
	for _, st := range d.Stops {
		st.Text, st.Outcome = flat(st.Title+": "+st.Text), flat(st.Outcome)
		s.Stops = append(s.Stops, st)
	}
	for i, p := range d.Pages() {
		s.Checks = append(s.Checks, summaryCheck{p.shown().String(), fmt.Sprintf("%2d", i+1), p.ID, flat(p.Title), flat(standing(p))})
	}
	for _, h := range d.Holds {
		line := summaryHold{ID: h.ID, Action: flat(h.Action), Words: flat(holdWords(h))}
		for _, g := range h.Open {
			line.Open = append(line.Open, flat(g.Check+" "+strings.ToUpper(g.Verdict.String())+": "+g.words()))
		}
		s.Holds = append(s.Holds, line)
	}
	for _, c := range d.Concessions {
		c.Finding, c.Reason, c.Engineer = flat(c.Finding), flat(c.Reason), flat(c.Engineer)
		s.Concessions = append(s.Concessions, c)
	}
	for _, f := range d.Flags {
		if f.Open {
			s.Flags = append(s.Flags, flat(flagPlace(f)+", "+f.What+": "+f.Text))
		}
	}
	for _, g := range d.Signatures {
		g.Words, g.Doubt = flat(g.Words), flat(g.Doubt)
		s.Signatures = append(s.Signatures, g)
	}
	for _, a := range d.Attachments {
		place := a.Check
		switch {
		case a.Signature > 0:
			place = "signature of entry " + itoa(a.Signature)
		case place == "":
			place = "the job"
		}
		s.Attachments = append(s.Attachments, summaryFile{place, flat(a.Caption), flat(a.Words()), a.SHA256, flat(a.By), a.When})
	}
	for _, m := range d.Instruments {
		if m.InDate == "no" {
			s.Late = append(s.Late, flat(fmt.Sprintf("%s (serial %s): due %s, used in %s", m.Name, m.Serial, m.DueText, strings.Join(m.UsedIn, ", "))))
		}
	}
	return templates.Report("summary", s)
}

// words are why a gap stands, with the stop named.
func (g Gap) words() string {
	if g.Stop {
		return "STOP: " + g.Why
	}
	return g.Why
}

// flat puts text on one line.
func flat(s string) string { return unwrapped(plain(s)) }
