package switching

import (
	"slices"
	"strings"
	"time"

	"handback/checks/plan"
	"handback/report/grid"
)

// Columns of the sheet.
const (
	colNumber = iota + 1
	colWhat
	colSection
	colWith
	colInstructed
	colDone
	colConfirmed
	colTime
)

// Workbook is the list of switching as a workbook of one sheet, to fill in on a tablet or
// by hand on paper. Equal plans and times give equal bytes.
func Workbook(p *plan.Plan, made time.Time) ([]byte, error) {
	b := grid.NewBook("List of switching: "+p.Title, "list of switching, plan "+p.ID, made)
	defer b.Close()
	s := b.Sheet("Switching")
	s.Landscape = true
	s.Widths = []float64{5, 52, 9, 16, 14, 14, 14, 10}
	s.Add(grid.Across(colNumber, colTime, "List of switching", grid.FaceTitle))
	s.Add(grid.Across(colNumber, colTime, p.Title, grid.Look{Size: 12, Bold: true}))
	for _, h := range head(p) {
		if h[1] != "" {
			s.Add(grid.Across(colNumber, colTime, h[0]+h[1], grid.FaceText))
		}
	}
	s.Add(grid.Across(colNumber, colTime, Caution, grid.Look{Size: 9, Bold: true, Border: "thin"}))
	s.Gap(6)
	s.Columns(grid.At(colNumber, "no.", grid.Look{}), grid.At(colWhat, "step, or check in its place", grid.Look{}), grid.At(colSection, "section", grid.Look{}),
		grid.At(colWith, "lock, key, document", grid.Look{}), grid.At(colInstructed, "instructed", grid.Look{}), grid.At(colDone, "done", grid.Look{}),
		grid.At(colConfirmed, "confirmed", grid.Look{}), grid.At(colTime, "time", grid.Look{}))
	for _, r := range rows(p) {
		s.Block()
		r.lay(s)
	}
	if left := Left(p); len(left) > 0 {
		s.Gap(6)
		for _, words := range left {
			s.Add(grid.Across(colNumber, colTime, words, grid.FaceStop))
		}
	}
	b.Sheets = []*grid.Sheet{s}
	return b.Bytes()
}

// lay lays out a row: the hold above it, then step and cells to fill, then what follows.
func (r row) lay(s *grid.Sheet) {
	if r.hold != "" {
		s.Add(grid.At(colNumber, nil, grid.FaceStop), grid.Across(colWhat, colTime, r.hold, grid.FaceStop))
	}
	cell := grid.FaceCell
	fill := cell
	fill.Format, fill.Open = "@", true // a spreadsheet keeps what is typed as it is
	boxes := []grid.Box{grid.Whole(colNumber, r.number), grid.At(colWhat, r.what, cell)}
	if r.step {
		confirmed := fill
		var second any
		if r.second {
			confirmed.Border, second = "medium", "second person:"
		}
		boxes = append(boxes, grid.At(colSection, strings.TrimPrefix(r.more[0], "section "), cell), grid.At(colWith, r.with, cell),
			grid.At(colInstructed, nil, fill), grid.At(colDone, nil, fill), grid.At(colConfirmed, second, confirmed), grid.At(colTime, nil, fill))
	} else {
		boxes = append(boxes, grid.At(colSection, nil, cell), grid.At(colWith, "result", cell), grid.Across(colInstructed, colConfirmed, nil, fill), grid.At(colTime, nil, fill))
	}
	s.Add(boxes...)
	for _, line := range slices.Concat(r.more[1:], r.facts) {
		if line != "" {
			s.Add(grid.At(colNumber, nil, grid.FaceSmall), grid.Across(colWhat, colTime, line, grid.FaceSmall))
		}
	}
}
