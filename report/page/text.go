package page

import (
	"cmp"
	"fmt"
	"strconv"
	"strings"

	"handback/checks"
	"handback/report"
	"handback/report/certificate"
	"handback/templates"
)

// summary is what the template of the text places. All of it is on one line each
// and free of control characters.
type summary struct {
	Heading, Number                string // of the owner's form
	Job, Title, Site, Work, Permit string
	Opened, Last                   string
	Overall                        string
	Stops                          []report.Stop
	Checks                         []summaryCheck
	Holds                          []summaryHold
	Steps                          []report.StepLine
	Overrides                      []string
	Concessions                    []report.ConcessionLine
	Flags, Defects, Notes, People  []string
	Instruments                    []summaryInstrument
	Amendments                     []report.AmendmentLine
	TakenOut                       []report.TakenOutLine
	Signatures                     []report.SignatureLine
	Attachments                    []summaryFile
	Entries                        int
	Head, Digest                   string
	Plan, PlanHash, Deferral       string
}

type summaryCheck struct {
	Verdict, Number, ID, Title string
	Lines                      []string
}

type summaryInstrument struct {
	Words string
	Lines []string
}

type summaryFile struct{ Check, Caption, Words, SHA256, By, When string }

type summaryHold struct {
	ID, Action, Words string
	Open              []string
}

// Text is the summary for a terminal or a mail: no line is longer than 80 signs.
// The error names what the template lacks.
func Text(d *report.Document) (string, error) {
	s := summary{Heading: report.Flat(d.Form.Heading), Number: report.Flat(d.Form.Number), Job: report.Flat(d.Job), Title: report.Flat(d.Title), Site: report.Flat(d.Site), Work: report.Flat(d.Work), Permit: report.Flat(d.Permit), Opened: d.Opened, Last: d.Last,
		Overall: report.Flat(report.OverallWords(d.Overall)), Entries: d.Entries, Head: d.Head, Digest: d.Digest, Plan: report.Flat(d.PlanID + ", file " + d.PlanFile), PlanHash: d.PlanHash, Deferral: report.Deferral}
	for _, st := range d.Stops {
		st.Text, st.Outcome = report.Flat(st.Title+": "+st.Text), report.Flat(st.Outcome)
		s.Stops = append(s.Stops, st)
	}
	lines := certificate.Lines(d)
	for i, p := range d.Pages() {
		s.Checks = append(s.Checks, newSummaryCheck(p, lines[i]))
	}
	for _, h := range d.Holds {
		line := summaryHold{ID: h.ID, Action: report.Flat(h.Action), Words: report.Flat(report.HoldWords(h))}
		for _, g := range h.Open {
			name := g.Name()
			if g.Check != "" {
				name += " " + strings.ToUpper(g.Verdict.String())
			}
			line.Open = append(line.Open, report.Flat(name+": "+g.Words()))
		}
		s.Holds = append(s.Holds, line)
	}
	for _, st := range d.Steps {
		st.Action, st.Words = report.Flat(st.Action), report.Flat(st.Words)
		s.Steps = append(s.Steps, st)
	}
	for _, o := range d.Overrides {
		s.Overrides = append(s.Overrides, report.Flat(o))
	}
	for _, c := range d.Concessions {
		c.Finding, c.Reason, c.Engineer = report.Flat(c.Finding), report.Flat(c.Reason), report.Flat(c.Engineer)
		s.Concessions = append(s.Concessions, c)
	}
	for _, f := range d.Flags {
		if f.Open {
			s.Flags = append(s.Flags, report.Flat(report.FlagPlace(f)+", "+f.What+": "+f.Text))
		}
	}
	s.open(d)
	for _, g := range d.Signatures {
		g.Words, g.Doubt = report.Flat(g.Words), report.Flat(g.Doubt)
		s.Signatures = append(s.Signatures, g)
	}
	for _, a := range d.Attachments {
		place := a.Check
		switch {
		case a.Signature > 0:
			place = "signature of entry " + strconv.Itoa(a.Signature)
		case place == "":
			place = "the job"
		}
		s.Attachments = append(s.Attachments, summaryFile{place, report.Flat(a.Caption), report.Flat(a.Words()), a.SHA256, report.Flat(a.By), a.When})
	}
	s.takePart(d)
	return templates.Report("summary", s, d.Form.Labels.Of)
}

// open takes up what was changed in the plan, and what stays open or was said.
func (s *summary) open(d *report.Document) {
	for _, a := range d.Amendments {
		a.By, a.Why, a.Accepted, a.File, a.Differs = report.Flat(a.By), report.Flat(a.Why), report.Flat(a.Accepted), report.Flat(a.File), flat(a.Differs)
		s.Amendments = append(s.Amendments, a)
	}
	for _, c := range d.TakenOut {
		c.Title, c.Attempts = report.Flat(c.Title), flat(c.Attempts)
		s.TakenOut = append(s.TakenOut, c)
	}
	for _, x := range d.Defects {
		s.Defects = append(s.Defects, report.Flat(fmt.Sprintf("%d: %s; raised %s by %s; %s", x.Number, x.Words, x.When, x.By, x.State)))
	}
	for _, n := range d.Notes {
		s.Notes = append(s.Notes, report.Flat(cmp.Or(n.Check, "the job")+", "+n.When+", "+n.By+": "+n.Text))
	}
}

func flat(lines []string) []string {
	out := make([]string, len(lines))
	for i, l := range lines {
		out[i] = report.Flat(l)
	}
	return out
}

// newSummaryCheck is a check with the value that decided it, and who did it.
func newSummaryCheck(p report.CheckPage, l certificate.Line) summaryCheck {
	c := summaryCheck{Verdict: l.Verdict.String(), Number: fmt.Sprintf("%2d", l.Number), ID: l.ID, Title: report.Flat(p.Title)}
	words := l.Decided // of a pass; what stands against a check says its value itself
	if l.Value != "" {
		words += " " + l.Value + ", limit " + l.Limit
		if l.Margin != "" {
			words += ", margin " + l.Margin
		}
	}
	if l.Verdict != checks.Pass || p.State != l.Verdict.String() {
		words = report.WhyItStands(p)
	}
	if words != "" {
		c.Lines = append(c.Lines, report.Flat(words))
	}
	for _, change := range l.Changes {
		c.Lines = append(c.Lines, report.Flat(change))
	}
	if n := len(p.Attempts); n > 0 {
		a := p.Attempts[n-1]
		words := "by " + a.By + ", " + a.When
		if a.Repeat != "" {
			words += fmt.Sprintf("; attempt %d, because: %s", a.Number, a.Repeat)
		}
		c.Lines = append(c.Lines, report.Flat(words))
	}
	return c
}

// takePart takes up with what and by whom it was done.
func (s *summary) takePart(d *report.Document) {
	for _, m := range d.Instruments {
		if len(m.UsedIn) == 0 {
			continue
		}
		due := "due " + m.DueText
		if m.Certificate != "" {
			due = "certificate " + m.Certificate + ", " + due
		}
		if m.InDate == "no" {
			due += ", OUT OF DATE when it was used"
		}
		s.Instruments = append(s.Instruments, summaryInstrument{
			report.Flat(fmt.Sprintf("%s, %s, serial %s, %s", m.ID, m.Name, m.Serial, due)),
			[]string{report.Flat("used in " + strings.Join(m.UsedIn, ", "))}})
	}
	for _, p := range d.People {
		s.People = append(s.People, report.Flat(fmt.Sprintf("%s (%s), %s", p.Name, p.ID, p.Role)))
	}
}
