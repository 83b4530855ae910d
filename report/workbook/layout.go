package workbook

import "handback/report/grid"

// spot names what a cell shows: a reading, a derived value or, with Key "", the
// verdict of an attempt.
type spot struct {
	Check   string
	Attempt int
	Key     string
}

// layout tells where the workbook puts what formulas would name. The row of a
// reading or derived value stands here, its columns are those below.
type layout struct {
	Readings map[spot]grid.Cell   // the value's cell
	Words    map[spot]grid.Cell   // of an answer that is no number: the cell with its word
	Derived  map[spot]grid.Cell   // the value's cell
	Inputs   map[spot]string      // by attempt: the cells that tell which of its answers were changed
	Reasons  map[spot][]grid.Cell // by attempt: the cells of their verdicts
	Workings map[spot]*working
	Attempts map[spot]grid.Cell   // the verdict's cell
	Checks   map[string]grid.Cell // by check: the verdict's cell on its own sheet
	Results  map[string]grid.Cell // by check: the verdict's cell on the certificate
	Overall  grid.Cell
	Rest     grid.Cell   // what the verdict on the job comes of
	Stated   []grid.Cell // the heading of what the certificate states, and its rows
}

// Columns of a sheet of checks, printed up to colPrinted. A reading and a value that is
// worked out stand in the same column; a value that shares the row of its reading, beside.
const (
	colName    = 1
	colValue   = 2
	colUnit    = 3
	colSpread  = 4
	colLow     = 5
	colHigh    = 6
	colSee     = 7 // letters and numbers of what is said below the table
	colVerdict = 8
	colPrinted = colVerdict

	colTyped      = 10
	colEntry      = 11
	colChanged    = 12
	colMeter      = 13
	colWorked     = 14
	colChance     = 15
	colExpectLow  = 16
	colExpectHigh = 17
	colSource     = 18
	colRemark     = 19

	second     = 11 // from the columns of an answer in words to those of another in its row
	colRemark2 = colChanged + second + 1

	colReason      = 26
	colReasonWords = 27
	colReasonBy    = 28
)

var groupWidths = []float64{29.7, 9.5, 5.5, 8.5, 9, 9, 4, 11.2, 2, 14, 6, 9, 10, 11, 11, 10, 10, 30, 40, 2, 14, 6, 9, 20, 2, 13, 90, 20}

// groupHeads name the columns.
var groupHeads = [colReasonBy]string{
	colName - 1: "reading or value", colValue - 1: "value", colUnit - 1: "unit", colSpread - 1: "± U (k = 2)", colLow - 1: "limit from", colHigh - 1: "to", colSee - 1: "see", colVerdict - 1: "verdict",
	colTyped - 1: "as typed", colEntry - 1: "entry", colChanged - 1: "since then", colMeter - 1: "instrument", colWorked - 1: "worked out", colChance - 1: "chance it is out",
	colExpectLow - 1: "expected from", colExpectHigh - 1: "to", colSource - 1: "limit or expected by", colRemark - 1: "remark",
	colTyped + second - 1: "second as typed", colEntry + second - 1: "entry", colChanged + second - 1: "since then", colRemark2 - 1: "remark",
	colReason - 1: "verdict", colReasonWords - 1: "reason", colReasonBy - 1: "how it follows",
}

func newLayout() layout {
	return layout{Readings: map[spot]grid.Cell{}, Words: map[spot]grid.Cell{}, Derived: map[spot]grid.Cell{}, Inputs: map[spot]string{}, Reasons: map[spot][]grid.Cell{}, Workings: map[spot]*working{}, Attempts: map[spot]grid.Cell{}, Checks: map[string]grid.Cell{}, Results: map[string]grid.Cell{}}
}
