package report

import (
	"fmt"
	"strings"

	"handback/records"
)

// coverFlags is how many open flags the cover lists, so that it stays one page; all
// of them stand on a sheet of their own, in full.
const coverFlags = 10

// abridged keeps the words of a flag short enough for the cover.
func abridged(s string) string {
	if r := []rune(s); len(r) > 200 {
		return string(r[:180]) + " … in full on the sheet Flags"
	}
	return s
}

// cover lays out the page to sign.
func (b *book) cover(s *sheet) {
	d := b.doc
	s.onePage = true
	s.widths = []float64{16, 17, 15, 15, 14, 21}
	s.add(across(1, 4, "Handover record", faceTitle), at(5, "job", look{size: 11, bold: true, align: "right"}), at(6, d.Job, look{size: 11, bold: true}).as(named("job")))
	s.add(across(1, 6, d.Title, look{size: 12, bold: true}))
	s.gap(4)
	head, rest := overallParts(d.Overall)
	row := s.add(across(1, 6, head, overallLook(d)).as(named("verdict")))
	s.rows[row-1].height += 10
	b.layout.Overall = Cell{s.name, row, 1}
	s.boxAt(b.layout.Overall).formula = b.overallFormula()
	row = s.add(across(1, 6, rest, look{size: 11, bold: true, align: "center"}))
	s.boxAt(Cell{s.name, row, 1}).formula = b.overallRestFormula()
	s.gap(6)
	s.said("site", d.Site)
	s.said("work done", d.Work)
	s.said("permit", orNone(d.Permit))
	s.said("opened", d.Opened)
	s.said("last entry", d.Last)
	s.said("plan", d.PlanID+", file "+d.PlanFile)
	s.add(at(1, "plan SHA-256", faceLabel), across(2, 6, d.PlanHash, look{size: 8, mono: true}))
	s.said("limits", d.Rule)
	b.coverStops(s)
	b.coverHolds(s)
	b.coverConcessions(s)
	b.coverFlags(s)
	b.coverPeople(s)
	b.coverSignatures(s)
	b.coverRecord(s)
}

// overallParts is the verdict on the job in capitals, and apart from it what it comes of.
func overallParts(o Overall) (head, rest string) {
	_, rest, ok := strings.Cut(o.Words, ": ")
	if !ok {
		_, rest, _ = strings.Cut(o.Words, ", ")
	}
	return verdictHeads[o.Code], rest
}

// verdictHeads are how the verdicts of a job stand in a workbook. They are compared:
// none of them ever changes.
var verdictHeads = map[string]string{
	records.Ready: "READY", records.ReadyWithConcessions: "READY WITH CONCESSIONS", records.NotReady: "NOT READY", records.Stopped: "STOP",
}

// overallWords puts the word that decides in capitals.
func overallWords(o Overall) string {
	if head, rest, ok := strings.Cut(o.Words, ":"); ok {
		return strings.ToUpper(head) + ":" + rest
	}
	head, rest, _ := strings.Cut(o.Words, ",")
	return strings.ToUpper(head) + "," + rest
}

// overallLook tells ready, not ready and stop apart without colour.
func overallLook(d *Document) look {
	l := look{size: 18, bold: true, align: "center", middle: true, border: "thick"}
	switch {
	case d.Overall.Code == records.Stopped:
		l.fill, l.white = "000000", true
	case !d.Overall.Ready:
		l.fill, l.border = "D9D9D9", "dashed"
	}
	return l
}

func orNone(s string) string {
	if s == "" {
		return "none named in the plan"
	}
	return s
}

func (b *book) coverStops(s *sheet) {
	s.gap(6)
	s.heading("STOPS: findings nobody may pass over")
	if len(b.doc.Stops) == 0 {
		s.add(across(1, 6, "none", faceCell))
		return
	}
	s.columns(at(1, "check, attempt", look{}), across(2, 4, "words", look{}), across(5, 6, "what became of it", look{}))
	for _, st := range b.doc.Stops {
		l := faceCell
		if st.Standing {
			l = faceStop
			l.size = 9
		}
		s.add(at(1, fmt.Sprintf("%s, attempt %d", st.Check, st.Attempt), l), across(2, 4, st.Title+": "+st.Text, l), across(5, 6, st.Outcome, l))
	}
}

func (b *book) coverHolds(s *sheet) {
	s.gap(6)
	s.heading("Hold points")
	if len(b.doc.Holds) == 0 {
		s.add(across(1, 6, "none in the plan", faceCell))
		return
	}
	for _, h := range b.doc.Holds {
		s.add(at(1, h.ID, faceCell), across(2, 4, h.Action, faceCell), across(5, 6, holdWords(h), faceCell))
	}
}

// holdWords tells what became of a hold point.
func holdWords(h HoldLine) string {
	switch {
	case h.Taken != "" && len(h.Open) > 0:
		return "taken " + h.Taken + " by " + h.By + " WHILE IT WAITED FOR " + gapNames(h.Open)
	case h.Taken != "":
		return "taken " + h.Taken + " by " + h.By
	case len(h.Open) == 0:
		return "NOT TAKEN; nothing it waits for is open"
	}
	return "NOT TAKEN; waits for " + gapNames(h.Open)
}

func (b *book) coverConcessions(s *sheet) {
	s.gap(6)
	s.heading("Concessions")
	if len(b.doc.Concessions) == 0 {
		s.add(across(1, 6, "none", faceCell))
		return
	}
	for _, c := range b.doc.Concessions {
		s.add(at(1, fmt.Sprintf("%s, attempt %d", c.Check, c.Attempt), faceCell),
			across(2, 3, c.Title+", "+strings.ToUpper(c.Verdict)+": "+c.Finding, faceCell),
			across(4, 6, "accepted by "+c.Engineer+", "+c.When+": "+c.Reason, faceCell))
	}
}

func (b *book) coverFlags(s *sheet) {
	s.gap(6)
	s.heading("Open flags")
	open := 0
	for _, f := range b.doc.Flags {
		if !f.Open {
			continue
		}
		if open++; open <= coverFlags {
			s.add(at(1, flagPlace(f), faceCell), at(2, f.What, faceCell), across(3, 6, abridged(f.Text), faceCell))
		}
	}
	switch {
	case open == 0:
		s.add(across(1, 6, "none", faceCell))
	case open > coverFlags:
		s.add(across(1, 6, fmt.Sprintf("and %d more: all stand on the sheet Flags", open-coverFlags), faceCell))
	}
}

// flagPlace tells where a flag stands.
func flagPlace(f Flag) string {
	switch {
	case f.Check != "" && f.Seq > 0:
		return fmt.Sprintf("%s, entry %d", f.Check, f.Seq)
	case f.Check != "":
		return f.Check
	case f.Seq > 0:
		return fmt.Sprintf("entry %d", f.Seq)
	}
	return "the job"
}

func (b *book) coverPeople(s *sheet) {
	s.gap(6)
	s.heading("People")
	s.columns(across(1, 2, "name", look{}), at(3, "role", look{}), at(4, "employer", look{}), at(5, "date", look{}), at(6, "signature", look{}))
	for _, p := range b.doc.People {
		row := s.add(across(1, 2, p.Name, faceSigning), at(3, p.Role, faceSigning), at(4, p.Firm, faceSigning), at(5, nil, faceSigning), at(6, nil, faceSigning))
		s.rows[row-1].height = max(s.rows[row-1].height, 24)
	}
}

// coverSignatures tells who signed by key, what each signature covers, and any
// doubt about it.
func (b *book) coverSignatures(s *sheet) {
	if len(b.doc.Signatures) == 0 {
		return
	}
	s.gap(6)
	s.heading("Signatures by key")
	for _, g := range b.doc.Signatures {
		text := g.Words + "; key " + g.Key
		if g.Doubt != "" {
			text += "; NOT SHOWN TO BE GOOD: " + g.Doubt
		}
		s.add(at(1, g.Role, faceLabel), across(2, 6, text, faceSmall))
	}
}

func (b *book) coverRecord(s *sheet) {
	d := b.doc
	s.gap(6)
	s.heading("Record")
	s.add(at(1, "head hash", faceLabel), across(2, 6, d.Head, look{size: 8, mono: true}).as(named("head")))
	s.add(at(1, "data SHA-256", faceLabel), across(2, 6, d.Digest, look{size: 8, mono: true}).as(named("digest")))
	s.add(at(1, "entries", faceLabel), across(2, 6, itoa(d.Entries), faceText).as(named("entries")))
	s.said("made with", d.Program)
	s.said("recomputed", unchangedWords)
	if n := len(s.rows); len(d.Pages()) > 0 {
		s.boxAt(Cell{s.name, n, 2}).formula = b.sameFormula()
	}
	s.said("what it is", "The signed record of the job is what counts; this workbook shows it. The head hash is that of its newest entry: compare it with the record before you rely on either.")
	s.gap(4)
	for _, c := range coverCautions(d.Cautions) {
		s.add(at(1, "CAUTION", look{size: 8, bold: true}), across(2, 6, c, faceSmall))
	}
	s.add(across(1, 6, Deferral, look{size: 9, bold: true, border: "thin"}))
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
