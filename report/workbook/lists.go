package workbook

import (
	"strings"

	"handback/checks"
	"handback/report"
	"handback/report/grid"
)

// flags lays out hold points, flags, notes and the data predictions rest on.
func (b *book) flags(s *grid.Sheet) {
	b.annex(s, "Hold points, flags and notes", 9, 16, 24, 20, 17, 44, 9, 18)
	b.holdList(s)
	b.stateList(s)
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
		s.Add(grid.Across(1, 8, b.Label("none in the plan"), grid.FaceCell))
	}
	for _, h := range b.doc.Holds {
		s.Add(grid.Across(1, 2, h.ID, grid.FaceCell), grid.Across(3, 5, h.Action, grid.FaceCell), grid.Across(6, 8, report.HoldWords(h), grid.FaceCell))
		waits := b.Label("waits for") + " "
		if h.Taken != "" {
			waits = b.Label("waited for") + " "
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

// stateList is the plant in words.
func (b *book) stateList(s *grid.Sheet) {
	if len(b.doc.State) == 0 {
		return
	}
	s.Gap(8)
	s.Heading("The plant, as the steps recorded leave it")
	for _, line := range b.doc.State {
		s.Add(grid.Across(1, 8, line, grid.FaceCell))
	}
}

func (b *book) flagList(s *grid.Sheet) {
	s.Gap(8)
	s.Heading("Flags: what an engineer should look at")
	if len(b.doc.Flags) == 0 {
		s.Add(grid.Across(1, 8, b.Label("none"), grid.FaceCell))
		return
	}
	s.Columns(grid.At(1, "entry", grid.Look{}), grid.At(2, "check", grid.Look{}), grid.At(3, "about", grid.Look{}), grid.Across(4, 6, "flag", grid.Look{}), grid.Across(7, 8, "state", grid.Look{}))
	for _, f := range b.doc.Flags {
		state, l := b.Label("closed"), grid.FaceCell
		if f.Open {
			state, l.Bold = b.Label("OPEN"), true
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
	s.Add(grid.Across(1, 2, b.Label("as opened"), grid.FaceCell), grid.Across(3, 8, b.doc.PlanFile+", SHA-256 "+b.doc.PlanHash, grid.FaceCell))
	for _, a := range b.doc.Amendments {
		l := grid.FaceCell
		l.Bold = a.Open
		s.Add(grid.Across(1, 2, b.Label("entry %d", a.Entry), grid.FaceCell), grid.Across(3, 5, a.By+", "+a.When+": "+a.Why, grid.FaceCell), grid.Across(6, 8, a.Accepted, l))
		s.Add(grid.Across(1, 2, b.Label("as amended"), grid.FaceCell), grid.Across(3, 8, a.File+", SHA-256 "+a.Hash, grid.FaceCell))
		for _, d := range a.Differs {
			s.Add(grid.Across(1, 2, b.Label("differs"), grid.FaceCell), grid.Across(3, 8, d, grid.FaceCell))
		}
	}
	if len(b.doc.TakenOut) == 0 {
		return
	}
	s.Gap(8)
	s.Heading("Taken out of the plan")
	for _, c := range b.doc.TakenOut {
		s.Add(grid.Across(1, 2, c.Check, grid.FaceCell), grid.Across(3, 8, b.Label("%s (%s), taken out by entry %d", c.Title, c.Kind, c.Entry), grid.FaceCell))
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
		s.Add(grid.Across(1, 8, b.Label("none"), grid.FaceCell))
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
	b.annex(s, "Instruments", 10, 24, 14, 16, 11, 9, 39, 21, 15)
	s.Repeat = 2
	s.Columns(grid.At(1, "id", grid.Look{}), grid.At(2, "instrument", grid.Look{}), grid.At(3, "serial", grid.Look{}), grid.At(4, "certificate", grid.Look{}), grid.At(5, "due", grid.Look{}),
		grid.At(6, "category", grid.Look{}), grid.At(7, "ranges and accuracy", grid.Look{}), grid.At(8, "used in", grid.Look{}), grid.At(9, "in date", grid.Look{}))
	if len(b.doc.Instruments) == 0 {
		s.Add(grid.Across(1, 9, b.Label("none in the plan"), grid.FaceCell))
	}
	for _, m := range b.doc.Instruments {
		used, inDate := b.Label("not used"), grid.FaceCell
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
	b.annex(s, "Entries", 6, 15, 17, 9, 14, 54, 37)
	s.Repeat = 2
	s.Columns(grid.At(1, "entry", grid.Look{}), grid.At(2, "when", grid.Look{}), grid.At(3, "by", grid.Look{}), grid.At(4, "kind", grid.Look{}), grid.At(5, "check", grid.Look{}), grid.At(6, "what", grid.Look{}), grid.At(7, "SHA-256 of the entry", grid.Look{}))
	for _, l := range b.doc.Log {
		s.Add(grid.Whole(1, l.Seq), grid.At(2, l.When, grid.FaceCell), grid.At(3, l.By, grid.FaceCell), grid.At(4, l.Kind, grid.FaceCell), grid.At(5, l.Check, grid.FaceCell), grid.At(6, l.Text, grid.FaceCell), grid.At(7, l.Hash, grid.FaceHash))
	}
}
