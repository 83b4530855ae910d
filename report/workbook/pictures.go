package workbook

import (
	"handback/records/chain"
	"handback/report"
	"handback/report/grid"
)

// pictures makes the sheet of attached pictures, each with its caption and the hash
// of its file; nil when none is attached. Its words hang on the record alone, so
// that they are the same where the files are not at hand and nothing is drawn.
func (b *book) pictures() *grid.Sheet {
	var shown []report.AttachmentLine
	for _, a := range b.doc.Attachments {
		if a.Type == chain.TypeJPEG || a.Type == chain.TypePNG {
			shown = append(shown, a)
		}
	}
	if len(shown) == 0 {
		return nil
	}
	s := b.Sheet("Pictures")
	s.Repeat, s.Unprinted = 1, true
	s.Widths = []float64{14, 14, 14, 14, 14, 14, 14}
	s.Add(grid.Across(1, 5, b.Label("Pictures"), grid.Look{Size: 14, Bold: true}), grid.Across(6, 7, b.Label("job %s", b.doc.Job), grid.Look{Size: 10, Bold: true, Align: "right"}))
	room := report.MaxPictures
	for _, a := range shown {
		s.Block()
		s.HeadingOf(a.Caption)
		place := b.Label("the job as a whole")
		if a.Check != "" {
			place = a.Check + ", " + a.Title
		}
		a.Remark = "" // it is about showing the picture
		s.Said("of", place)
		s.Said("attached", b.Label("entry %d, %s, %s", a.Entry, a.By, a.When))
		s.Said("file", a.Words())
		s.Said("SHA-256", a.SHA256)
		at := grid.Cell{Sheet: s.Name, Row: len(s.Rows) + 1, Col: 1}
		for range grid.PictureRows {
			s.Gap(15)
		}
		if a.Picture != nil && len(a.Picture.Content) <= room {
			room -= len(a.Picture.Content)
			s.Pictures = append(s.Pictures, grid.PlacedPicture{At: at, Caption: a.Caption, Picture: a.Picture})
		}
	}
	return s
}
