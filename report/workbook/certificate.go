package workbook

import (
	"slices"
	"strings"

	"handback/records/chain"
	"handback/report"
	"handback/report/certificate"
	"handback/report/grid"
)

// Columns of the certificate. Labels take the first two, tables what they need.
const (
	certNumber  = 1
	certLabel   = 2 // the last column of a label
	certTitle   = 3
	certDecided = 4
	certValue   = 5
	certLimit   = 6
	certMargin  = 7
	colResult   = 8
	certPrinted = colResult

	// beside the results, not printed
	colStands    = 10
	colRecorded  = 11
	certEntry    = 12
	certAttempts = 13
	colWhy       = 14
)

var certWidths = []float64{3.6, 10.6, 12.2, 16.5, 12.8, 12.5, 7, 11.2, 2, 12, 14, 7, 9, 90}

// certificate lays out the pages to sign.
func (b *book) certificate(s *grid.Sheet) error {
	s.Tight, s.Printed, s.Widths = true, certPrinted, certWidths
	b.certHead(s)
	b.certIdentity(s)
	b.certStops(s)
	b.certHolds(s)
	b.results(s)
	s.Later(b.layout.Overall, b.overallFormula(), "")
	s.Later(b.layout.Rest, b.overallRestFormula(), "")
	b.certAccepted(s)
	b.certOpen(s)
	b.certInstruments(s)
	b.certConformity(s)
	b.certBoxes(s)
	return b.certRecord(s)
}

// certHead is title, job and the verdict on it.
func (b *book) certHead(s *grid.Sheet) {
	d := b.doc
	b.formHead(s)
	number := ""
	for _, x := range d.Identity {
		switch x.Key {
		case "document.number":
			number = x.Text
		case "document.revision":
			number = report.JoinWords(number, b.Label("revision %s", x.Text))
		}
	}
	s.Add(grid.Across(1, certDecided, b.Label("Handover certificate"), grid.Look{Size: 15, Bold: true}), grid.Across(certValue, certPrinted, number, grid.Look{Size: 10, Bold: true, Align: "right"}))
	s.Add(grid.Across(1, certLimit, d.Title, grid.Look{Size: 11, Bold: true}), grid.At(certMargin, b.Label("job"), grid.Look{Size: 9, Align: "right"}), grid.At(certPrinted, d.Job, grid.Look{Size: 9, Bold: true, Align: "right"}).As(grid.Named("job")))
	s.Gap(2)
	head, rest := overallParts(d.Overall)
	row := s.Add(grid.Across(1, certPrinted, head, overallLook(d)).As(grid.Named("verdict")))
	s.Rows[row-1].Height += 4
	b.layout.Overall = grid.Cell{Sheet: s.Name, Row: row, Col: 1}
	b.layout.Rest = grid.Cell{Sheet: s.Name, Row: s.Add(grid.Across(1, certPrinted, rest, grid.Look{Size: 10, Bold: true, Align: "center"})), Col: 1}
}

// overallParts is the verdict on the job in capitals, and apart from it what it comes of.
func overallParts(o report.Overall) (head, rest string) {
	_, rest, ok := strings.Cut(o.Words, ": ")
	if !ok {
		_, rest, _ = strings.Cut(o.Words, ", ")
	}
	return VerdictHeads[o.Code], rest
}

// VerdictHeads are how the verdicts of a job stand in a workbook. They are compared:
// none of them ever changes.
var VerdictHeads = map[string]string{
	chain.Ready: "READY", chain.ReadyWithConcessions: "READY WITH CONCESSIONS", chain.NotReady: "NOT READY", chain.Stopped: "STOP",
}

// overallLook tells ready, not ready and stop apart without colour.
func overallLook(d *report.Document) grid.Look {
	l := grid.Look{Size: 16, Bold: true, Align: "center", Middle: true, Border: "thick"}
	switch {
	case d.Overall.Code == chain.Stopped:
		l.Fill, l.White = "000000", true
	case !d.Overall.Ready:
		l.Fill, l.Border = "D9D9D9", "dashed"
	}
	return l
}

// Looks of the certificate's words.
var (
	faceCertLabel = grid.Look{Size: 8, Bold: true, Snug: true}
	faceCertText  = grid.Look{Size: 8, Snug: true}
)

// says is a label with words over the rest of the width; nothing is laid out for none.
func says(s *grid.Sheet, label, words string) {
	if words != "" {
		s.Add(grid.Across(1, certLabel, s.Label(label), faceCertLabel), grid.Across(certTitle, certPrinted, words, faceCertText))
	}
}

// fact is a label with its words in half the width.
type fact struct{ label, words string }

// facts are laid out two a line.
func facts(s *grid.Sheet, all []fact) {
	for i := 0; i < len(all); i += 2 {
		boxes := []grid.Box{grid.Across(1, certLabel, s.Label(all[i].label), faceCertLabel), grid.Across(certTitle, certDecided, all[i].words, faceCertText)}
		if i+1 < len(all) {
			boxes = append(boxes, grid.At(certValue, s.Label(all[i+1].label), faceCertLabel), grid.Across(certLimit, certPrinted, all[i+1].words, faceCertText))
		}
		s.Add(boxes...)
	}
}

// certSection begins a section of the certificate.
func certSection(s *grid.Sheet, heading string) {
	s.Block()
	s.Gap(3)
	s.Add(grid.Across(1, certPrinted, s.Label(heading), grid.Look{Size: 9, Bold: true, Fill: "D9D9D9", Middle: true}))
}

// certIdentity tells whose plant was worked on, by whom, where, when and by which
// papers, and what each piece of plant is told by.
func (b *book) certIdentity(s *grid.Sheet) {
	d := b.doc
	certSection(s, "Identity")
	said := map[string]string{}
	for _, x := range d.Identity {
		if x.Of == "" {
			said[x.Key] = x.Text
		}
	}
	joined := func(keys ...string) (out string) {
		for _, k := range keys {
			out = report.JoinWords(out, said[k])
		}
		return out
	}
	var short []fact
	add := func(label, words string) {
		if words != "" {
			short = append(short, fact{label, words})
		}
	}
	add("client", joined("client.name", "client.address", "client.contact"))
	add("tested by", joined("tested_by.name", "tested_by.address", "tested_by.contact"))
	add("site", report.JoinWords(d.Site, said["site_address"]))
	add("order", said["order"])
	add("method statement", said["method_statement"])
	add("drawing", said["drawing"])
	add("work from", d.Opened)
	add("to", d.Last)
	add("date of issue", said["issued"])
	add("plan", b.Label("%s, file %s", d.PlanID, d.PlanFile))
	add("job identifier", d.Identifier)
	facts(s, short)
	says(s, "work done", d.Work)
	says(s, "permit", report.OrNone(d.Permit))
	for _, x := range d.Identity {
		if strings.HasPrefix(x.Key, "procedure.") {
			says(s, "procedure", x.Text)
		}
	}
	for _, x := range b.plates(d.Identity) {
		says(s, x.label, x.words)
	}
	for _, a := range d.Amendments {
		says(s, "plan amended", b.Label("entry %d, by %s: %s; %s", a.Entry, a.By, a.Why, a.Accepted))
	}
	var lacks []string
	for _, x := range d.Lacks {
		lacks = append(lacks, x.What)
	}
	if len(lacks) > 0 {
		says(s, "not in the plan", strings.Join(lacks, "; "))
	}
}

// plates are what the pieces of plant are told by, each in a line.
func (b *book) plates(all []report.IdentityLine) []fact {
	var out []fact
	for _, x := range all {
		switch {
		case x.Of == "":
		case strings.HasSuffix(x.Key, ".name"):
			out = append(out, fact{x.Label, x.Text})
		case len(out) > 0:
			out[len(out)-1].words += "; " + b.Label(x.Label) + " " + x.Text
		}
	}
	return out
}

func (b *book) certStops(s *grid.Sheet) {
	certSection(s, "STOPS: findings nobody may pass over")
	if len(b.doc.Stops) == 0 {
		s.Add(grid.Across(1, certPrinted, b.Label("none"), faceTight))
		return
	}
	for _, st := range b.doc.Stops {
		l := faceTight
		if st.Standing {
			l = grid.FaceStop
			l.Size, l.Snug = 8, true
		}
		s.Add(grid.Across(1, certTitle, b.Label("%s, attempt %d", st.Check, st.Attempt), l), grid.Across(certDecided, certLimit, st.Title+": "+st.Text, l), grid.Across(certMargin, certPrinted, st.Outcome, l))
	}
}

// certHolds tells of every hold point what was done and on whose word.
func (b *book) certHolds(s *grid.Sheet) {
	certSection(s, "Hold points: what was released, and on whose word")
	if len(b.doc.Holds) == 0 {
		s.Add(grid.Across(1, certPrinted, b.Label("none in the plan"), faceTight))
		return
	}
	for _, h := range b.doc.Holds {
		s.Add(grid.Across(1, certLabel, h.ID, faceTight), grid.Across(certTitle, certDecided, h.Action, faceTight), grid.Across(certValue, certPrinted, report.HoldWords(h), faceTight))
	}
}

// certAccepted lists what was accepted though it did not pass, and rules that somebody
// took upon them.
func (b *book) certAccepted(s *grid.Sheet) {
	certSection(s, "Concessions")
	if len(b.doc.Concessions) == 0 {
		s.Add(grid.Across(1, certPrinted, b.Label("none"), faceTight))
	}
	for _, c := range b.doc.Concessions {
		s.Add(grid.Across(1, certLabel, c.Check+", "+c.Of, faceTight),
			grid.Across(certTitle, certDecided, c.Title+", "+strings.ToUpper(c.Verdict)+": "+c.Finding, faceTight),
			grid.Across(certValue, certPrinted, b.Label("accepted by %s, %s: %s", c.Engineer, c.When, c.Reason)+"; "+c.Proof, faceTight))
	}
	if len(b.doc.Overrides) == 0 {
		return
	}
	certSection(s, "Overrides: rules that somebody took upon them")
	for _, o := range b.doc.Overrides {
		s.Add(grid.Across(1, certPrinted, o, faceTight))
	}
}

// abridged keeps the words of a flag short enough for the certificate.
func (b *book) abridged(s string) string {
	if r := []rune(s); len(r) > 200 {
		return string(r[:180]) + " " + b.Label("… in full on the sheet Flags")
	}
	return s
}

// certOpen lists what is open: defects, then flags.
func (b *book) certOpen(s *grid.Sheet) {
	certSection(s, "Open: defects and flags")
	open := 0
	for _, x := range b.doc.Defects {
		if x.Open {
			open++
			s.Add(grid.Across(1, certLabel, b.Label("defect %d", x.Number), faceTight), grid.Across(certTitle, certLimit, x.Words, faceTight), grid.Across(certMargin, certPrinted, x.State, faceTight))
		}
	}
	flags := 0
	for _, f := range b.doc.Flags {
		if !f.Open {
			continue
		}
		if flags++; flags <= report.CoverFlags {
			s.Add(grid.Across(1, certLabel, report.FlagPlace(f), faceTight), grid.At(certTitle, f.What, faceTight), grid.Across(certDecided, certPrinted, b.abridged(f.Text), faceTight))
		}
	}
	switch {
	case open+flags == 0:
		s.Add(grid.Across(1, certPrinted, b.Label("none"), faceTight))
	case flags > report.CoverFlags:
		s.Add(grid.Across(1, certPrinted, b.Label("and %d more: all stand on the sheet Flags", flags-report.CoverFlags), faceTight))
	}
}

// certInstruments lists those that were used, in short.
func (b *book) certInstruments(s *grid.Sheet) {
	certSection(s, "Instruments used, each with its certificate of calibration")
	s.Add(tight(grid.Across(1, certLabel, "id", grid.FaceColumn)), tight(grid.Across(certTitle, certDecided, "instrument", grid.FaceColumn)), tight(grid.At(certValue, "serial", grid.FaceColumn)),
		tight(grid.At(certLimit, "certificate", grid.FaceColumn)), tight(grid.Across(certMargin, certPrinted, "due; in date when used", grid.FaceColumn)))
	used := 0
	for _, m := range b.doc.Instruments {
		if len(m.UsedIn) == 0 {
			continue
		}
		used++
		due := faceTight
		due.Bold = m.InDate == "no"
		word := m.InDate
		if due.Bold {
			word = "NO"
		}
		s.Add(grid.Across(1, certLabel, m.ID, faceTight), grid.Across(certTitle, certDecided, m.Name, faceTight), grid.At(certValue, m.Serial, faceTight), grid.At(certLimit, m.Certificate, faceTight),
			grid.Across(certMargin, certPrinted, report.JoinWords(m.DueText, word), due))
	}
	if used == 0 {
		s.Add(grid.Across(1, certPrinted, b.Label("none"), faceTight))
	}
}

// annexesWords names the sheets that are not printed, and says how to print one.
func (b *book) annexesWords() string {
	var names []string
	for _, s := range b.Sheets {
		if s.Unprinted {
			names = append(names, s.Name)
		}
	}
	if len(names) == 0 {
		return ""
	}
	return b.Label("Annexes stand in the workbook and are not printed, for their print area is empty: %s. Beside the printed columns of the test sheets stand the readings as typed, their entries, and the reason of every verdict. To print an annex, give it a print area.", strings.Join(slices.Compact(names), ", "))
}

// certConformity says what the verdicts state, by which rule, and what they relate to.
func (b *book) certConformity(s *grid.Sheet) {
	certSection(s, "What is stated, and of what")
	first := len(s.Rows)
	for _, x := range certificate.Statements(b.doc) {
		says(s, x[0], b.Label(x[1]))
	}
	says(s, "annexes", b.annexesWords())
	for row := first; row <= len(s.Rows); row++ {
		b.layout.Stated = append(b.layout.Stated, grid.Cell{Sheet: s.Name, Row: row, Col: 1})
	}
}
