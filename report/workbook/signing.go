package workbook

import (
	"strconv"
	"strings"

	"handback/report"
	"handback/report/certificate"
	"handback/report/grid"
)

// boxColumns are the columns of the signature boxes beside one another.
var boxColumns = [][2]int{{1, certTitle}, {certDecided, certValue}, {certLimit, certPrinted}}

// penRoom is how high the place for a signature by pen is, in points.
const penRoom = 26

// certBoxes lays out where people sign, three boxes beside one another: by key, or by pen
// in the room that is left.
func (b *book) certBoxes(s *grid.Sheet) {
	certSection(s, "Signatures")
	all := certificate.Boxes(b.doc)
	for first := 0; first < len(all); first += len(boxColumns) {
		part := all[first:min(first+len(boxColumns), len(all))]
		var acts, means, people, pens []grid.Box
		for i, x := range part {
			from, to := boxColumns[i][0], boxColumns[i][1]
			acts = append(acts, tight(grid.Across(from, to, x.Act, grid.FaceColumn)))
			means = append(means, grid.Across(from, to, b.Label(x.Means), faceTight))
			people = append(people, grid.Across(from, to, b.signers(x), faceTight))
			pens = append(pens, grid.Across(from, to, b.Label("name, date and signature by pen:"), faceTight))
		}
		s.Add(acts...)
		s.Add(means...)
		s.Add(people...)
		row := s.Add(pens...)
		s.Rows[row-1].Height += penRoom
	}
	for _, g := range b.doc.Signatures {
		text := g.Words + "; " + b.Label("key %s", g.Key)
		if g.Doubt != "" {
			text += "; " + b.Label("NOT SHOWN TO BE GOOD: %s", g.Doubt)
		}
		says(s, b.Label("by key, %s", g.Role), text)
	}
}

// signers names who may sign in a box, with what was signed by key.
func (b *book) signers(x certificate.Box) string {
	var out []string
	for _, p := range x.People {
		text := p.Name + ", " + p.Role
		if p.Firm != "" {
			text += ", " + p.Firm
		}
		switch {
		case p.Signed != "" && p.Doubt != "":
			text += ": " + p.Signed + ", " + b.Label("NOT SHOWN TO BE GOOD")
		case p.Signed != "":
			text += ": " + p.Signed
		}
		out = append(out, text)
	}
	if len(out) == 0 {
		return b.Label("nobody named in the plan")
	}
	return strings.Join(out, "\n")
}

// Room of the square code: columns to its right end, rows and pixels.
const (
	codeColumn = certMargin
	codePixels = 104
)

// certRecord tells which record the certificate shows, and ends it.
func (b *book) certRecord(s *grid.Sheet) error {
	d := b.doc
	certSection(s, "Record")
	top := len(s.Rows) + 1
	mono := grid.Look{Size: 8, Mono: true, Snug: true}
	say := func(label string, value grid.Box) {
		s.Add(grid.Across(1, certLabel, s.Label(label), faceCertLabel), value)
	}
	text := func(words string, l grid.Look) grid.Box { return grid.Across(certTitle, certLimit, words, l) }
	say("head hash", text(d.Head, mono).As(grid.Named("head")))
	say("data SHA-256", text(d.Digest, mono).As(grid.Named("digest")))
	say("plan SHA-256", text(d.PlanHash, mono))
	say("entries", text(strconv.Itoa(d.Entries), faceCertText).As(grid.Named("entries")))
	say("made with", text(d.Program, faceCertText))
	say("what it is", text(b.Label("The signed record of the job is what counts; this workbook shows it. The head hash is that of its newest entry: compare it with the record before you rely on either."), faceCertText))
	code, err := certificate.Code(d)
	if err != nil {
		return err
	}
	s.Pictures = append(s.Pictures, grid.PlacedPicture{At: grid.Cell{Sheet: s.Name, Row: top, Col: codeColumn}, Pixels: codePixels, Picture: code,
		Caption: b.Label("square code with job, entries, head hash and data SHA-256 as printed beside it")})
	s.Gap(8)
	s.Add(grid.Across(1, certPrinted, report.Deferral, grid.Look{Size: 9, Bold: true, Border: "thin"}))
	s.Add(grid.Across(1, certPrinted, b.Label("End of the certificate of job %s. Test sheets and log follow.", d.Job), grid.Look{Size: 8, Bold: true, Align: "center"}))
	return nil
}
