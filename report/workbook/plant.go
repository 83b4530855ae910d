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

// plantColumn is how wide a column of the diagram is, in digits of the standard type.
const plantColumn = 26.0

// plant lays the state of the plant out as a one-line diagram of cells: a row of bars a
// level, across the columns that hang from each, and below it a row of what joins them;
// nil where the plan has no network.
func (b *book) plant() *grid.Sheet {
	p := b.doc.Picture
	if p == nil || len(p.Bars) == 0 {
		return nil
	}
	s := b.Sheet("Plant")
	s.Landscape, s.OnePage = true, true
	for range p.Columns {
		s.Widths = append(s.Widths, plantColumn)
	}
	s.Add(grid.Across(1, p.Columns, "State of the plant, as the steps recorded leave it: job "+b.doc.Job, grid.Look{Size: 14, Bold: true}))
	s.Add(grid.Across(1, p.Columns, "Bars: thick frame live, thin not live, dashed not known. Devices: thin frame closed, dotted open, double withdrawn or in the test position.", grid.Look{Size: 9}))
	for level := range p.Levels {
		var bars, links []grid.Box
		below := map[int]string{}
		looks := map[int]grid.Look{}
		for i, bar := range p.Bars {
			if bar.Level == level {
				bars = append(bars, grid.Across(bar.Left+1, bar.Right+1, plantText(p.OfBars[i], ""), plantLooks[p.OfBars[i].Look]))
			}
		}
		for i, k := range p.Links {
			if p.Bars[k.Upper].Level != level {
				continue
			}
			joins := ""
			if k.Lower >= 0 {
				joins = p.OfBars[k.Upper].Name + " to " + p.OfBars[k.Lower].Name
			}
			text := plantText(p.OfLinks[i], joins)
			if k.Next {
				bars = append(bars, grid.At(k.Column+1, text, plantLooks[p.OfLinks[i].Look]))
				continue
			}
			if below[k.Column] != "" {
				text = below[k.Column] + "\n" + text
			}
			below[k.Column], looks[k.Column] = text, plantLooks[p.OfLinks[i].Look]
		}
		for column := range p.Columns {
			if below[column] != "" {
				links = append(links, grid.At(column+1, below[column], looks[column]))
			}
		}
		s.Gap(8)
		s.Add(bars...)
		if len(links) > 0 {
			s.Gap(8)
			s.Add(links...)
		}
	}
	return s
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
