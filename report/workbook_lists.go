package report

import (
	"strings"

	"handback/checks"
)

// results lays out every check in a line.
func (b *book) results(s *sheet) {
	s.landscape, s.repeat = true, 2
	s.widths = []float64{5, 16, 28, 18, 17, 42, 9, 7, 11, 14}
	s.add(across(1, 5, "Results at a glance: "+b.doc.Title, look{size: 14, bold: true}), across(6, colRecorded, "job "+b.doc.Job, look{size: 10, bold: true, align: "right"}))
	s.columns(at(1, "no", look{}), at(2, "check", look{}), at(3, "title", look{}), at(4, "where", look{}), at(5, "verdict", look{}), at(6, "why", look{}), at(7, "attempts", look{}), at(8, "entry", look{}),
		at(colStands, "stands", look{}), at(colRecorded, "as recorded", look{}))
	s.flow()
	for i, p := range b.doc.Pages() {
		entry := 0
		for _, a := range p.Attempts {
			if a.Entry > 0 {
				entry = a.Entry
			}
		}
		row := s.add(whole(1, i+1), at(2, p.ID, faceCell), at(3, p.Title, faceCell), at(4, p.At, faceCell), verdict(colResult, colResult, p.Verdict).as(named("result", p.ID)),
			at(6, standing(p), faceCell), whole(7, len(p.Attempts)), whole(8, entry),
			at(colStands, stands(p.Hangs, p.Verdict), faceCell).as(named("stands", p.ID)), at(colRecorded, wordOf(p.Verdict), faceCell).as(named("recorded", p.ID)))
		c := Cell{s.name, row, colResult}
		b.layout.Results[p.ID] = c
		s.boxAt(c).formula = b.layout.Checks[p.ID].Ref()
		s.boxAt(c.In(colStands)).formula = b.standsFormula(p, c)
	}
	b.marks(s)
	b.shares(s)
}

// standing is why a check stands as it does, with what its verdict does not say.
func standing(p CheckPage) string {
	state := onlyIfMore(p.State, p.Verdict.String())
	if state == "" || p.Why == "" {
		return state + p.Why
	}
	return state + ": " + p.Why
}

// marks explains the boxes around verdicts.
func (b *book) marks(s *sheet) {
	s.gap(8)
	s.heading("What the verdicts mean")
	for _, m := range []struct {
		v     checks.Verdict
		words string
	}{
		{checks.Pass, "shown to be within every limit"},
		{checks.Inconclusive, "neither shown within nor shown beyond a limit, or a reading that cannot be right"},
		{checks.Fail, "shown to be beyond a limit, or a condition not met"},
		{checks.Missing, "something that must be answered was not"},
		{checks.Void, "the proof itself failed: nothing it said counts"},
	} {
		s.add(verdict(1, 2, m.v), across(3, colRecorded, m.words, faceCell))
	}
}

// flags lays out hold points, flags, notes and the data predictions rest on.
func (b *book) flags(s *sheet) {
	s.landscape, s.repeat = true, 1
	s.widths = []float64{9, 16, 24, 20, 17, 44, 9, 8}
	s.add(across(1, 5, "Hold points, flags and notes", look{size: 14, bold: true}), across(6, 8, "job "+b.doc.Job, look{size: 10, bold: true, align: "right"}))
	b.holdList(s)
	b.flagList(s)
	b.noteList(s)
	b.fileList(s)
	if len(b.doc.Plant) == 0 {
		return
	}
	s.gap(8)
	s.heading("Nameplate data that predictions rest on")
	for _, p := range b.doc.Plant {
		s.add(across(1, 2, p[0], faceCell), across(3, 8, p[1], faceCell))
	}
}

func (b *book) holdList(s *sheet) {
	s.gap(4)
	s.heading("Hold points")
	if len(b.doc.Holds) == 0 {
		s.add(across(1, 8, "none in the plan", faceCell))
	}
	for _, h := range b.doc.Holds {
		s.add(across(1, 2, h.ID, faceCell), across(3, 5, h.Action, faceCell), across(6, 8, holdWords(h), faceCell))
		waits := "waits for "
		if h.Taken != "" {
			waits = "waited for "
		}
		for _, g := range h.Open {
			s.add(across(1, 2, nil, faceCell), across(3, 4, waits+g.Check+", "+g.Title, faceCell), verdict(5, 5, g.Verdict).as(named("hold", h.ID, g.Check)), across(6, 8, g.words(), faceCell))
		}
	}
}

func (b *book) flagList(s *sheet) {
	s.gap(8)
	s.heading("Flags: what an engineer should look at")
	if len(b.doc.Flags) == 0 {
		s.add(across(1, 8, "none", faceCell))
		return
	}
	s.columns(at(1, "entry", look{}), at(2, "check", look{}), at(3, "about", look{}), across(4, 6, "flag", look{}), across(7, 8, "state", look{}))
	for _, f := range b.doc.Flags {
		state, l := "closed", faceCell
		if f.Open {
			state, l.bold = "OPEN", true
		}
		s.add(whole(1, f.Seq), at(2, f.Check, faceCell), at(3, f.What, faceCell), across(4, 6, f.Text, faceCell), across(7, 8, state, l))
	}
}

func (b *book) noteList(s *sheet) {
	s.gap(8)
	s.heading("Notes")
	if len(b.doc.Notes) == 0 {
		s.add(across(1, 8, "none", faceCell))
		return
	}
	s.columns(at(1, "entry", look{}), at(2, "check", look{}), at(3, "by", look{}), at(4, "when", look{}), across(5, 8, "words", look{}))
	for _, n := range b.doc.Notes {
		s.add(whole(1, n.Entry), at(2, n.Check, faceCell), at(3, n.By, faceCell), at(4, n.When, faceCell), across(5, 8, n.Text, faceCell))
	}
}

// fileList lists what was attached; the files themselves are in the record and the bag.
func (b *book) fileList(s *sheet) {
	if len(b.doc.Attachments) == 0 {
		return
	}
	s.gap(8)
	s.heading("Attachments")
	s.columns(at(1, "entry", look{}), at(2, "check", look{}), at(3, "by", look{}), at(4, "when", look{}), across(5, 8, "caption, file, SHA-256", look{}))
	for _, a := range b.doc.Attachments {
		a.Remark = "" // it is about showing the picture
		s.add(whole(1, a.Entry), at(2, a.Check, faceCell), at(3, a.By, faceCell), at(4, a.When, faceCell), across(5, 8, a.Caption+"\n"+a.Words()+"\n"+a.SHA256, faceCell))
	}
}

// instruments lays out each instrument with its calibration and where it was used.
func (b *book) instruments(s *sheet) {
	s.landscape, s.repeat = true, 2
	s.widths = []float64{10, 24, 14, 16, 11, 9, 39, 21, 9}
	s.add(across(1, 6, "Instruments", look{size: 14, bold: true}), across(7, 9, "job "+b.doc.Job, look{size: 10, bold: true, align: "right"}))
	s.columns(at(1, "id", look{}), at(2, "instrument", look{}), at(3, "serial", look{}), at(4, "certificate", look{}), at(5, "due", look{}),
		at(6, "category", look{}), at(7, "ranges and accuracy", look{}), at(8, "used in", look{}), at(9, "in date", look{}))
	if len(b.doc.Instruments) == 0 {
		s.add(across(1, 9, "none in the plan", faceCell))
	}
	for _, m := range b.doc.Instruments {
		used, inDate := "not used", faceCell
		if len(m.UsedIn) > 0 {
			used = strings.Join(m.UsedIn, ", ")
		}
		word := m.InDate
		if word == "no" {
			word, inDate = "NO", verdictLook(checks.Fail)
		}
		s.add(at(1, m.ID, faceCell), at(2, m.Name, faceCell), at(3, m.Serial, faceCell), at(4, m.Certificate, faceCell), at(5, m.DueText, faceCell),
			at(6, m.Category, faceCell), at(7, strings.Join(m.Accuracy, "\n"), faceCell), at(8, used, faceCell), at(9, word, inDate))
	}
}

// entries lays out the log, hash by hash.
func (b *book) entries(s *sheet) {
	s.landscape, s.repeat = true, 2
	s.widths = []float64{6, 15, 17, 9, 14, 54, 37}
	s.add(across(1, 5, "Entries", look{size: 14, bold: true}), across(6, 7, "job "+b.doc.Job, look{size: 10, bold: true, align: "right"}))
	s.columns(at(1, "entry", look{}), at(2, "when", look{}), at(3, "by", look{}), at(4, "kind", look{}), at(5, "check", look{}), at(6, "what", look{}), at(7, "SHA-256 of the entry", look{}))
	for _, l := range b.doc.Log {
		s.add(whole(1, l.Seq), at(2, l.When, faceCell), at(3, l.By, faceCell), at(4, l.Kind, faceCell), at(5, l.Check, faceCell), at(6, l.Text, faceCell), at(7, l.Hash, faceHash))
	}
}
