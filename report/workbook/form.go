package workbook

import "handback/report/grid"

// A logo stands over so many plain rows, in a box of so many pixels.
const (
	logoRows           = 4
	logoWide, logoHigh = 300.0, 56.0
)

// formHead lays out the owner's logo, heading and form number at the top of the first sheet.
func (b *book) formHead(s *grid.Sheet, columns int) {
	f := b.doc.Form
	if f.Logo != nil {
		wide, high := float64(f.Logo.Width), float64(f.Logo.Height)
		scale := min(1, logoWide/wide, logoHigh/high)
		s.Pictures = append(s.Pictures, grid.PlacedPicture{At: grid.Cell{Sheet: s.Name, Row: len(s.Rows) + 1, Col: 1}, Caption: b.Label("logo"), Picture: f.Logo, Pixels: max(1, int(scale*wide))})
		for range logoRows {
			s.Gap(15)
		}
	}
	if f.Heading+f.Number != "" {
		s.Add(grid.Across(1, columns-3, f.Heading, grid.Look{Size: 11, Bold: true}), grid.Across(columns-2, columns, f.Number, grid.Look{Size: 9, Align: "right"}))
	}
}
