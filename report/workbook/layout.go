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
	Readings    map[spot]grid.Cell   // the value's cell
	Words       map[spot]grid.Cell   // of an answer that is no number: the cell with its word
	Derived     map[spot]grid.Cell   // the value's cell
	Inputs      map[spot]string      // by attempt: the cells that tell which of its answers were changed
	Reasons     map[spot][]grid.Cell // by attempt: the cells of their verdicts
	Workings    map[spot]*working
	Attempts    map[spot]grid.Cell   // the verdict's cell
	Checks      map[string]grid.Cell // by check: the verdict's cell on its own sheet
	Results     map[string]grid.Cell // by check: the verdict's cell on the sheet of results
	Overall     grid.Cell
	Same        grid.Cell   // whether every check comes to its recorded verdict
	OverallRest grid.Cell   // what the verdict on the job comes of
	Differing   []grid.Cell // the heading and the places of the first cells that differ from the record
}

// Columns of the tables of readings and of derived values. Unit, low, high and
// source stand in the same columns of both.
const (
	colName    = 1
	colTyped   = 2 // readings
	colReading = 3 // readings
	colValue   = 2 // derived values
	colSpread  = 3 // derived values
	colUnit    = 4
	colLow     = 5
	colHigh    = 6
	colSource  = 7
	colMeter   = 8  // readings
	colChance  = 8  // derived values
	colEntry   = 9  // readings
	colVerdict = 9  // derived values, to colRemark
	colChanged = 10 // readings
	colRemark  = 11 // readings
)

// Columns of the sheet of results.
const (
	colResult   = 5
	colWhy      = 6
	colStands   = 9
	colRecorded = 10
)

func newLayout() layout {
	return layout{Readings: map[spot]grid.Cell{}, Words: map[spot]grid.Cell{}, Derived: map[spot]grid.Cell{}, Inputs: map[spot]string{}, Reasons: map[spot][]grid.Cell{}, Workings: map[spot]*working{}, Attempts: map[spot]grid.Cell{}, Checks: map[string]grid.Cell{}, Results: map[string]grid.Cell{}}
}
