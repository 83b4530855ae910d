package workbook

import (
	"fmt"
	"strings"

	"handback/checks"
	"handback/report"
	"handback/report/grid"
)

// results lays out every check in a line.
func (b *book) results(s *grid.Sheet) {
	s.Landscape, s.Repeat = true, 2
	s.Widths = []float64{5, 16, 28, 18, 17, 42, 9, 7, 11, 14}
	s.Add(grid.Across(1, 5, "Results at a glance: "+b.doc.Title, grid.Look{Size: 14, Bold: true}), grid.Across(6, colRecorded, "job "+b.doc.Job, grid.Look{Size: 10, Bold: true, Align: "right"}))
	s.Columns(grid.At(1, "no", grid.Look{}), grid.At(2, "check", grid.Look{}), grid.At(3, "title", grid.Look{}), grid.At(4, "where", grid.Look{}), grid.At(5, "verdict", grid.Look{}), grid.At(6, "why", grid.Look{}), grid.At(7, "attempts", grid.Look{}), grid.At(8, "entry", grid.Look{}),
		grid.At(colStands, "stands", grid.Look{}), grid.At(colRecorded, "as recorded", grid.Look{}))
	s.Flow()
	for i, p := range b.doc.Pages() {
		entry := 0
		for _, a := range p.Attempts {
			if a.Entry > 0 {
				entry = a.Entry
			}
		}
		row := s.Add(grid.Whole(1, i+1), grid.At(2, p.ID, grid.FaceCell), grid.At(3, p.Title, grid.FaceCell), grid.At(4, p.At, grid.FaceCell), grid.Verdict(colResult, colResult, p.Verdict).As(grid.Named("result", p.ID)),
			grid.At(6, report.WhyItStands(p), grid.FaceCell), grid.Whole(7, len(p.Attempts)), grid.Whole(8, entry),
			grid.At(colStands, report.Stands(p.Hangs, p.Verdict), grid.FaceCell).As(grid.Named("stands", p.ID)), grid.At(colRecorded, grid.WordOf(p.Verdict), grid.FaceCell).As(grid.Named("recorded", p.ID)))
		c := grid.Cell{Sheet: s.Name, Row: row, Col: colResult}
		b.layout.Results[p.ID] = c
		s.BoxAt(c).Formula = b.layout.Checks[p.ID].Ref()
		s.BoxAt(c.In(colStands)).Formula = b.standsFormula(p, c)
	}
	b.marks(s)
	b.shares(s)
}

// marks explains the boxes around verdicts.
func (b *book) marks(s *grid.Sheet) {
	s.Gap(8)
	s.Heading("What the verdicts mean")
	for _, m := range []struct {
		v     checks.Verdict
		words string
	}{
		{checks.Pass, "shown to be within every limit"},
		{checks.Inconclusive, "neither shown within nor shown beyond a limit, or a reading in doubt"},
		{checks.Fail, "shown to be beyond a limit, or a condition not met"},
		{checks.Missing, "something that must be answered was not"},
		{checks.Void, "the proof itself failed: nothing it showed counts"},
	} {
		s.Add(grid.Verdict(1, 2, m.v), grid.Across(3, colRecorded, m.words, grid.FaceCell))
	}
}

// flags lays out hold points, flags, notes and the data predictions rest on.
func (b *book) flags(s *grid.Sheet) {
	s.Landscape, s.Repeat = true, 1
	s.Widths = []float64{9, 16, 24, 20, 17, 44, 9, 8}
	s.Add(grid.Across(1, 5, "Hold points, flags and notes", grid.Look{Size: 14, Bold: true}), grid.Across(6, 8, "job "+b.doc.Job, grid.Look{Size: 10, Bold: true, Align: "right"}))
	b.holdList(s)
	b.stepList(s)
	b.registers(s)
	b.amendmentList(s)
	b.flagList(s)
	b.defectList(s)
	b.noteList(s)
	b.fileList(s)
	if len(b.doc.Plant) == 0 {
		return
	}
	s.Gap(8)
	s.Heading("Nameplate data that predictions rest on")
	for _, p := range b.doc.Plant {
		s.Add(grid.Across(1, 2, p[0], grid.FaceCell), grid.Across(3, 8, p[1], grid.FaceCell))
	}
}

func (b *book) holdList(s *grid.Sheet) {
	s.Gap(4)
	s.Heading("Hold points")
	if len(b.doc.Holds) == 0 {
		s.Add(grid.Across(1, 8, "none in the plan", grid.FaceCell))
	}
	for _, h := range b.doc.Holds {
		s.Add(grid.Across(1, 2, h.ID, grid.FaceCell), grid.Across(3, 5, h.Action, grid.FaceCell), grid.Across(6, 8, report.HoldWords(h), grid.FaceCell))
		waits := "waits for "
		if h.Taken != "" {
			waits = "waited for "
		}
		for _, g := range h.Open {
			if g.Check == "" { // a step or a rule: no verdict
				s.Add(grid.Across(1, 2, nil, grid.FaceCell), grid.Across(3, 5, waits+g.Name()+", "+g.Title, grid.FaceCell), grid.Across(6, 8, g.Words(), grid.FaceCell))
				continue
			}
			s.Add(grid.Across(1, 2, nil, grid.FaceCell), grid.Across(3, 4, waits+g.Check+", "+g.Title, grid.FaceCell), grid.Verdict(5, 5, g.Verdict).As(grid.Named("hold", h.ID, g.Check)), grid.Across(6, 8, g.Words(), grid.FaceCell))
		}
	}
}

// stepList is a plain log of the steps that are no hold points.
func (b *book) stepList(s *grid.Sheet) {
	if len(b.doc.Steps) == 0 {
		return
	}
	s.Gap(8)
	s.Heading("Steps")
	for _, st := range b.doc.Steps {
		l := grid.FaceCell
		l.Bold = !st.Done
		action := st.Action
		if st.Section != "" {
			action += " (section " + st.Section + ")"
		}
		s.Add(grid.Across(1, 2, st.ID, grid.FaceCell), grid.Across(3, 5, action, grid.FaceCell), grid.Across(6, 8, st.Words, l))
	}
	if len(b.doc.State) == 0 {
		return
	}
	s.Gap(8)
	s.Heading("The plant, as the steps recorded leave it")
	for _, line := range b.doc.State {
		s.Add(grid.Across(1, 8, line, grid.FaceCell))
	}
}

// registers lists what went out and came back: keys, locks, safety documents, earths.
func (b *book) registers(s *grid.Sheet) {
	for _, r := range b.doc.Registers {
		s.Gap(8)
		s.Heading(r.Title())
		s.Columns(grid.Across(1, 2, "number", grid.Look{}), grid.At(3, "where", grid.Look{}), grid.At(4, r.Out, grid.Look{}), grid.At(5, "by", grid.Look{}), grid.At(6, r.In, grid.Look{}), grid.Across(7, 8, "by", grid.Look{}))
		for _, w := range r.Rows {
			s.Add(grid.Across(1, 2, w.Number, grid.FaceCell), grid.At(3, w.Where, grid.FaceCell), grid.At(4, w.OutAt, grid.FaceCell), grid.At(5, w.OutBy, grid.FaceCell),
				grid.At(6, report.JoinWords(w.Cleared, w.InAt), grid.FaceCell), grid.Across(7, 8, w.InBy, grid.FaceCell))
		}
	}
}

func (b *book) flagList(s *grid.Sheet) {
	s.Gap(8)
	s.Heading("Flags: what an engineer should look at")
	if len(b.doc.Flags) == 0 {
		s.Add(grid.Across(1, 8, "none", grid.FaceCell))
		return
	}
	s.Columns(grid.At(1, "entry", grid.Look{}), grid.At(2, "check", grid.Look{}), grid.At(3, "about", grid.Look{}), grid.Across(4, 6, "flag", grid.Look{}), grid.Across(7, 8, "state", grid.Look{}))
	for _, f := range b.doc.Flags {
		state, l := "closed", grid.FaceCell
		if f.Open {
			state, l.Bold = "OPEN", true
		}
		s.Add(grid.Whole(1, f.Seq), grid.At(2, f.Check, grid.FaceCell), grid.At(3, f.What, grid.FaceCell), grid.Across(4, 6, f.Text, grid.FaceCell), grid.Across(7, 8, state, l))
	}
}

// amendmentList lists what was changed in the plan during the job, and what that took out
// of it.
func (b *book) amendmentList(s *grid.Sheet) {
	if len(b.doc.Amendments) == 0 {
		return
	}
	s.Gap(8)
	s.Heading("Amendments of the plan")
	s.Add(grid.Across(1, 2, "as opened", grid.FaceCell), grid.Across(3, 8, b.doc.PlanFile+", SHA-256 "+b.doc.PlanHash, grid.FaceCell))
	for _, a := range b.doc.Amendments {
		l := grid.FaceCell
		l.Bold = a.Open
		s.Add(grid.Across(1, 2, fmt.Sprintf("entry %d", a.Entry), grid.FaceCell), grid.Across(3, 5, a.By+", "+a.When+": "+a.Why, grid.FaceCell), grid.Across(6, 8, a.Accepted, l))
		s.Add(grid.Across(1, 2, "as amended", grid.FaceCell), grid.Across(3, 8, a.File+", SHA-256 "+a.Hash, grid.FaceCell))
		for _, d := range a.Differs {
			s.Add(grid.Across(1, 2, "differs", grid.FaceCell), grid.Across(3, 8, d, grid.FaceCell))
		}
	}
	if len(b.doc.TakenOut) == 0 {
		return
	}
	s.Gap(8)
	s.Heading("Taken out of the plan")
	for _, c := range b.doc.TakenOut {
		s.Add(grid.Across(1, 2, c.Check, grid.FaceCell), grid.Across(3, 8, fmt.Sprintf("%s (%s), taken out by entry %d", c.Title, c.Kind, c.Entry), grid.FaceCell))
		for _, text := range c.Attempts {
			s.Add(grid.Across(1, 2, nil, grid.FaceCell), grid.Across(3, 8, text, grid.FaceCell))
		}
	}
}

// defectList lists every defect of the job, open or closed.
func (b *book) defectList(s *grid.Sheet) {
	if len(b.doc.Defects) == 0 {
		return
	}
	s.Gap(8)
	s.Heading("Defects")
	s.Columns(grid.At(1, "number", grid.Look{}), grid.At(2, "raised by", grid.Look{}), grid.At(3, "when", grid.Look{}), grid.Across(4, 5, "what", grid.Look{}), grid.Across(6, 8, "state", grid.Look{}))
	for _, d := range b.doc.Defects {
		l := grid.FaceCell
		l.Bold = d.Open
		s.Add(grid.Whole(1, d.Number), grid.At(2, d.By, grid.FaceCell), grid.At(3, d.When, grid.FaceCell), grid.Across(4, 5, d.Words, grid.FaceCell), grid.Across(6, 8, d.State, l))
	}
}

func (b *book) noteList(s *grid.Sheet) {
	s.Gap(8)
	s.Heading("Notes")
	if len(b.doc.Notes) == 0 {
		s.Add(grid.Across(1, 8, "none", grid.FaceCell))
		return
	}
	s.Columns(grid.At(1, "entry", grid.Look{}), grid.At(2, "check", grid.Look{}), grid.At(3, "by", grid.Look{}), grid.At(4, "when", grid.Look{}), grid.Across(5, 8, "words", grid.Look{}))
	for _, n := range b.doc.Notes {
		s.Add(grid.Whole(1, n.Entry), grid.At(2, n.Check, grid.FaceCell), grid.At(3, n.By, grid.FaceCell), grid.At(4, n.When, grid.FaceCell), grid.Across(5, 8, n.Text, grid.FaceCell))
	}
}

// fileList lists what was attached; the files themselves are in the record and the bag.
func (b *book) fileList(s *grid.Sheet) {
	if len(b.doc.Attachments) == 0 {
		return
	}
	s.Gap(8)
	s.Heading("Attachments")
	s.Columns(grid.At(1, "entry", grid.Look{}), grid.At(2, "check", grid.Look{}), grid.At(3, "by", grid.Look{}), grid.At(4, "when", grid.Look{}), grid.Across(5, 8, "caption, file, SHA-256", grid.Look{}))
	for _, a := range b.doc.Attachments {
		a.Remark = "" // it is about showing the picture
		s.Add(grid.Whole(1, a.Entry), grid.At(2, a.Check, grid.FaceCell), grid.At(3, a.By, grid.FaceCell), grid.At(4, a.When, grid.FaceCell), grid.Across(5, 8, a.Caption+"\n"+a.Words()+"\n"+a.SHA256, grid.FaceCell))
	}
}

// instruments lays out each instrument with its calibration and where it was used.
func (b *book) instruments(s *grid.Sheet) {
	s.Landscape, s.Repeat = true, 2
	s.Widths = []float64{10, 24, 14, 16, 11, 9, 39, 21, 9}
	s.Add(grid.Across(1, 6, "Instruments", grid.Look{Size: 14, Bold: true}), grid.Across(7, 9, "job "+b.doc.Job, grid.Look{Size: 10, Bold: true, Align: "right"}))
	s.Columns(grid.At(1, "id", grid.Look{}), grid.At(2, "instrument", grid.Look{}), grid.At(3, "serial", grid.Look{}), grid.At(4, "certificate", grid.Look{}), grid.At(5, "due", grid.Look{}),
		grid.At(6, "category", grid.Look{}), grid.At(7, "ranges and accuracy", grid.Look{}), grid.At(8, "used in", grid.Look{}), grid.At(9, "in date", grid.Look{}))
	if len(b.doc.Instruments) == 0 {
		s.Add(grid.Across(1, 9, "none in the plan", grid.FaceCell))
	}
	for _, m := range b.doc.Instruments {
		used, inDate := "not used", grid.FaceCell
		if len(m.UsedIn) > 0 {
			used = strings.Join(m.UsedIn, ", ")
		}
		word := m.InDate
		if word == "no" {
			word, inDate = "NO", grid.VerdictLook(checks.Fail)
		}
		s.Add(grid.At(1, m.ID, grid.FaceCell), grid.At(2, m.Name, grid.FaceCell), grid.At(3, m.Serial, grid.FaceCell), grid.At(4, m.Certificate, grid.FaceCell), grid.At(5, m.DueText, grid.FaceCell),
			grid.At(6, m.Category, grid.FaceCell), grid.At(7, strings.Join(m.Accuracy, "\n"), grid.FaceCell), grid.At(8, used, grid.FaceCell), grid.At(9, word, inDate))
	}
}

// entries lays out the log, hash by hash.
func (b *book) entries(s *grid.Sheet) {
	s.Landscape, s.Repeat = true, 2
	s.Widths = []float64{6, 15, 17, 9, 14, 54, 37}
	s.Add(grid.Across(1, 5, "Entries", grid.Look{Size: 14, Bold: true}), grid.Across(6, 7, "job "+b.doc.Job, grid.Look{Size: 10, Bold: true, Align: "right"}))
	s.Columns(grid.At(1, "entry", grid.Look{}), grid.At(2, "when", grid.Look{}), grid.At(3, "by", grid.Look{}), grid.At(4, "kind", grid.Look{}), grid.At(5, "check", grid.Look{}), grid.At(6, "what", grid.Look{}), grid.At(7, "SHA-256 of the entry", grid.Look{}))
	for _, l := range b.doc.Log {
		s.Add(grid.Whole(1, l.Seq), grid.At(2, l.When, grid.FaceCell), grid.At(3, l.By, grid.FaceCell), grid.At(4, l.Kind, grid.FaceCell), grid.At(5, l.Check, grid.FaceCell), grid.At(6, l.Text, grid.FaceCell), grid.At(7, l.Hash, grid.FaceHash))
	}
}
