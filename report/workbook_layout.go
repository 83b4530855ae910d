package report

import (
	"fmt"
	"strings"

	"github.com/xuri/excelize/v2"
)

// Spot names what a cell shows: a reading, a derived value or, with Key "", the
// verdict of an attempt.
type Spot struct {
	Check   string
	Attempt int
	Key     string
}

// Cell is a place in the workbook.
type Cell struct {
	Sheet    string
	Row, Col int // from 1
}

// Layout tells where the workbook puts what formulas would name. The row of a
// reading or derived value stands here, its columns are those below.
type Layout struct {
	Readings map[Spot]Cell   // the value's cell
	Words    map[Spot]Cell   // of an answer that is no number: the cell with its word
	Derived  map[Spot]Cell   // the value's cell
	Inputs   map[Spot]string // by attempt: the cells that tell which of its answers were changed
	Reasons  map[Spot][]Cell // by attempt: the cells of their verdicts
	Workings map[Spot]*working
	Attempts map[Spot]Cell   // the verdict's cell
	Checks   map[string]Cell // by check: the verdict's cell on its own sheet
	Results  map[string]Cell // by check: the verdict's cell on the sheet of results
	Overall  Cell
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
	colStands   = 9
	colRecorded = 10
)

// In moves to another column of the same row.
func (c Cell) In(col int) Cell { return Cell{c.Sheet, c.Row, col} }

// up moves rows up and back down the same column.
func (c Cell) up(rows int) Cell { return Cell{c.Sheet, c.Row - rows, c.Col} }

// Name is the cell's address on its sheet, such as C12.
func (c Cell) Name() string {
	name, err := excelize.CoordinatesToCellName(c.Col, c.Row)
	if err != nil {
		panic(fmt.Sprintf("report: cell %d, %d: %v", c.Col, c.Row, err))
	}
	return name
}

// Ref is the cell as a formula on any sheet names it, such as 'Live checks'!C12.
func (c Cell) Ref() string {
	return "'" + strings.ReplaceAll(c.Sheet, "'", "''") + "'!" + c.Name()
}

func newLayout() Layout {
	return Layout{Readings: map[Spot]Cell{}, Words: map[Spot]Cell{}, Derived: map[Spot]Cell{}, Inputs: map[Spot]string{}, Reasons: map[Spot][]Cell{}, Workings: map[Spot]*working{}, Attempts: map[Spot]Cell{}, Checks: map[string]Cell{}, Results: map[string]Cell{}}
}
