package workbook

import (
	"handback/report/grid"
	"handback/report/oneline"
)

// How a bar and a device are framed, so that their state is read without colour.
var plantLooks = map[oneline.Look]grid.Look{
	oneline.Thick:  {Size: 9, Bold: true, Border: "thick", Middle: true},
	oneline.Thin:   {Size: 9, Border: "thin", Middle: true},
	oneline.Dashed: {Size: 9, Border: "dashed", Middle: true},
	oneline.Whole:  {Size: 9, Border: "thin", Middle: true},
	oneline.Gap:    {Size: 9, Border: "dotted", Middle: true},
	oneline.Away:   {Size: 9, Border: "double", Middle: true},
}

// plantColumn is how wide a column of the diagram is on a sheet of its own, in digits of the
// standard type.
const plantColumn = 26.0

// plantSheet is the diagram on a sheet of its own, where it is too wide for the log; nil
// where it is not, or where the plan has no network.
func (b *book) plantSheet() *grid.Sheet {
	p := b.doc.Picture
	if p == nil || p.Columns <= logColumns/3 {
		return nil
	}
	s := b.Sheet("Plant")
	s.Landscape, s.OnePage = true, true
	for range p.Columns {
		s.Widths = append(s.Widths, plantColumn)
	}
	b.plant(s, 1)
	return s
}

// plant lays the state of the plant out as a one-line diagram of cells: a row of bars a
// level, across the columns that hang from each, and below it a row of what joins them.
// Each column of the diagram takes so many of the sheet's.
func (b *book) plant(s *grid.Sheet, wide int) {
	p := b.doc.Picture
	across := func(from, to int, text string, l grid.Look) grid.Box {
		l.Size, l.Snug = 8, true
		return grid.Across(from*wide+1, (to+1)*wide, text, l)
	}
	s.Add(grid.Across(1, len(s.Widths), b.Label("State of the plant, as the steps recorded leave it"), grid.Look{Size: 10, Bold: true}))
	s.Add(grid.Across(1, len(s.Widths), b.Label("Bars: thick frame live, thin not live, dashed not known. Devices: thin frame closed, dotted open, double withdrawn or in the test position."), grid.FaceSmall))
	for level := range p.Levels {
		var bars, links []grid.Box
		below := map[int]string{}
		looks := map[int]grid.Look{}
		for i, bar := range p.Bars {
			if bar.Level == level {
				bars = append(bars, across(bar.Left, bar.Right, plantText(p.OfBars[i], ""), plantLooks[p.OfBars[i].Look]))
			}
		}
		for i, k := range p.Links {
			if p.Bars[k.Upper].Level != level {
				continue
			}
			joins := ""
			if k.Lower >= 0 {
				joins = b.Label("%s to %s", p.OfBars[k.Upper].Name, p.OfBars[k.Lower].Name)
			}
			text := plantText(p.OfLinks[i], joins)
			if k.Next {
				bars = append(bars, across(k.Column, k.Column, text, plantLooks[p.OfLinks[i].Look]))
				continue
			}
			if below[k.Column] != "" {
				text = below[k.Column] + "\n" + text
			}
			below[k.Column], looks[k.Column] = text, plantLooks[p.OfLinks[i].Look]
		}
		for column := range p.Columns {
			if below[column] != "" {
				links = append(links, across(column, column, below[column], looks[column]))
			}
		}
		s.Gap(4)
		s.Add(bars...)
		if len(links) > 0 {
			s.Gap(4)
			s.Add(links...)
		}
	}
}

// plantText is what stands in a cell: the name, what it joins, and the state.
func plantText(x oneline.Said, joins string) string {
	text := x.Name
	if joins != "" {
		text += " (" + joins + ")"
	}
	if x.State != "" {
		text += ": " + x.State
	}
	return text
}
