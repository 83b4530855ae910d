package grid

// Beside puts boxes into a row that is laid out already, in columns free there, such as
// those that are not printed. Text is not wrapped and the row keeps its height. Rows below
// the last are made for it and are not printed: nothing else is laid out after them.
func (s *Sheet) Beside(row int, boxes ...Box) {
	for len(s.Rows) < row {
		s.Rows = append(s.Rows, Row{Height: 13})
		s.aside++
	}
	s.label(boxes)
	for i := range boxes {
		boxes[i].Look.Flat = true
	}
	s.mark(row, boxes)
	s.note(row, boxes, func(int) int { return 1 })
	s.keep(&s.Rows[row-1], boxes)
}

// mark remembers the boxes of a row that hold verdicts.
func (s *Sheet) mark(row int, boxes []Box) {
	for _, b := range boxes {
		if b.verdict {
			s.verdicts = append(s.verdicts, strip{int32(row), int32(b.Col), int32(b.Col + b.Span - 1)})
		}
	}
}
