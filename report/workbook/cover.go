package workbook

import (
	"fmt"
	"strconv"
	"strings"

	"handback/records/chain"
	"handback/report"
	"handback/report/grid"
)

// abridged keeps the words of a flag short enough for the cover.
func abridged(s string) string {
	if r := []rune(s); len(r) > 200 {
		return string(r[:180]) + " … in full on the sheet Flags"
	}
	return s
}

// cover lays out the page to sign.
func (b *book) cover(s *grid.Sheet) {
	d := b.doc
	s.OnePage = true
	s.Widths = []float64{16, 17, 15, 15, 14, 21}
	s.Add(grid.Across(1, 4, "Handover record", grid.FaceTitle), grid.At(5, "job", grid.Look{Size: 11, Bold: true, Align: "right"}), grid.At(6, d.Job, grid.Look{Size: 11, Bold: true}).As(grid.Named("job")))
	s.Add(grid.Across(1, 6, d.Title, grid.Look{Size: 12, Bold: true}))
	s.Gap(4)
	head, rest := overallParts(d.Overall)
	row := s.Add(grid.Across(1, 6, head, overallLook(d)).As(grid.Named("verdict")))
	s.Rows[row-1].Height += 10
	b.layout.Overall = grid.Cell{Sheet: s.Name, Row: row, Col: 1}
	s.BoxAt(b.layout.Overall).Formula = b.overallFormula()
	row = s.Add(grid.Across(1, 6, rest, grid.Look{Size: 11, Bold: true, Align: "center"}))
	b.layout.OverallRest = grid.Cell{Sheet: s.Name, Row: row, Col: 1}
	s.BoxAt(b.layout.OverallRest).Formula = b.overallRestFormula()
	s.Gap(6)
	b.differing(s)
	s.Said("site", d.Site)
	s.Said("work done", d.Work)
	s.Said("permit", report.OrNone(d.Permit))
	s.Said("opened", d.Opened)
	s.Said("last entry", d.Last)
	s.Said("plan", d.PlanID+", file "+d.PlanFile)
	s.Add(grid.At(1, "plan SHA-256", grid.FaceLabel), grid.Across(2, 6, d.PlanHash, grid.Look{Size: 8, Mono: true}))
	for _, a := range d.Amendments {
		s.Said("plan amended", fmt.Sprintf("entry %d, by %s: %s; %s", a.Entry, a.By, a.Why, a.Accepted))
	}
	s.Said("limits", d.Rule)
	b.coverStops(s)
	b.coverHolds(s)
	b.coverOverrides(s)
	b.coverConcessions(s)
	b.coverFlags(s)
	b.coverPeople(s)
	b.coverSignatures(s)
	b.coverRecord(s)
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
	l := grid.Look{Size: 18, Bold: true, Align: "center", Middle: true, Border: "thick"}
	switch {
	case d.Overall.Code == chain.Stopped:
		l.Fill, l.White = "000000", true
	case !d.Overall.Ready:
		l.Fill, l.Border = "D9D9D9", "dashed"
	}
	return l
}

func (b *book) coverStops(s *grid.Sheet) {
	s.Gap(6)
	s.Heading("STOPS: findings nobody may pass over")
	if len(b.doc.Stops) == 0 {
		s.Add(grid.Across(1, 6, "none", grid.FaceCell))
		return
	}
	s.Columns(grid.At(1, "check, attempt", grid.Look{}), grid.Across(2, 4, "words", grid.Look{}), grid.Across(5, 6, "what became of it", grid.Look{}))
	for _, st := range b.doc.Stops {
		l := grid.FaceCell
		if st.Standing {
			l = grid.FaceStop
			l.Size = 9
		}
		s.Add(grid.At(1, fmt.Sprintf("%s, attempt %d", st.Check, st.Attempt), l), grid.Across(2, 4, st.Title+": "+st.Text, l), grid.Across(5, 6, st.Outcome, l))
	}
}

func (b *book) coverHolds(s *grid.Sheet) {
	s.Gap(6)
	s.Heading("Hold points")
	if len(b.doc.Holds) == 0 {
		s.Add(grid.Across(1, 6, "none in the plan", grid.FaceCell))
		return
	}
	for _, h := range b.doc.Holds {
		s.Add(grid.At(1, h.ID, grid.FaceCell), grid.Across(2, 4, h.Action, grid.FaceCell), grid.Across(5, 6, report.HoldWords(h), grid.FaceCell))
	}
}

// coverOverrides names the rules that somebody took upon them.
func (b *book) coverOverrides(s *grid.Sheet) {
	if len(b.doc.Overrides) == 0 {
		return
	}
	s.Gap(6)
	s.Heading("Overrides")
	for _, o := range b.doc.Overrides {
		s.Add(grid.Across(1, 6, o, grid.FaceCell))
	}
}

func (b *book) coverConcessions(s *grid.Sheet) {
	s.Gap(6)
	s.Heading("Concessions")
	if len(b.doc.Concessions) == 0 {
		s.Add(grid.Across(1, 6, "none", grid.FaceCell))
		return
	}
	for _, c := range b.doc.Concessions {
		s.Add(grid.At(1, c.Check+", "+c.Of, grid.FaceCell),
			grid.Across(2, 3, c.Title+", "+strings.ToUpper(c.Verdict)+": "+c.Finding, grid.FaceCell),
			grid.Across(4, 6, "accepted by "+c.Engineer+", "+c.When+": "+c.Reason, grid.FaceCell))
	}
}

func (b *book) coverFlags(s *grid.Sheet) {
	s.Gap(6)
	s.Heading("Open flags")
	open := 0
	for _, f := range b.doc.Flags {
		if !f.Open {
			continue
		}
		if open++; open <= report.CoverFlags {
			s.Add(grid.At(1, report.FlagPlace(f), grid.FaceCell), grid.At(2, f.What, grid.FaceCell), grid.Across(3, 6, abridged(f.Text), grid.FaceCell))
		}
	}
	switch {
	case open == 0:
		s.Add(grid.Across(1, 6, "none", grid.FaceCell))
	case open > report.CoverFlags:
		s.Add(grid.Across(1, 6, fmt.Sprintf("and %d more: all stand on the sheet Flags", open-report.CoverFlags), grid.FaceCell))
	}
}

func (b *book) coverPeople(s *grid.Sheet) {
	s.Gap(6)
	s.Heading("People")
	s.Columns(grid.Across(1, 2, "name", grid.Look{}), grid.At(3, "role", grid.Look{}), grid.At(4, "employer", grid.Look{}), grid.At(5, "date", grid.Look{}), grid.At(6, "signature", grid.Look{}))
	for _, p := range b.doc.People {
		row := s.Add(grid.Across(1, 2, p.Name, grid.FaceSigning), grid.At(3, p.Role, grid.FaceSigning), grid.At(4, p.Firm, grid.FaceSigning), grid.At(5, nil, grid.FaceSigning), grid.At(6, nil, grid.FaceSigning))
		s.Rows[row-1].Height = max(s.Rows[row-1].Height, 24)
	}
}

// coverSignatures tells who signed by key, what each signature covers, and any
// doubt about it.
func (b *book) coverSignatures(s *grid.Sheet) {
	if len(b.doc.Signatures) == 0 {
		return
	}
	s.Gap(6)
	s.Heading("Signatures by key")
	for _, g := range b.doc.Signatures {
		text := g.Words + "; key " + g.Key
		if g.Doubt != "" {
			text += "; NOT SHOWN TO BE GOOD: " + g.Doubt
		}
		s.Add(grid.At(1, g.Role, grid.FaceLabel), grid.Across(2, 6, text, grid.FaceSmall))
	}
}

func (b *book) coverRecord(s *grid.Sheet) {
	d := b.doc
	s.Gap(6)
	s.Heading("Record")
	s.Add(grid.At(1, "head hash", grid.FaceLabel), grid.Across(2, 6, d.Head, grid.Look{Size: 8, Mono: true}).As(grid.Named("head")))
	s.Add(grid.At(1, "data SHA-256", grid.FaceLabel), grid.Across(2, 6, d.Digest, grid.Look{Size: 8, Mono: true}).As(grid.Named("digest")))
	s.Add(grid.At(1, "entries", grid.FaceLabel), grid.Across(2, 6, strconv.Itoa(d.Entries), grid.FaceText).As(grid.Named("entries")))
	s.Said("made with", d.Program)
	s.Said("recomputed", unchangedWords)
	b.layout.Same = grid.Cell{Sheet: s.Name, Row: len(s.Rows), Col: 2}
	s.Said("what it is", "The signed record of the job is what counts; this workbook shows it. The head hash is that of its newest entry: compare it with the record before you rely on either.")
	s.Gap(4)
	for _, c := range coverCautions(d.Cautions) {
		s.Add(grid.At(1, "CAUTION", grid.Look{Size: 8, Bold: true}), grid.Across(2, 6, c, grid.FaceSmall))
	}
	s.Add(grid.Across(1, 6, report.Deferral, grid.Look{Size: 9, Bold: true, Border: "thin"}))
}

// coverCautions keeps the cover to its page: those of live work in full, the
// others by their first sentences in one paragraph.
func coverCautions(all []string) []string {
	var full, short []string
	for _, c := range all {
		if strings.HasPrefix(c, "Live") {
			full = append(full, c)
			continue
		}
		first, _, more := strings.Cut(c, ". ")
		if more {
			first += "."
		}
		short = append(short, first)
	}
	if len(short) > 0 {
		full = append(full, strings.Join(short, " ")+" Each stands in full with its check.")
	}
	return full
}
