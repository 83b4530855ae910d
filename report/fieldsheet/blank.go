package fieldsheet

import (
	"fmt"

	"handback/report"
	"handback/report/grid"
)

// IsBlank tells why data is not a field sheet of the job in which nothing is
// filled in.
func IsBlank(data []byte, j *report.Job) error {
	p, err := grid.OpenParts(data)
	if err != nil {
		return grid.Foreign{Err: err}
	}
	book, err := grid.ReadBook(p)
	if err != nil {
		return grid.Foreign{Err: err}
	}
	m, err := readMark(book.Cells)
	if err != nil {
		return grid.Foreign{Err: fmt.Errorf("it is no field sheet: %w", err)}
	}
	if m.job != j.ID {
		return fmt.Errorf("it is a field sheet of job %q", m.job)
	}
	filled, errs := m.filled(book, true)
	if n := len(filled) + len(errs); n > 0 {
		return fmt.Errorf("%s filled in; take them back with read", report.Count(n, "cell is", "cells are"))
	}
	if moved := m.moved(book); len(moved) > 0 {
		return fmt.Errorf("%s: %s", moved[0].Place, moved[0].Cause)
	}
	return nil
}
