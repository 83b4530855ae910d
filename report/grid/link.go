package grid

// linkTo leads from a cell to another.
type linkTo struct{ from, to Cell }

// Link lets a person go from a cell to another one of the workbook. The cell it starts
// from is laid out already; where it leads may be laid out later. It is underlined, and
// best no cell to fill in.
func (b *Book) Link(from, to Cell) {
	s := b.made[from.Sheet]
	if s.leads == nil {
		s.leads = map[int][]int{}
	}
	s.leads[from.Row] = append(s.leads[from.Row], from.Col)
	s.links = append(s.links, linkTo{from, to})
}

// lead writes the links of a sheet.
func (s *Sheet) lead() error {
	for _, l := range s.links {
		if err := s.book.File.SetCellHyperLink(s.Name, l.from.Name(), l.to.Ref(), "Location"); err != nil {
			return err
		}
	}
	return nil
}
