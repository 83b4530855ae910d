package report

import (
	"fmt"
	"math"

	"github.com/xuri/excelize/v2"

	"handback/records/chain"
)

// Room for one picture on its sheet: so many plain rows, so many pixels wide.
const (
	pictureRows = 22
	pictureWide = 640.0
)

// placedPicture is a picture over the rows from its cell on.
type placedPicture struct {
	at      Cell
	caption string
	picture *Picture
}

// pictures makes the sheet of attached pictures, each with its caption and the hash
// of its file; nil when none is attached. Its words hang on the record alone, so
// that they are the same where the files are not at hand and nothing is drawn.
func (b *book) pictures() *sheet {
	var shown []AttachmentLine
	for _, a := range b.doc.Attachments {
		if a.Type == chain.TypeJPEG || a.Type == chain.TypePNG {
			shown = append(shown, a)
		}
	}
	if len(shown) == 0 {
		return nil
	}
	s := b.sheet("Pictures")
	s.repeat = 1
	s.widths = []float64{14, 14, 14, 14, 14, 14, 14}
	s.add(across(1, 5, "Pictures", look{size: 14, bold: true}), across(6, 7, "job "+b.doc.Job, look{size: 10, bold: true, align: "right"}))
	room := maxPictures
	for _, a := range shown {
		s.block()
		s.heading(a.Caption)
		place := "the job as a whole"
		if a.Check != "" {
			place = a.Check + ", " + a.Title
		}
		a.Remark = "" // it is about showing the picture
		s.said("of", place)
		s.said("attached", fmt.Sprintf("entry %d, %s, %s", a.Entry, a.By, a.When))
		s.said("file", a.Words())
		s.said("SHA-256", a.SHA256)
		at := Cell{s.name, len(s.rows) + 1, 1}
		for range pictureRows {
			s.gap(15)
		}
		if a.Picture != nil && len(a.Picture.Content) <= room {
			room -= len(a.Picture.Content)
			s.pictures = append(s.pictures, placedPicture{at, a.Caption, a.Picture})
		}
	}
	return s
}

// draw puts the pictures into the workbook, made smaller to fit, never larger.
func (s *sheet) draw() error {
	for _, p := range s.pictures {
		scale := math.Min(1, math.Min(pictureWide/float64(p.picture.Width), float64(rowsHigh(pictureRows-1))/float64(p.picture.Height)))
		ext := map[string]string{chain.TypeJPEG: ".jpg", chain.TypePNG: ".png"}[p.picture.Type]
		err := s.book.file.AddPictureFromBytes(s.name, p.at.Name(), &excelize.Picture{Extension: ext, File: p.picture.Content,
			Format: &excelize.GraphicOptions{AltText: plain(p.caption), ScaleX: scale, ScaleY: scale, Positioning: "oneCell"}})
		if err != nil {
			return fmt.Errorf("sheet %s, picture at %s: %w", s.name, p.at.Name(), err)
		}
	}
	return nil
}
