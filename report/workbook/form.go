package workbook

import "handback/report/grid"

// A logo stands over so many plain rows, in a box of so many pixels.
const (
	logoRows           = 4
	logoWide, logoHigh = 300.0, 56.0
)

// formHead lays out the owner's logo at the top of the first sheet; heading and form number
// stand at the head of every printed page.
func (b *book) formHead(s *grid.Sheet) {
	f := b.doc.Form
	if f.Logo != nil {
		wide, high := float64(f.Logo.Width), float64(f.Logo.Height)
		scale := min(1, logoWide/wide, logoHigh/high)
		s.Pictures = append(s.Pictures, grid.PlacedPicture{At: grid.Cell{Sheet: s.Name, Row: len(s.Rows) + 1, Col: 1}, Caption: b.Label("logo"), Picture: f.Logo, Pixels: max(1, int(scale*wide))})
		for range logoRows {
			s.Gap(15)
		}
	}
}
