package workbook

import (
	"slices"
	"strings"

	"handback/report"
	"handback/report/grid"
)

// Annexes stand in the workbook and are not printed: whoever doubts a page finds there
// how it came about.

// annex begins a sheet that is not printed, with its title and columns of these widths.
func (b *book) annex(s *grid.Sheet, title string, widths ...float64) {
	s.Landscape, s.Unprinted, s.Widths = true, true, widths
	last := len(widths)
	s.Add(grid.Across(1, last-1, b.Label(title), grid.Look{Size: 14, Bold: true}), grid.At(last, b.Label("job %s", b.doc.Job), grid.Look{Size: 10, Bold: true, Align: "right"}))
}

// method says once for every kind of check what it shows, how it is judged, by which
// sources, and of what to beware.
func (b *book) method(s *grid.Sheet) {
	b.annex(s, "Method: what each kind of check shows and how it is judged", 22, 60, 60)
	s.Said("decision rule", b.doc.Rule)
	var kinds []string
	for _, p := range b.pages {
		if slices.Contains(kinds, p.Kind) {
			continue
		}
		kinds = append(kinds, p.Kind)
		var of []string
		for _, x := range b.pages {
			if x.Kind == p.Kind {
				of = append(of, x.ID)
			}
		}
		s.Block()
		s.Gap(6)
		s.HeadingOf(p.Kind)
		s.Said("checks", strings.Join(of, ", "))
		s.Said("shows", report.OneLine(p.Shows))
		s.Said("how judged", report.OneLine(p.How))
		s.Said("sources", strings.Join(p.Sources, "; "))
		for _, c := range p.Cautions {
			s.Said("CAUTION", c)
		}
	}
}

// plan is the plan as the job was opened with it, line by line, and where it was amended
// the versions that followed.
func (b *book) plan(s *grid.Sheet) {
	b.annex(s, b.Label("Plan as opened: file %s, SHA-256 %s", b.doc.PlanFile, b.doc.PlanHash), 6, 130, 18)
	number, line := faceTight, grid.Look{Size: 8, Mono: true, Flat: true}
	number.Align = "right"
	for i, text := range strings.Split(strings.TrimRight(b.doc.PlanText, "\n"), "\n") {
		s.Add(grid.At(1, i+1, number), grid.At(2, text, line))
	}
	for _, a := range b.doc.Amendments {
		s.Gap(6)
		s.HeadingOf(b.Label("Amended by entry %d, %s, %s: file %s, SHA-256 %s", a.Entry, a.By, a.When, a.File, a.Hash))
		for _, d := range a.Differs {
			s.Add(grid.Across(2, 3, d, faceCertText))
		}
	}
}
