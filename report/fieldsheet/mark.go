package fieldsheet

import (
	"fmt"
	"strconv"
	"strings"
	"time"

	"handback/report"
	"handback/report/grid"
)

// The marker sheet, column by column, all of it text:
//
//	handback field sheet   1                      format version
//	job                    pump-1
//	plan                   SHA-256 of the plan
//	entries                how many the job had when the sheet was made
//	head                   hash of the newest of them
//	made                   RFC 3339
//	lines                  how many follow
//	input    sheet cell check attempt key         one for every cell to fill in
//	printed  sheet cell text                      one for every other cell with words
//
// The printed ones show that a row was moved, or a reading put where none is asked.
const (
	markTitle   = "handback field sheet"
	markVersion = "1"
	markInput   = "input"
	markPrinted = "printed"
)

// marker is what a field sheet says of itself.
type marker struct {
	job, plan, head string
	entries         int
	made            time.Time
	inputs          []input
	printed         map[grid.Cell]string
}

// mark lays out the marker sheet.
func (b *fieldBook) mark(s *grid.Sheet, shown []*grid.Sheet) {
	s.Widths = []float64{22, 34, 10, 30, 10, 20}
	put := func(texts ...string) {
		var boxes []grid.Box
		for i, text := range texts {
			boxes = append(boxes, grid.At(i+1, text, grid.Look{Size: 9, Flat: true, Format: "@"}))
		}
		s.Put(13, boxes...)
	}
	var printed [][]string
	for _, sh := range shown {
		for i := range sh.Rows {
			for _, bx := range sh.Boxes(i + 1) {
				if text, ok := bx.Value.(string); ok && report.Flat(text) != "" {
					printed = append(printed, []string{markPrinted, sh.Name, grid.Cell{Sheet: sh.Name, Row: i + 1, Col: bx.Col}.Name(), text})
				}
			}
		}
	}
	put(markTitle, markVersion)
	put("job", b.doc.Job)
	put("plan", b.doc.Force)
	put("entries", strconv.Itoa(b.doc.Entries))
	put("head", b.doc.Head)
	put("made", b.now.Format(time.RFC3339))
	put("lines", strconv.Itoa(len(b.inputs)+len(printed)))
	for _, in := range b.inputs {
		put(markInput, in.Sheet, in.Name(), in.check, strconv.Itoa(in.attempt), in.key)
	}
	for _, p := range printed {
		put(p...)
	}
}

// readMark reads the marker sheet. The error says what of it cannot be so.
func readMark(cells map[grid.Cell]grid.FileCell) (*marker, error) {
	text := func(row, col int) string {
		return strings.TrimSpace(cells[grid.Cell{Sheet: markerSheet, Row: row, Col: col}].Text)
	}
	if text(1, 1) != markTitle {
		return nil, fmt.Errorf("its sheet %q does not begin with %q", markerSheet, markTitle)
	}
	if v := text(1, 2); v != markVersion {
		return nil, fmt.Errorf("it is a field sheet of format %q: this program reads format %s", v, markVersion)
	}
	m := &marker{job: text(2, 2), plan: text(3, 2), head: text(5, 2), printed: map[grid.Cell]string{}}
	for row, name := range map[int]string{2: "job", 3: "plan", 4: "entries", 5: "head", 6: "made", 7: "lines"} {
		if text(row, 1) != name {
			return nil, fmt.Errorf("%s: %q stands where %q must stand", grid.Cell{Sheet: markerSheet, Row: row, Col: 1}.Ref(), text(row, 1), name)
		}
	}
	var err error
	if m.entries, err = strconv.Atoi(text(4, 2)); err != nil || m.entries < 1 {
		return nil, fmt.Errorf("%s: %q is no number of entries", grid.Cell{Sheet: markerSheet, Row: 4, Col: 2}.Ref(), text(4, 2))
	}
	if m.made, err = time.Parse(time.RFC3339, text(6, 2)); err != nil {
		return nil, fmt.Errorf("%s: %q is no time", grid.Cell{Sheet: markerSheet, Row: 6, Col: 2}.Ref(), text(6, 2))
	}
	lines, err := strconv.Atoi(text(7, 2))
	if err != nil || lines < 1 || lines > grid.MaxRows {
		return nil, fmt.Errorf("%s: %q is no number of lines", grid.Cell{Sheet: markerSheet, Row: 7, Col: 2}.Ref(), text(7, 2))
	}
	taken := map[grid.Cell]bool{}
	for row := 8; row < 8+lines; row++ {
		where, ok := grid.CellNamed(text(row, 2), text(row, 3))
		if !ok || taken[where] {
			return nil, fmt.Errorf("%s: %q is no cell, or stands twice", grid.Cell{Sheet: markerSheet, Row: row, Col: 3}.Ref(), text(row, 3))
		}
		taken[where] = true
		switch text(row, 1) {
		case markPrinted:
			m.printed[where] = text(row, 4)
		case markInput:
			n, err := strconv.Atoi(text(row, 5))
			if err != nil || n < 1 || text(row, 4) == "" || text(row, 6) == "" {
				return nil, fmt.Errorf("%s: check, attempt and key are wanted", grid.Cell{Sheet: markerSheet, Row: row, Col: 4}.Ref())
			}
			m.inputs = append(m.inputs, input{where, text(row, 4), n, text(row, 6)})
		default:
			return nil, fmt.Errorf("%s: %q is neither %s nor %s", grid.Cell{Sheet: markerSheet, Row: row, Col: 1}.Ref(), text(row, 1), markInput, markPrinted)
		}
	}
	if len(m.inputs) == 0 {
		return nil, fmt.Errorf("it names no cell to fill in")
	}
	return m, nil
}
