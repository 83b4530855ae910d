package workbook

import "handback/report/grid"

// logoRows is how many plain rows a logo stands over.
const logoRows = 4

// formHead lays out the owner's logo, heading and form number at the top of the first sheet.
func (b *book) formHead(s *grid.Sheet) {
	f, wide := b.doc.Form, len(s.Widths)
	if f.Logo != nil {
		s.Pictures = append(s.Pictures, grid.PlacedPicture{At: grid.Cell{Sheet: s.Name, Row: len(s.Rows) + 1, Col: 1}, Caption: b.Label("logo"), Picture: f.Logo, Rows: logoRows})
		for range logoRows {
			s.Gap(15)
		}
	}
	if f.Heading+f.Number != "" {
		s.Add(grid.Across(1, wide-2, f.Heading, grid.Look{Size: 11, Bold: true}), grid.Across(wide-1, wide, f.Number, grid.Look{Size: 9, Align: "right"}))
	}
}
